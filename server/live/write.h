/* SPDX-License-Identifier: MIT */
/* write.h - one write to an event: who asks for it, what it is to do, and what came of it.
 * Each kind of write is a type of its own that begins with the same head: who makes it fills what
 * that kind has and nothing else, submits the head, reads the result after `done`,
 * and frees it. In between it belongs to the event's thread. Texts are borrowed until then. */
#ifndef CAIRN_WRITE_H
#define CAIRN_WRITE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"
#include "live/row_refusal.h"
#include "live/upload.h"
#include "store/keys.h"
#include "store/stored_documents.h"

struct served_event;
struct write_operations; /* of a kind: the writer's own, see write_operations.h */

enum write_result {
    WRITE_DONE,         /* on disk and published */
    WRITE_UNAUTHORISED, /* the key was revoked meanwhile */
    WRITE_WRONG_CODE,   /* the crew's code was renewed meanwhile */
    WRITE_STALE,        /* somebody else was first: what `if_match` names is no longer in force */
    WRITE_NOT_YET,      /* something stands in the way: `why`, and nothing was changed */
    WRITE_REFUSED,      /* what is asked for is wrong: `why`, and nothing was changed */
    WRITE_FAILED,       /* the machine failed: nothing was changed */
    WRITE_NOT_QUEUED    /* it was never submitted; for who made it to set */
};

/* What every write has. */
struct write {
    const struct write_operations *operations;
    struct served_event *served;
    unsigned char key_hash[32];        /* of the key that asks for it */
    const char *if_match;              /* as sent, "" where not */
    void (*done)(struct write *write); /* called once, by the event's thread */
    void *context;                     /* for `done` */
    struct write *next;                /* for the queue of the event */

    enum write_result result;
    struct textbuf why; /* what is wrong or in the way, a line each; or what failed */
    int64_t revision;   /* now in force: the office's, to a timekeeper the public's */
    bool by_timekeeper;
};

/* A body as it was sent, which is kept beside what it says. */
struct write_body {
    const char *media_type;
    const char *text;
    size_t len;
};

/* ---- readings and decisions ---- */

/* A row that was not taken. */
struct refused_row {
    size_t row; /* from 1 */
    enum row_refusal class;
    char *id;
    char *reason;
};

struct rows_write {
    struct write head;
    struct write_body body;
    struct upload rows;
    /* result */
    int64_t accepted, duplicates;
    struct refused_row *refused;
    size_t refused_count;
};

/* ---- documents ---- */

/* New rules, or a new entry list. */
struct document_write {
    struct write head;
    struct write_body body;
    struct change_note note; /* all NULL where nobody said why */
};

/* Makes the start list of a day by the plan in the body, and saves it where the plan says so. */
struct start_list_write {
    struct write head;
    struct write_body body;
    int day; /* from 0 */
    /* result */
    bool saved;
    struct textbuf list; /* members of a JSON object: "day" to "tag" */
};

/* ---- notices and cases ---- */

struct notice_write {
    struct write head;
    struct write_body body;
    const char *kind; /* "bulletin", "provisional" or "final" */
    const char *title, *text;
    /* result */
    int64_t number;
};

/* Opens a case for the office. */
struct enquiry_write {
    struct write head;
    struct write_body body;
    const char *kind; /* "enquiry" or "protest" */
    const char *car, *point, *text;
    /* result */
    int64_t number;
};

/* Answers a case. */
struct answer_write {
    struct write head;
    struct write_body body;
    int64_t number; /* of the case */
    const char *outcome, *text;
};

/* Opens a case for a crew, whose code stands in place of a key. */
struct crew_enquiry_write {
    struct write head;
    int64_t car; /* its number */
    const char *code, *point, *text;
    /* result */
    int64_t number;
    int64_t opened_ms;
    bool repeated; /* the same is asked already: that case's number */
};

/* ---- keys and codes ---- */

/* Makes a key. */
struct key_write {
    struct write head;
    char text[KEY_TEXT_LEN + 1]; /* wiped with the write */
    bool organiser;
    const char *points, *label;
    const char *base; /* of the server, for the link in the answer; unused here */
    /* result */
    int64_t id;
};

struct revocation_write {
    struct write head;
    int64_t id; /* of the key */
};

/* Gives a car's crew a new code. */
struct code_renewal_write {
    struct write head;
    int64_t car; /* its number */
    /* result */
    int64_t serial; /* of the new code */
};

/* ---- doubts ---- */

/* The doubt or the refusal that an acknowledgement is about. */
struct doubt_subject {
    char car[8]; /* its number, "" where it names none */
    struct textbuf point, title;
};

/* Acknowledges a doubt or a refusal, which is left as it is; or takes it up again. */
struct acknowledgement_write {
    struct write head;
    const char *id, *by, *reason;
    bool reopened;
    struct doubt_subject subject;
};

/* ---- making and freeing ---- */

/* A write of its kind with nothing filled in; NULL when memory is out. */
struct rows_write *readings_write_new(void);
struct rows_write *decisions_write_new(void);
struct document_write *rules_write_new(void);
struct document_write *entries_write_new(void);
struct start_list_write *start_list_write_new(void);
struct notice_write *notice_write_new(void);
struct enquiry_write *enquiry_write_new(void);
struct answer_write *answer_write_new(void);
struct crew_enquiry_write *crew_enquiry_write_new(void);
struct key_write *key_write_new(void);
struct revocation_write *revocation_write_new(void);
struct code_renewal_write *code_renewal_write_new(void);
struct acknowledgement_write *acknowledgement_write_new(void);

/* The whole write of a head. The program ends where it is of another kind. */
struct rows_write *rows_write_of(const struct write *head);
struct document_write *document_write_of(const struct write *head);
struct start_list_write *start_list_write_of(const struct write *head);
struct notice_write *notice_write_of(const struct write *head);
struct enquiry_write *enquiry_write_of(const struct write *head);
struct answer_write *answer_write_of(const struct write *head);
struct crew_enquiry_write *crew_enquiry_write_of(const struct write *head);
struct key_write *key_write_of(const struct write *head);
struct revocation_write *revocation_write_of(const struct write *head);
struct code_renewal_write *code_renewal_write_of(const struct write *head);
struct acknowledgement_write *acknowledgement_write_of(const struct write *head);

/* Queues a write for the thread of its event. What waits there is done together where it may be:
 * committed together, scored together and published as one revision; then each is answered.
 * Returns: ERR_OK, and `done` will be called; ERR_BUSY where too many wait, in all or for this
 * event, or the event's thread is ending. Any thread. */
int write_submit(struct write *head);

/* Frees a write that is done, or was never submitted; NULL is accepted. */
void write_free(struct write *head);

#endif
