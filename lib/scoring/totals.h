/* SPDX-License-Identifier: MIT */
/* totals.h - a car's total from its scored points: caps, drops, coefficient, controls, absence and
 * decisions. Source: the contract, "Totals". Safe for any number of threads at once, each with a
 * sheet of its own. */
#ifndef CAIRN_TOTALS_H
#define CAIRN_TOTALS_H

#include "scoring/scoring.h"

/* Sums up one car's scored sheet. */
void totals_sum(const struct scores *scores, const struct score_sheet *sheet,
                struct car_score *out);

/* What each item adds to the sum on a basis, where it is not dropped, thousandths: by item. */
const int64_t *totals_values(const struct scores *scores, const struct car_score *car,
                             enum basis basis);

/* What an item adds to the sum of a car's total on the corrected basis, thousandths: before a
 * coefficient on the total, after one on tests; 0 where it is dropped. */
int64_t totals_counted(const struct scores *scores, int car, int item);

/* True where there are items of these kinds and nothing is known of any of them for a car yet.
 *   kinds  bit 1 << kind */
bool totals_to_come(const struct scores *scores, int car, unsigned kinds);

/* The same of the items of a day, from 0. */
bool totals_day_to_come(const struct scores *scores, int car, int day);

/* Completes a car's scored sheet for a card: gives the points of tests that are dropped (on the
 * corrected basis) their state, and sums up the points of each item in `point_sums`. */
void totals_complete_sheet(const struct scores *scores, struct score_sheet *sheet);

#endif
