/* SPDX-License-Identifier: MIT */
/* ties.h - what decides between cars of equal fails and penalty. Source: the contract, "Ranking"
 * and "Ties". Safe for any number of threads at once, each with scores of its own. */
#ifndef CAIRN_TIES_H
#define CAIRN_TIES_H

#include "scoring/scoring.h"

/* Collects from a car's scored sheet what ties look at and nothing else does: times, and for
 * count-back the whole penalties of its scored points, in rising order. */
void ties_collect(const struct scores *scores, const struct score_sheet *sheet,
                  struct car_score *out);

/* Compares two cars by a criterion.
 *   item  the test where it looks at one; -1
 * Returns: below 0 where `a` goes before `b`, 0 where it does not part them, above 0. */
int tie_compare(const struct scores *scores, const struct tie *tie, int item, int a, int b);

/* True where a test of this event may be looked at to part cars: it is in this view, and is not
 * cancelled where its time is looked at. (That it is on the route of all of them is asked beside
 * that.) */
bool tie_looks_at(const struct scores *scores, const struct tie *tie, int item);

#endif
