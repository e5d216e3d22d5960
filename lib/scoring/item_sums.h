/* SPDX-License-Identifier: MIT */
/* item_sums.h - a car's sums of each item and of each day, from its scored points: test_cap,
 * absence and its cap. Source: the contract, "Totals". */
#ifndef CAIRN_ITEM_SUMS_H
#define CAIRN_ITEM_SUMS_H

#include "scoring/scoring.h"

/* What the points of an item cost together, without absent ones, thousandths. */
int64_t item_points_sum(const struct score_sheet *sheet, const struct item *item);

/* What an item costs a car that has it on its route: its points, faults and all, held to test_cap,
 * and what decisions add to it. An absent point is no part of it. */
int64_t item_cost(const struct score_sheet *sheet, const struct item *item);

/* Sums up an item of the car's route: penalty, fails, absence, awaited points and flags of the
 * item, and what it adds to its day. The sums must have been 0 before the first item.
 *   item  with the car's own values */
void item_sum(const struct score_sheet *sheet, const struct item *item, struct car_score *out);

/* Once all items are summed up: charges each day's absent points, up to the cap. */
void absence_sum(const struct rules *rules, struct car_score *out);

#endif
