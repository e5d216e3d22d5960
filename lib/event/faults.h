/* SPDX-License-Identifier: MIT */
/* faults.h - cones, lines, missing signatures: what an item names and what they cost. Source: the
 * contract, "special-test", "consistency" and "Faults anywhere". Safe for any number of threads at
 * once. */
#ifndef CAIRN_FAULTS_H
#define CAIRN_FAULTS_H

#include "event/readings.h"
#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;
struct textbuf;

/* What faults come to together. */
struct fault_sum {
    int64_t penalty; /* of those worth a penalty, thousandths, 0 .. DECIMAL_SUM_MAX */
    int fails;       /* of those worth fails, 0 .. FAILS_SUM_MAX */
    int missed;      /* the first one that makes its point missed, as its place among the item's
                      * faults; -1 where there is none */
    int maximum;     /* likewise the first one worth "maximum" */
    bool any;        /* there is a fault, whatever it costs */
};

/* Of no fault at all. */
#define FAULT_SUM_NONE ((struct fault_sum){.missed = -1, .maximum = -1})

/* Reads the "faults" of an item into it; what is wrong is reported.
 *   object         the item, borrowed
 *   allow_maximum  true where a fault may be worth "maximum" */
void faults_read(const struct json_reader *reader, const struct json_t *object,
                 const struct json_place *place, bool allow_maximum, struct item *item);

/* Reads "cone=2;line=1".
 *   item    whose faults are named; NULL: only the form is checked, and `out` is not used
 *   text    borrowed; empty has no faults
 *   out     gets them; it has a place for each of the item's faults
 *   count   gets how many there are
 *   reason  gets what is wrong; untouched otherwise
 * Returns: true where nothing is. */
bool faults_parse(const struct item *item, const char *text, struct fault_count *out, int *count,
                  struct textbuf *reason);

/* The same, but what the item does not name is passed over.
 *   others  set to true where there was such a fault, else left as it is */
bool faults_parse_named(const struct item *item, const char *text, struct fault_count *out,
                        int *count, bool *others, struct textbuf *reason);

/* Adds faults to a sum; those told 0 times are none.
 *   told   `count` of them, of the item's faults; borrowed */
void faults_add(struct fault_sum *sum, const struct item *item, const struct fault_count *told,
                int count);

/* Adds what other faults of the same item came to; those that `sum` has were told first. */
void faults_join(struct fault_sum *sum, const struct fault_sum *more);

#endif
