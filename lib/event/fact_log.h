/* SPDX-License-Identifier: MIT */
/* fact_log.h - facts of one type by their ids, with the texts that they keep: what the log of
 * readings (readings.h) and that of decisions (decisions.h) have in common. Those two decide which
 * facts are accepted and what follows from them. Facts are only ever added. One owner at a time. */
#ifndef CAIRN_FACT_LOG_H
#define CAIRN_FACT_LOG_H

#include "base/problem.h"
#include "base/strmap.h"
#include "event/fact.h"
#include "format/csv_columns.h"

enum { FACT_FIELDS_MAX = 12 };

/* How facts of one type are written: readings, or decisions. */
struct fact_type {
    const char *const *names; /* of its fields, as in the header of its file; the last is the id */
    int fields;               /* at most FACT_FIELDS_MAX */
    int required;             /* this many of the first columns have to be in a file */
    unsigned shared; /* 1u << field: many facts have the same text there, which is kept once */
    enum problem_level wrong; /* the level of a row that cannot be accepted */
    size_t record;            /* bytes that its log takes for each fact, without the texts */
};

struct fact_log {
    const struct fact_type *type;
    struct arena *arena; /* holds all that is kept, until fact_log_clear */
    size_t count;
    struct strmap by_id;
    struct strmap shared;
    const char **shared_list;
    size_t shared_cap;
};

/* An empty log.
 *   type  a constant
 * Returns: ERR_OK; ERR_NOMEM, and then there is nothing to clear. */
int fact_log_init(struct fact_log *log, const struct fact_type *type);
void fact_log_clear(struct fact_log *log);

/* The place of a fact by its id, -1 where it is not there. */
int fact_log_find(const struct fact_log *log, const char *id);

/* The result for a fact whose id is there already: FACT_DUPLICATE, or FACT_REFUSED with a reason
 * where the fact that is there differs.
 *   fields  of the fact that was given
 *   known   of the fact that is there */
enum fact_result fact_log_repeat(const struct fact_log *log, const char *id,
                                 const char *const *fields, const char *const *known,
                                 struct textbuf *reason);

/* Copies a fact's texts into the log.
 *   id      its own, already a copy: the field of the id is it, or empty where it was derived
 *   to      gets the fields
 *   extras  gets the other columns
 * Returns: ERR_OK or ERR_NOMEM. */
int fact_log_keep(struct fact_log *log, const char *const *fields, const struct extra *others,
                  const char *id, const char **to, struct extra **extras);

/* Gives the next place, log->count, to an id that is kept in the log.
 * Returns: ERR_OK; ERR_NOMEM, and then nothing has changed. */
int fact_log_enter(struct fact_log *log, const char *id);

/* Adds one row of a file.
 *   owner  the log of readings or decisions */
typedef enum fact_result (*fact_adder)(void *owner, const char *const *fields, struct extra *extras,
                                       long line, struct textbuf *reason);

/* Adds all rows of a file. Rows that cannot be accepted are reported with their line.
 * Returns: ERR_OK; ERR_INPUT where the header is wrong; ERR_NOMEM. */
int fact_log_read(struct fact_log *log, const char *file, const char *text, size_t len,
                  fact_adder add, void *owner, struct problems *problems);

#endif
