/* SPDX-License-Identifier: MIT */
#include "scoring/kinds/special_limits.h"

#include "base/decimal.h"

int64_t special_maximum_time(const struct score_sheet *sheet, const struct item *item) {
    const struct special_test *own = special_test_of(item);
    if (!own->maximum_by_best)
        return own->maximum;
    if (special_maximum_is_cost(own))
        return TIME_NONE;
    int64_t best =
        bests_of(sheet->bests, sheet->event, item, own->maximum_scope, sheet->car)->value;
    return best == TIME_NONE ? TIME_NONE : best + own->plus;
}

/* A finish before the start is a wrong clock: no time is charged, and `cairn check` reports it. */
struct price special_price(const struct item *item, int64_t ms) {
    struct penalty_rule uncapped = item->rule;
    uncapped.cap[SIDE_LATE] = CAP_NONE;
    return penalty_price(&uncapped, ms > 0 ? ms : 0);
}

int64_t special_maximum_cost(const struct score_sheet *sheet, const struct item *item) {
    const struct special_test *own = special_test_of(item);
    if (!special_maximum_is_cost(own))
        return TIME_NONE;
    int64_t best =
        bests_of(sheet->bests, sheet->event, item, own->maximum_scope, sheet->car)->value;
    return best == TIME_NONE ? TIME_NONE
                             : decimal_add(best, special_price(item, own->plus).penalty);
}

bool special_has_maximum(const struct score_sheet *sheet, const struct item *item) {
    return special_maximum_time(sheet, item) != TIME_NONE ||
           special_maximum_cost(sheet, item) != TIME_NONE;
}
