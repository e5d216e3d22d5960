/* SPDX-License-Identifier: MIT */
#include "scoring/item_sums.h"

#include "base/decimal.h"
#include "event/car_route.h"
#include "event/penalty.h"
#include "scoring/decided.h"

/* A ruling on the whole item that holds for this car. */
static const struct decision *whole_ruling(const struct score_sheet *sheet,
                                           const struct item *item) {
    const struct scored_point *sp = &sheet->scored[item_first_on_route(sheet->event->rules, item)];
    return sp->ruling != NULL && sp->ruling_whole ? sp->ruling : NULL;
}

/* What the points of an item cost together, without absent ones. */
int64_t item_points_sum(const struct score_sheet *sheet, const struct item *item) {
    int64_t sum = 0;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        if (sheet->scored[i].state != STATE_ABSENT)
            sum = decimal_add(sum, sheet->scored[i].penalty);
    }
    return sum;
}

/* Fails, absence and awaited points of an item. An item is to come while each of its points may
 * still be read, or will be charged as absent when it is closed. */
static void count_points(const struct score_sheet *sheet, const struct item *item,
                         struct car_score *out) {
    int place = item->place;
    int on = 0; /* the car's route */
    int absent = 0;
    int open = 0;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        const struct scored_point *sp = &sheet->scored[i];
        on += sp->state != STATE_OFF;
        if (sp->state == STATE_ABSENT) {
            absent++;
            open += !sp->charged;
            if (item->ties_only)
                continue;
            out->day_absent[item->day] = decimal_add(out->day_absent[item->day], sp->penalty);
            out->day_absent_fails[item->day] =
                fails_add(out->day_absent_fails[item->day], sp->fails);
            continue;
        }
        out->item_fails[place] = fails_add(out->item_fails[place], sp->fails);
        out->item_awaited[place] += sp->state == STATE_AWAITING;
        open += !scored_point_is_known(sp);
    }
    if (absent > 0 && absent == on)
        out->item_flags[place] |= ITEM_ALL_ABSENT;
    if (open > 0 && open == on)
        out->item_flags[place] |= ITEM_TO_COME;
    out->awaited += out->item_awaited[place];
}

int64_t item_cost(const struct score_sheet *sheet, const struct item *item) {
    int64_t sum = item_points_sum(sheet, item);
    if (item->test >= 0 && whole_ruling(sheet, item) == NULL) {
        sum = decimal_add(sum, sheet->fault_sums[item->place]);
        if (sum > item->test_cap)
            sum = item->test_cap;
    }
    return decimal_add(sum, decided_sum(sheet, item->place).penalty);
}

void item_sum(const struct score_sheet *sheet, int place, struct car_score *out) {
    const struct item *item = car_item(sheet->event, sheet->car, place);
    if (item == NULL) {
        out->item_flags[place] |= ITEM_OFF;
        return;
    }
    int64_t sum = item_cost(sheet, item);
    count_points(sheet, item, out);
    const struct decided decided = decided_sum(sheet, place);
    out->item_fails[place] = fails_add(out->item_fails[place], decided.fails);
    if (item->test >= 0 && whole_ruling(sheet, item) == NULL)
        out->item_fails[place] = fails_add(out->item_fails[place], sheet->fault_fails[place]);
    /* What is charged already, or decided, is known. */
    if (sum != 0 || out->item_fails[place] > 0 || decided.count > 0)
        out->item_flags[place] &= (unsigned char)~ITEM_TO_COME;
    out->item_penalty[place] = sum;
    if (item->ties_only)
        return;
    out->day_penalty[item->day] = decimal_add(out->day_penalty[item->day], sum);
    out->day_fails[item->day] = fails_add(out->day_fails[item->day], out->item_fails[place]);
}

void absence_sum(const struct rules *rules, struct car_score *out) {
    for (int d = 0; d < rules->day_count; d++) {
        int64_t cap = rules->scoring.absent_day_cap;
        out->day_charged[d] = out->day_absent[d] < cap ? out->day_absent[d] : cap;
        out->day_penalty[d] = decimal_add(out->day_penalty[d], out->day_charged[d]);
        out->day_fails[d] = fails_add(out->day_fails[d], out->day_absent_fails[d]);
    }
}
