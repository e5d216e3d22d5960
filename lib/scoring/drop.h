/* SPDX-License-Identifier: MIT */
/* drop.h - the costliest tests, which are dropped. Source: the contract, "Totals". Safe for any
 * number of threads at once, each with scores of its own. */
#ifndef CAIRN_DROP_H
#define CAIRN_DROP_H

#include "scoring/scoring.h"

/* Sets scores->drops from the facts and the view: the days from whose tests drop_worst takes. */
void drop_find_days(struct scores *scores);

/* Marks the tests that are dropped for a car, whose item sums must be there.
 *   flag  the mark in item_flags: that of the basis */
void drop_worst(const struct scores *scores, struct car_score *car, enum basis basis,
                unsigned char flag);

#endif
