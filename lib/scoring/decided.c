/* SPDX-License-Identifier: MIT */
#include "scoring/decided.h"

#include <string.h>

#include "base/decimal.h"
#include "event/penalty.h"

/* The item that a decision names, itself or by a point; -1 for none. */
static int item_of(const struct rules *rules, const struct decision *d) {
    if (d->target == TARGET_ITEM)
        return d->place;
    return d->target == TARGET_POINT ? rules->points[d->place].item : -1;
}

bool decided_at(const struct score_sheet *sheet, const struct decision *d, int item) {
    return (d->kind == DECIDE_PENALTY || d->kind == DECIDE_FAILS) &&
           item_of(sheet->event->rules, d) == item;
}

const struct decision *decided_aside(const struct score_sheet *sheet, const struct decision *d) {
    const struct rules *rules = sheet->event->rules;
    bool whole;
    if (d->target == TARGET_POINT)
        return score_sheet_ruling(sheet, rules->points[d->place].item, d->place, &whole);
    const struct decision *ruling =
        score_sheet_ruling(sheet, d->place, rules->items[d->place].first_point, &whole);
    return whole ? ruling : NULL;
}

struct decided decided_sum(const struct score_sheet *sheet, int item) {
    const struct car_rulings *car = sheet->rulings;
    struct decided sum = {0};
    for (int i = 0; car->at_points > 0 && i < car->count; i++) {
        const struct decision *d = car->list[i];
        if (!decided_at(sheet, d, item) || decided_aside(sheet, d) != NULL)
            continue;
        sum.count++;
        if (d->kind == DECIDE_PENALTY)
            sum.penalty = decimal_add(sum.penalty, d->value);
        else
            sum.fails = fails_add(sum.fails, (int)d->value);
    }
    return sum;
}

/* Whether a point that is not scored itself, or a whole item, stands for the item's one scored
 * point. */
static bool is_one_scored_point(const struct rules *rules, const struct item *item) {
    return strcmp(rules->scored[item->first_scored].id, item->id) == 0;
}

bool decided_names(const struct score_sheet *sheet, int scored) {
    const struct rules *rules = sheet->event->rules;
    const struct car_rulings *car = sheet->rulings;
    int place = rules->scored[scored].item;
    for (int i = 0; car->at_points > 0 && i < car->count; i++) {
        const struct decision *d = car->list[i];
        if ((d->kind != DECIDE_FAULTS && !decided_at(sheet, d, place)) ||
            item_of(rules, d) != place)
            continue;
        if (is_one_scored_point(rules, &rules->items[place]) ||
            (d->target == TARGET_POINT && rules->points[d->place].scored == scored))
            return true;
    }
    return false;
}
