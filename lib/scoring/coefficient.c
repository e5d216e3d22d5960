/* SPDX-License-Identifier: MIT */
#include "scoring/coefficient.h"

#include "base/decimal.h"

int64_t coefficient_of(const struct rules *rules, const struct entry *entry) {
    const struct scoring *s = &rules->scoring;
    if (!s->has_coefficient)
        return 1000;
    switch (s->coefficient_by) {
    case COEFFICIENT_BY_CLASS:
        return s->coefficient_table[entry->period];
    case COEFFICIENT_BY_CATEGORY:
        return entry->category < 0 ? 1000 : s->coefficient_table[entry->category];
    case COEFFICIENT_BY_ENTRY:
        return entry->coefficient;
    case COEFFICIENT_BY_YEAR:
        break;
    }
    int64_t value = 1000 + (entry->year - 1900) * 10;
    return value < 1000 ? 1000 : value;
}

int64_t coefficient_times(const struct scoring *scoring, int64_t sum, int64_t coefficient) {
    return decimal_times(sum, coefficient,
                         scoring->coefficient_per_test && scoring->coefficient_whole);
}

int64_t coefficient_on_absence(const struct scoring *scoring, const struct car_score *car,
                               int day) {
    int64_t value = car->day_charged[day];
    return scoring->coefficient_all && scoring->coefficient_per_test
               ? coefficient_times(scoring, value, car->coefficient)
               : value;
}

void coefficient_on_total(const struct scoring *scoring, int64_t sum, struct car_score *car) {
    car->multiplied = sum;
    car->product = decimal_times(sum, car->coefficient, false);
    car->added = decimal_times(sum, car->coefficient, scoring->coefficient_whole) - sum;
}
