/* SPDX-License-Identifier: MIT */
/* attempt.h - one attempt at a special test: its elapsed time, limits, faults and cost. A test
 * without "attempts" has one. Source: the contract, "special-test", "Special tests" and "Bests". */
#ifndef CAIRN_ATTEMPT_H
#define CAIRN_ATTEMPT_H

#include "scoring/explain.h"
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

/* Appends how an attempt that was worked out came to its cost, without a full stop: "Start
 * 10:00:00, finish 10:01:23: 1 min 23 s; 83 at 1 a second = 83". */
void attempt_explain(struct textbuf *b, const struct explain_context *context,
                     const struct scored_point *sp);

/* Appends what `attempt_missed` follows from, where it is the maximum: "as at the maximum 1 min
 * 30 s; 90 at 1 a second". */
void attempt_explain_missed(struct textbuf *b, const struct explain_context *context);

#endif
