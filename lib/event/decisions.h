/* SPDX-License-Identifier: MIT */
/* decisions.h - the rulings of the organisers, and which of them hold.
 * Decisions are only ever added; the order in which they came has no meaning. Source: the
 * contract, "decisions.csv".
 *
 * Threads: one owner has the log (`struct decisions`), adds to it and settles it. Other threads
 * read a `struct decision_list`, which has the decisions of some moment, never changes, and leads
 * to nothing else of the log. */
#ifndef CAIRN_DECISIONS_H
#define CAIRN_DECISIONS_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/times.h"
#include "event/entries.h"
#include "event/fact.h"
#include "event/rules.h"
#include "format/csv_columns.h"

struct textbuf;

/* The fields of a decision, in the order of decisions.csv. */
enum decision_field {
    DECISION_KIND,
    DECISION_CAR,
    DECISION_POINT,
    DECISION_VALUE,
    DECISION_REASON,
    DECISION_AT,
    DECISION_BY,
    DECISION_HASHED, /* the fields before this one make the id where none is given */
    DECISION_ID = DECISION_HASHED,
    DECISION_FIELD_COUNT
};

/* The fields of a decision as they were written. No member may be NULL; empty is not given. */
struct decision_text {
    const char *field[DECISION_FIELD_COUNT];
    struct extra *extras;
};

/* The name of a field, as in the header of decisions.csv. */
extern const char *const decision_field_names[DECISION_FIELD_COUNT];

/* What is ruled, see the contract's table. */
enum decision_kind {
    DECIDE_ALLOWANCE,
    DECIDE_PENALTY,
    DECIDE_FAILS,
    DECIDE_FAULTS,
    DECIDE_WAIVE,
    DECIDE_NOTIONAL,
    DECIDE_CANCEL,
    DECIDE_CLOSE,
    DECIDE_RETIRE,
    DECIDE_REJOIN,
    DECIDE_DISQUALIFY,
    DECIDE_REVOKE,
    DECIDE_COUNT
};

/* The word of a kind, as in decisions.csv. */
const char *decision_word(enum decision_kind kind);

/* What `place` of a decision is a place of: nothing, a point, an item with all its points, a day.
 */
enum decision_target { TARGET_NONE, TARGET_POINT, TARGET_ITEM, TARGET_DAY };

struct decision {
    const char *id;
    enum decision_kind kind;
    int car; /* place in the entry list, -1 where the kind has none */
    enum decision_target target;
    int place;     /* of the point, item or day (from 0) */
    bool average;  /* notional: the value is what its other tests cost on average */
    int64_t value; /* ms of an allowance, thousandths of a penalty or notional, so many fails, day
                    * (from 0) */
    const struct fault_count *faults; /* of `faults`: `fault_count` of them, of the item's */
    int fault_count;
    bool has_at;
    struct instant at;
    long line; /* in its file, 0 where it has none */
    /* Of a revoke: where its chain of revokes leads, the first decision that is not a revoke. -1
     * where the log does not hold that yet, and for all other kinds. */
    int ends;
    struct decision_text text;
};

/* The log; only its owner uses it. */
struct decisions;

/* A decision as it stood at some moment. */
struct listed_decision {
    const struct decision *decision; /* lives as long as the log */
    bool holds;                      /* no decision that holds revokes it */
};

/* All decisions of a log at some moment, in the order of arrival. */
struct decision_list {
    struct listed_decision *list;
    int count;
};

/* An empty log for an event; rules and entries are borrowed until decisions_free. NULL when
 * memory is out. */
struct decisions *decisions_new(const struct rules *rules, const struct entries *entries);

/* Frees a log; NULL is accepted. */
void decisions_free(struct decisions *decisions);

/* Adds one decision. Arguments and results as readings_add. A revoke may name a decision that is
 * not there yet; decisions_settle reports those that never came. */
enum fact_result decisions_add(struct decisions *decisions, const struct decision_text *text,
                               struct textbuf *reason, int *index);

/* As decisions_add, but never changes the log. */
enum fact_result decisions_try(struct decisions *decisions, const struct decision_text *text,
                               struct textbuf *reason);

/* Adds all rows of a decisions.csv and settles them. Every wrong row is an error.
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. */
int decisions_read(struct decisions *decisions, const char *file, const char *text, size_t len,
                   struct problems *problems);

/* Works out which decisions hold. One that is added afterwards counts as holding until the next
 * call.
 *   file      its name for messages
 *   problems  gets each revoke that names no decision, or revokes itself in a circle; may be NULL
 * Returns: ERR_OK; ERR_INPUT (such a revoke then has no effect); ERR_NOMEM. */
int decisions_settle(struct decisions *decisions, const char *file, struct problems *problems);

/* How many decisions there are, and one of them (it lives, unmoved, as long as the log). */
int decisions_count(const struct decisions *decisions);
const struct decision *decisions_at(const struct decisions *decisions, int index);

/* The decision of that id, -1 where there is none. */
int decisions_find(const struct decisions *decisions, const char *id);

/* Lists all decisions, as decisions_settle left them.
 *   out  to be freed by decision_list_clear; the log must outlive it
 * Returns: ERR_OK or ERR_NOMEM. */
int decisions_list(const struct decisions *decisions, struct decision_list *out);
void decision_list_clear(struct decision_list *list);

/* True where `a` goes before `b` of two of a kind for one car and point: the earliest `at` (none
 * last), then the smallest id. */
bool decision_before(const struct decision *a, const struct decision *b);

#endif
