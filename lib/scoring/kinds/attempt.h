/* SPDX-License-Identifier: MIT */
/* attempt.h - one attempt at a special test: its elapsed time, limits, faults and cost. A test
 * without "attempts" has one. Source: the contract, "special-test", "Special tests" and "Bests".
 * Safe for any number of threads at once, each with a sheet of its own. */
#ifndef CAIRN_ATTEMPT_H
#define CAIRN_ATTEMPT_H

#include "event/faults.h"
#include "scoring/kinds/special_test.h"
#include "scoring/score_sheet.h"

/* The points of the `n`th attempt, from 0. */
static inline int attempt_start(const struct item *item, int n) {
    return item->first_point + 2 * n;
}
static inline int attempt_finish(const struct item *item, int n) {
    return item->first_point + 2 * n + 1;
}

/* Works out the `n`th attempt of the sheet's car into a scored point that was reset: outcome and
 * price, without rulings. It was completed where the outcome is OUTCOME_PRICED. */
void attempt_work(const struct score_sheet *sheet, const struct item *item, int n,
                  struct scored_point *sp);

/* What an attempt that was not completed costs: the rule's `missed`, or the cost of the maximum. */
struct price attempt_missed(const struct score_sheet *sheet, const struct item *item);

/* What any car can be the best of the test with; `value` is TIME_NONE where it has nothing. */
struct bid attempt_bid(const struct score_sheet *sheet, const struct item *item, int car);

/* All faults of an attempt, told with its readings or by decisions.
 *   start, finish  the readings that count there, NULL where there are none */
struct fault_sum attempt_faults(const struct score_sheet *sheet, int car, const struct item *item,
                                int n, const struct reading *start, const struct reading *finish);

/* Charges the maximum, which there must be, as if a fault had made an attempt that.
 *   sp  reset here */
void attempt_at_maximum(const struct score_sheet *sheet, const struct item *item,
                        struct scored_point *sp);

#endif
