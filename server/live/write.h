/* SPDX-License-Identifier: MIT */
/* write.h - one write to an event: who asks for it, what it is to do, and what came of it. */
#ifndef CAIRN_WRITE_H
#define CAIRN_WRITE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"
#include "live/upload.h"
#include "store/keys.h"
#include "store/store.h"
#include "system/refusal.h"

struct served_event;

enum write_kind {
    WRITE_READINGS,
    WRITE_DECISIONS,
    WRITE_ENTRIES,
    WRITE_RULES,
    WRITE_STARTS, /* makes the start list of day `number`, from 0, by the plan in the body */
    WRITE_NOTICE,
    WRITE_ENQUIRY,      /* opens a case */
    WRITE_ANSWER,       /* answers the one of that `number` */
    WRITE_KEY,          /* makes `new_key` */
    WRITE_REVOKE_KEY,   /* the one of that `number` */
    WRITE_CREW_ENQUIRY, /* opens a case for the crew whose code `crew` holds */
    WRITE_RENEW_CODE,   /* of the car of that `number` */
    WRITE_ACKNOWLEDGE   /* the case that `looked` tells of was looked at */
};

enum write_result {
    WRITE_DONE,         /* on disk and published */
    WRITE_UNAUTHORISED, /* the key was revoked meanwhile */
    WRITE_STALE,        /* somebody else was first: what `if_match` names is no longer in force */
    WRITE_NOT_YET,      /* something stands in the way: `why`, and nothing was changed */
    WRITE_REFUSED,      /* a document that is wrong: `why`, and nothing was changed */
    WRITE_FAILED        /* the machine: nothing was changed */
};

/* A row that was not taken. */
struct refused_row {
    size_t row; /* from 1 */
    enum row_refusal class;
    char *id;
    char *reason;
};

/* A key that a write is to make. */
struct new_key {
    bool organiser;
    const char *points; /* borrowed until done */
    const char *label;
    char text[KEY_TEXT_LEN + 1];
};

/* What a crew asks, with its code in place of a key. */
struct crew_enquiry {
    int64_t car;                     /* its number */
    const char *code, *point, *text; /* borrowed until done */
};

/* The doubtful thing that somebody looked at. */
struct looked_at {
    char car[8]; /* its number, "" where it names none */
    struct textbuf point, title;
};

/* One write. The caller makes it, submits it, and frees it with write_free after `done`. */
struct write {
    struct write *next;
    struct served_event *served;
    enum write_kind kind;
    unsigned char key_hash[32];
    const char *media_type; /* as sent; borrowed until done */
    const char *if_match;   /* as sent, "" where not; borrowed until done */
    char *body;             /* owned */
    size_t len;
    struct upload upload;              /* rows of readings, decisions, or the one row of a notice */
    void (*done)(struct write *write); /* called once, by the event's thread */
    void *context;

    enum write_result result;
    int64_t accepted;
    int64_t duplicates;
    struct refused_row *refused;
    size_t refused_count;
    struct textbuf why; /* problems of a document, a line each; or the failure */
    int64_t revision;   /* the office's; the public's for a timekeeper */
    bool by_timekeeper;
    int64_t number;      /* of a notice or a key */
    struct textbuf told; /* of a start list: the answer, but for its revision */
    struct new_key new_key;
    struct looked_at looked;
    struct change_note note; /* of a document; borrowed until done, NULL where there is none */
    struct crew_enquiry crew;
    int64_t at_ms;  /* when a crew's case was opened */
    int64_t serial; /* of a renewed code */
};

/* Frees a write that is done, or was never submitted; NULL is accepted. */
void write_free(struct write *write);

#endif
