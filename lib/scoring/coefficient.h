/* SPDX-License-Identifier: MIT */
/* coefficient.h - what a car's penalty is multiplied by. Source: the contract, "Totals" and
 * "Coefficient". Sums are thousandths. Safe for any number of threads at once, each with scores of
 * its own. */
#ifndef CAIRN_COEFFICIENT_H
#define CAIRN_COEFFICIENT_H

#include "scoring/scoring.h"

/* The coefficient of a car, thousandths; 1000 where the event has none. */
int64_t coefficient_of(const struct rules *rules, const struct entry *entry);

/* True where the coefficient multiplies that item, alone or in the total. */
static inline bool coefficient_takes(const struct scoring *scoring, const struct item *item) {
    return scoring->has_coefficient && (scoring->coefficient_kinds >> item->kind & 1u) != 0;
}

/* A sum times the coefficient. Only one on each test rounds to whole points here. */
int64_t coefficient_times(const struct scoring *scoring, int64_t sum, int64_t coefficient);

/* What a day's absent points add to the sum: multiplied where the coefficient is on each test and
 * of everything. */
int64_t coefficient_on_absence(const struct scoring *scoring, const struct car_score *car, int day);

/* The coefficient on the total: sets multiplied, product and added.
 *   sum  of the items of its kinds, without dropped ones, and absence where it is of everything */
void coefficient_on_total(const struct scoring *scoring, int64_t sum, struct car_score *car);

#endif
