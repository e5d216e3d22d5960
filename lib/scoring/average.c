/* SPDX-License-Identifier: MIT */
#include "scoring/average.h"

#include "base/decimal.h"
#include "event/car_route.h"
#include "scoring/item_sums.h"

bool average_is_at(const struct scored_point *sp) {
    return sp->ruling != NULL && sp->ruling->kind == DECIDE_NOTIONAL && sp->ruling->average;
}

/* On a card, the points of a dropped test have that state instead of the one that they had. */
static bool is_plain(const struct scored_point *sp) {
    return sp->ruling == NULL && (sp->state == STATE_SCORED || sp->state == STATE_CLEAN ||
                                  sp->state == STATE_MISSED || sp->state == STATE_DROPPED);
}

bool average_takes(const struct score_sheet *sheet, int test, int other) {
    const struct item *items = sheet->event->rules->items;
    const struct item *item = car_item(sheet->event, sheet->car, other);
    if (item == NULL || other == test || items[other].kind != items[test].kind || item->ties_only ||
        !sheet->view->visible[other])
        return false;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        if (!is_plain(&sheet->scored[i]) && sheet->scored[i].state != STATE_OFF)
            return false;
    }
    return true;
}

struct average average_of(const struct score_sheet *sheet, int test) {
    struct average average = {0};
    for (int i = 0; i < sheet->event->rules->item_count; i++) {
        if (!average_takes(sheet, test, i))
            continue;
        average.sum =
            decimal_add(average.sum, item_cost(sheet, car_item(sheet->event, sheet->car, i)));
        average.count++;
    }
    average.mean = average.count > 0 ? decimal_mean(average.sum, average.count) : 0;
    return average;
}

void average_fill(struct score_sheet *sheet) {
    const struct rules *rules = sheet->event->rules;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = car_item(sheet->event, sheet->car, i);
        if (item == NULL || !sheet->view->visible[i])
            continue;
        struct scored_point *sp = &sheet->scored[item_first_on_route(rules, item)];
        if (average_is_at(sp))
            sp->penalty = average_of(sheet, i).mean;
    }
}
