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

/* What there is to an item's points. */
struct points {
    int64_t penalty; /* without absent ones */
    int fails;
    int on; /* the car's route */
    int awaited;
    int absent;
    int to_charge; /* absent, and charged once they are closed */
    int64_t absent_penalty;
    int absent_fails;
};

static inline struct points look_at_points(const struct score_sheet *sheet,
                                           const struct item *item) {
    struct points p = {0};
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        const struct scored_point *sp = &sheet->scored[i];
        p.on += sp->state != STATE_OFF;
        if (sp->state == STATE_ABSENT) {
            p.absent++;
            p.to_charge += !sp->charged;
            p.absent_penalty = decimal_add(p.absent_penalty, sp->penalty);
            p.absent_fails = fails_add(p.absent_fails, sp->fails);
            continue;
        }
        p.penalty = decimal_add(p.penalty, sp->penalty);
        p.fails = fails_add(p.fails, sp->fails);
        p.awaited += sp->state == STATE_AWAITING;
    }
    return p;
}

int64_t item_points_sum(const struct score_sheet *sheet, const struct item *item) {
    return look_at_points(sheet, item).penalty;
}

/* True where faults of the test are added to it; few tests have any. */
static bool adds_faults(const struct score_sheet *sheet, const struct item *item) {
    return item->fault_count > 0 && item->test >= 0 && whole_ruling(sheet, item) == NULL;
}

/* What an item costs, from the sum of its points, before decisions. */
static int64_t cost_from(const struct score_sheet *sheet, const struct item *item, int64_t sum) {
    if (adds_faults(sheet, item))
        sum = decimal_add(sum, sheet->fault_sums[item->place]);
    return sum > item->test_cap && whole_ruling(sheet, item) == NULL ? item->test_cap : sum;
}

int64_t item_cost(const struct score_sheet *sheet, const struct item *item) {
    return decimal_add(cost_from(sheet, item, item_points_sum(sheet, item)),
                       decided_sum(sheet, item->place).penalty);
}

/* An item is to come while each of its points may still be read, or will be charged as absent when
 * it is closed, and nothing is charged or decided already. */
static unsigned char flags_of(const struct points *p, bool known) {
    unsigned char flags = 0;
    int open = p->awaited + p->to_charge;
    if (p->absent > 0 && p->absent == p->on)
        flags |= ITEM_ALL_ABSENT;
    if (open > 0 && open == p->on && !known)
        flags |= ITEM_TO_COME;
    return flags;
}

void item_sum(const struct score_sheet *sheet, const struct item *item, struct car_score *out) {
    const struct points points = look_at_points(sheet, item);
    int64_t sum = cost_from(sheet, item, points.penalty);
    int fails = points.fails;
    bool decided = false;
    if (adds_faults(sheet, item))
        fails = fails_add(fails, sheet->fault_fails[item->place]);
    if (sheet->rulings->at_points > 0) {
        const struct decided more = decided_sum(sheet, item->place);
        sum = decimal_add(sum, more.penalty);
        fails = fails_add(fails, more.fails);
        decided = more.count > 0;
    }
    out->item_penalty[item->place] = sum;
    out->item_fails[item->place] = fails;
    out->item_awaited[item->place] = points.awaited;
    out->item_flags[item->place] = flags_of(&points, sum != 0 || fails > 0 || decided);
    out->awaited += points.awaited;
    if (item->ties_only)
        return;
    out->day_penalty[item->day] = decimal_add(out->day_penalty[item->day], sum);
    out->day_fails[item->day] = fails_add(out->day_fails[item->day], fails);
    if (points.absent > 0) {
        out->day_absent[item->day] = decimal_add(out->day_absent[item->day], points.absent_penalty);
        out->day_absent_fails[item->day] =
            fails_add(out->day_absent_fails[item->day], points.absent_fails);
    }
}

void absence_sum(const struct rules *rules, struct car_score *out) {
    for (int d = 0; d < rules->day_count; d++) {
        int64_t cap = rules->scoring.absent_day_cap;
        out->day_charged[d] = out->day_absent[d] < cap ? out->day_absent[d] : cap;
        out->day_penalty[d] = decimal_add(out->day_penalty[d], out->day_charged[d]);
        out->day_fails[d] = fails_add(out->day_fails[d], out->day_absent_fails[d]);
    }
}
