/* SPDX-License-Identifier: MIT */
/* average.h - a test's notional result that is the mean of what the car's other tests cost. Source:
 * the contract, "Totals and ties". Safe for any number of threads at once, each with a sheet of its
 * own. */
#ifndef CAIRN_AVERAGE_H
#define CAIRN_AVERAGE_H

#include "scoring/score_sheet.h"

struct average {
    int64_t sum; /* of the tests that it is taken of, thousandths */
    int count;   /* how many; 0: the mean is 0 */
    int64_t mean;
};

/* True where the ruling at a scored point is such a result of its whole test. */
bool average_is_at(const struct scored_point *sp);

/* True where another test is one of those that the mean of a test is taken of: of its kind, with
 * all its points scored, clean or missed, in no ruling, and not for ties alone.
 *   test, other  places among the items */
bool average_takes(const struct score_sheet *sheet, int test, int other);

/* The mean for a test, from a scored sheet.
 *   test  its place among the items */
struct average average_of(const struct score_sheet *sheet, int test);

/* Once all items are scored: puts the mean at the first point of each test that is ruled so. */
void average_fill(struct score_sheet *sheet);

#endif
