/* SPDX-License-Identifier: MIT */
#include "scoring/coefficient.h"

#include "base/decimal.h"

int64_t coefficient_of(const struct rules *rules, const struct entry *entry) {
    const struct scoring *s = &rules->scoring;
    if (!s->has_coefficient)
        return 1000;
    if (s->coefficient_by_class)
        return s->coefficient_table[entry->period];
    int64_t value = 1000 + (entry->year - 1900) * 10;
    return value < 1000 ? 1000 : value;
}

bool coefficient_takes(const struct scoring *scoring, const struct item *item) {
    return scoring->has_coefficient && item->test >= 0 &&
           (scoring->coefficient_kinds >> item->kind & 1u) != 0;
}

void coefficient_on_item(const struct rules *rules, int place, struct car_score *out) {
    const struct scoring *scoring = &rules->scoring;
    int64_t value = out->item_penalty[place];
    if (value != 0 && coefficient_takes(scoring, &rules->items[place]))
        value = decimal_times(value, out->coefficient,
                              scoring->coefficient_per_test && scoring->coefficient_whole);
    out->item_value[place] = value;
}

void coefficient_on_total(const struct scoring *scoring, int64_t sum, struct car_score *car) {
    car->multiplied = sum;
    car->product = decimal_times(sum, car->coefficient, false);
    car->added = decimal_times(sum, car->coefficient, scoring->coefficient_whole) - sum;
}
