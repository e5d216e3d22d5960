/* SPDX-License-Identifier: MIT */
/* event_log.h - every fact of an event file in one order, the newest first: what the office reads
 * back as the log. Nothing of it is stored twice: it is read from the facts themselves. */
#ifndef CAIRN_EVENT_LOG_H
#define CAIRN_EVENT_LOG_H

#include <stdbool.h>
#include <stdint.h>

#include "base/textbuf.h"

struct store;

/* A fact is named by its table and row; in text a letter and a number, as "d12". Names stay. */
struct log_name {
    int table; /* 1: uploads, 2: decisions, 3: corrections, …; 0 for none */
    int64_t row;
};

enum { LOG_UPLOAD = 1, LOG_DECISION = 2, LOG_CORRECTION = 3 };

/* Parses a name. Returns false where it is none; not whether there is such a fact. */
bool log_name_parse(const char *name, struct log_name *out);

/* Appends a name. */
void log_name_write(struct textbuf *b, struct log_name name);

/* One fact. Texts are "" where there is nothing, and borrowed until the visitor returns. */
struct logged {
    int64_t ms; /* when it was taken */
    struct log_name name;
    const char *kind;   /* readings, correction, withdrawal, decision, undo, rules, entries, starts,
                           notice, enquiry, answer, key, code, acknowledgement */
    int64_t key_id;     /* by whose key, 0 for none */
    const char *label;  /* of that key */
    const char *source; /* import, http; of an enquiry: office, crew */
    const char *car, *point, *value, *reason, *made_by; /* as they were written */
    int64_t upload;                                     /* 0 where it came with none */
    const char *word; /* of a decision or a notice: its kind; of a correction: what it replaces; of
                         an answer: the outcome; of a key: its role; of an acknowledgement: its
                         state; of a document: the day from which it is so */
    const char *old_word, *old_car, *old_point, *old_value; /* what it replaces or undoes */
    int64_t taken, refused;                                 /* rows of an upload of readings */
    const char *first_car, *first_point, *first_value;      /* its first reading taken */
};

/* Which facts are wanted. */
struct log_query {
    bool one;             /* the fact `name` alone; else the log from there on */
    struct log_name name; /* those before this one; table 0: from the newest */
    int64_t before_ms;    /* when the fact `name` was taken */
    /* NULL for all; "office" leaves out uploads of readings that were all taken. */
    const char *kind;
    /* A car's number without leading zeros; NULL for all. All uploads of entries and of start lists
     * are given: whether they concern the car, the visitor must find out. */
    const char *car;
};

/* What a visitor may answer: LOG_NOMEM where memory is out. */
enum { LOG_GO_ON, LOG_STOP, LOG_NOMEM };
typedef int log_visitor(void *context, const struct logged *fact);

/* Calls `each` for every fact asked for, the newest first, until it says otherwise.
 * Returns: ERR_OK; ERR_NOMEM where the visitor said so; what the store says. */
int store_log(struct store *store, const struct log_query *query, log_visitor *each, void *context);

/* Where the readings and the decisions ended when a fact was taken: the id of the last one before
 * it, and of the last one with it. */
enum {
    LOG_READING_BEFORE,
    LOG_READING_WITH,
    LOG_DECISION_BEFORE,
    LOG_DECISION_WITH,
    LOG_END_COUNT
};
struct log_ends {
    char *ids[LOG_END_COUNT]; /* "" where there was none yet */
};

/* Finds them. Returns ERR_OK, and `out` is the caller's to clear; what the store says. */
int store_log_ends(struct store *store, const struct logged *fact, struct log_ends *out);
void log_ends_clear(struct log_ends *ends);

/* A document as it came with an upload, and the one that was in force before; NULL where there was
 * none. A plain value that document_versions_clear frees. */
struct document_versions {
    char *now, *before;
};

/* Finds them.
 *   name  of the document, such as "entries.csv"
 * Returns: ERR_OK, also where there is none; what the store says. */
int store_document_versions(struct store *store, const char *name, int64_t upload,
                            struct document_versions *out);
void document_versions_clear(struct document_versions *versions);

#endif
