/* SPDX-License-Identifier: MIT */
/* comparison.h - two to six cars head to head: what each step of the event cost each of them, and
 * the gaps between them along it. Knows no page. One thread at a time. */
#ifndef CAIRN_COMPARISON_H
#define CAIRN_COMPARISON_H

#include "http/request.h"
#include "pages/chart.h"
#include "scoring/standings.h"

enum { COMPARISON_CARS_MAX = CHART_LINES, COMPARISON_TELLING = 3 };

/* What is compared. A step is a visible item, up to the last that is known of one of the cars; the
 * last step holds what belongs to no item: decisions, absence, rounding. Only up to the last item
 * that is known of each car is like compared with like: the gaps end there. {.s = scores} compares
 * nobody. Cars are told by their place in `cars`, but where it says otherwise. */
struct comparison {
    const struct scores *s; /* borrowed */
    int cars[COMPARISON_CARS_MAX];
    int count;
    int *items; /* by step; -1 for the last one */
    int steps;
    int level;     /* so many steps have a gap */
    int64_t *cost; /* [car * steps + step], thousandths of the total as it stands */
    int *fails;    /* likewise */
    int64_t *gap;  /* [car * (level + 1) + step], behind the best of them after that step, and
                    * in all at the end */
    bool *parted;  /* by step: the cars' fails up to there differ */
};

/* Adds the cars of a list such as "22,31", each once; what is no car is passed over.
 *   list  NULL for none */
void comparison_read(struct comparison *c, const char *list);

/* Adds the car that fits what was typed, where one alone does. Returns false otherwise. */
bool comparison_add(struct comparison *c, const char *typed);

/* True where a car, by its place in the entry list, is compared. */
bool comparison_has(const struct comparison *c, int car);

/* Works out steps, costs and gaps, once all cars are there; they belong to the request. Returns
 * ERR_OK; ERR_NOMEM. */
int comparison_fill(struct comparison *c, struct request *r);

/* The rest may be asked once it is filled. */

/* What a step cost a car; thousandths. */
int64_t comparison_cost(const struct comparison *c, int i, int step);

/* The fails of a step. */
int comparison_fails(const struct comparison *c, int i, int step);

/* How far a step left it behind the best of them; for steps that have a gap, and the last. */
int64_t comparison_gap(const struct comparison *c, int i, int step);

/* True where a step has a gap: not where the cars' fails up to there part them. */
bool comparison_has_gap(const struct comparison *c, int step);

/* True where a step is not on a car's route. */
bool comparison_is_off(const struct comparison *c, int i, int step);

/* False where a step is still to come for a car, or off its route. */
bool comparison_is_known(const struct comparison *c, int i, int step);

/* Who is ahead: fails go before penalty. */
int comparison_best(const struct comparison *c);

/* How far a car is behind another, by the totals. */
struct gap comparison_behind(const struct comparison *c, int i, int other);

/* Where two cars differ most, the greatest difference first: tests, controls, and what belongs to
 * no item. In costs, or where their fails part them in fails.
 *   out  gets the steps
 * Returns: how many, up to COMPARISON_TELLING. */
int comparison_telling(const struct comparison *c, int one, int other, int out[COMPARISON_TELLING]);

/* True where one of them has been charged for what others have not come to, so that their totals
 * are not alike. False where a car is out, which comes to nothing more, or where fails part them.
 */
bool comparison_is_uneven(const struct comparison *c);

/* A car's total without the items that not all have come to; thousandths. */
int64_t comparison_level_total(const struct comparison *c, int i);

#endif
