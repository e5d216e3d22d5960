/* SPDX-License-Identifier: MIT */
/* event_log.h - every fact of an event file in one order, the newest first: what the office reads
 * back as the log. Nothing of it is stored twice: it is read from the facts themselves. */
#ifndef CAIRN_EVENT_LOG_H
#define CAIRN_EVENT_LOG_H

#include "store/store.h"

/* A fact is named by its table and row; in text a letter and a number, as "d12". Names stay. */
struct log_name {
    int table; /* 1: uploads, 2: decisions, 3: corrections, …; 0 for none */
    int64_t row;
};

enum { LOG_UPLOAD = 1, LOG_DECISION = 2, LOG_CORRECTION = 3 };

/* Parses a name. Returns false where it is none; whether there is such a fact is another matter. */
bool log_name_parse(const char *name, struct log_name *out);
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

struct log_query {
    struct log_name
        name; /* `one`: that fact alone; else those before it; table 0: from the newest */
    bool one;
    int64_t before_ms; /* when the fact `name` was taken */
    const char *kind;  /* NULL for all; "office": without uploads of readings that were all taken */
    const char *car;   /* a number without leading zeros, NULL for all. Uploads of entries and start
                          lists are all given: their visitor knows whether they touch it */
};

enum { LOG_GO_ON, LOG_STOP, LOG_NOMEM };
typedef int log_visitor(void *context, const struct logged *fact);

/* Calls `each` for every fact asked for, the newest first, until it says otherwise.
 * Returns: ERR_OK; ERR_NOMEM where the visitor said so; what the store says. */
int store_log(struct store *store, const struct log_query *query, log_visitor *each, void *context);

/* The last reading and decision before a fact, and with it: what the event was made of then. */
enum {
    LOG_READING_BEFORE,
    LOG_READING_WITH,
    LOG_DECISION_BEFORE,
    LOG_DECISION_WITH,
    LOG_MARK_COUNT
};
struct log_marks {
    char *ids[LOG_MARK_COUNT]; /* "" where there was none yet */
};
int store_log_marks(struct store *store, const struct logged *fact, struct log_marks *out);
void log_marks_clear(struct log_marks *marks);

/* A document as it came with an upload, and the one that was in force before; NULL where there was
 * none. */
struct document_versions {
    char *now, *before;
};
int store_document_versions(struct store *store, const char *name, int64_t upload,
                            struct document_versions *out);
void document_versions_clear(struct document_versions *versions);

#endif
