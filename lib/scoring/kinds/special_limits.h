/* SPDX-License-Identifier: MIT */
/* special_limits.h - what a special test's times and costs are held to. Source: the contract,
 * "special-test", "Special tests" and "Bests". Safe for any number of threads at once, each with a
 * sheet of its own. */
#ifndef CAIRN_SPECIAL_LIMITS_H
#define CAIRN_SPECIAL_LIMITS_H

#include "event/penalty.h"
#include "scoring/kinds/special_test.h"
#include "scoring/score_sheet.h"

/* The price of a time, ms, without the cap, which is on time and faults together. A negative one, a
 * finish before the start, costs nothing. */
struct price special_price(const struct item *item, int64_t ms);

/* The maximum of the sheet's car as a time, ms. TIME_NONE where there is none, it is a cost, or
 * nobody has the best that it follows from. */
int64_t special_maximum_time(const struct score_sheet *sheet, const struct item *item);

/* The maximum of the sheet's car as a cost, thousandths; TIME_NONE where there is none, likewise.
 */
int64_t special_maximum_cost(const struct score_sheet *sheet, const struct item *item);

/* True where there is one or the other. */
bool special_has_maximum(const struct score_sheet *sheet, const struct item *item);

#endif
