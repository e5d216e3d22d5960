/* SPDX-License-Identifier: MIT */
#include "scoring/ties.h"

#include <stdlib.h>

#include "event/car_route.h"
#include "event/kind.h"

static int order(int64_t a, int64_t b) {
    return (a > b) - (a < b);
}

static int by_cost(const void *a, const void *b) {
    return order(*(const int64_t *)a, *(const int64_t *)b);
}

static int points_on_route(const struct score_sheet *sheet, const struct item *item) {
    int count = 0;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++)
        count += sheet->scored[i].state != STATE_OFF;
    return count;
}

/* True where a point's own penalty is looked at by count-back: one without fails. The result of a
 * whole test stands at its first point, but is that point's only where it has no other. */
static bool is_counted_back(const struct score_sheet *sheet, const struct item *item,
                            const struct scored_point *sp) {
    if (item->ties_only || sp->fails > 0)
        return false;
    if (sp->state == STATE_NOTIONAL)
        return !sp->ruling_whole || points_on_route(sheet, item) == 1;
    return sp->state == STATE_CLEAN || sp->state == STATE_SCORED || sp->state == STATE_MISSED;
}

/* Penalties that are no whole number decide nothing: more of exactly 0, then of exactly 1 … */
static void collect_costs(const struct scores *s, const struct score_sheet *sheet,
                          struct car_score *out) {
    const struct rules *rules = s->event->rules;
    out->whole_cost_count = 0;
    for (int i = 0; i < rules->scored_count; i++) {
        const struct scored_point *sp = &sheet->scored[i];
        int place = rules->scored[i].item;
        if (s->view->visible[place] && is_counted_back(sheet, &rules->items[place], sp) &&
            sp->penalty % 1000 == 0)
            out->whole_costs[out->whole_cost_count++] = sp->penalty;
    }
    qsort(out->whole_costs, (size_t)out->whole_cost_count, sizeof *out->whole_costs, by_cost);
}

void ties_collect(const struct scores *s, const struct score_sheet *sheet, struct car_score *out) {
    const struct rules *rules = s->event->rules;
    for (int i = 0; i < rules->scoring.tie_count; i++) {
        const struct tie *tie = &rules->scoring.ties[i];
        if (tie->kind != TIE_TIME)
            continue;
        out->tie_times[tie->time] = TIME_NONE;
        if (!s->view->visible[tie->item])
            continue;
        const struct item *item = car_item(s->event, sheet->car, tie->item);
        if (item != NULL)
            out->tie_times[tie->time] = kind_of(item->kind)->tie_time(sheet, item);
    }
    if (rules->scoring.counts_back)
        collect_costs(s, sheet, out);
}

/* The list that has more of the lowest penalty of which they do not have the same number: in rising
 * order, that is the smaller one at the first place where they differ, or else the longer. */
static int compare_costs(const struct car_score *a, const struct car_score *b) {
    for (int i = 0; i < a->whole_cost_count && i < b->whole_cost_count; i++) {
        int found = order(a->whole_costs[i], b->whole_costs[i]);
        if (found != 0)
            return found;
    }
    return order(b->whole_cost_count, a->whole_cost_count);
}

/* One test: a car that was absent at all of it comes last, then fails, then penalty. */
static int compare_test(const struct car_score *a, const struct car_score *b, int item) {
    bool a_absent = (a->item_flags[item] & ITEM_ALL_ABSENT) != 0;
    bool b_absent = (b->item_flags[item] & ITEM_ALL_ABSENT) != 0;
    if (a_absent || b_absent)
        return order(a_absent, b_absent);
    int by_fails = order(a->item_fails[item], b->item_fails[item]);
    return by_fails != 0 ? by_fails : order(a->item_penalty[item], b->item_penalty[item]);
}

/* Unknown is last. */
static int compare_known(int64_t a, int64_t b, int64_t unknown) {
    if (a == unknown || b == unknown)
        return order(a == unknown, b == unknown);
    return order(a, b);
}

int tie_compare(const struct scores *s, const struct tie *tie, int item, int a, int b) {
    const struct car_score *x = &s->cars[a];
    const struct car_score *y = &s->cars[b];
    const struct entry *ex = &s->event->entries->list[a];
    const struct entry *ey = &s->event->entries->list[b];
    switch (tie->kind) {
    case TIE_MOST_CLEAN:
        return order(y->clean, x->clean);
    case TIE_FURTHEST_CLEAN:
        return order(y->furthest, x->furthest);
    case TIE_OLDER_CAR:
        return order(ex->year, ey->year);
    case TIE_SMALLER_ENGINE:
        return compare_known(ex->engine_cc, ey->engine_cc, -1);
    case TIE_COUNT_BACK:
        return compare_costs(x, y);
    case TIE_OLDER_DRIVER:
        return compare_known(ex->born, ey->born, BORN_UNKNOWN);
    case TIE_YOUNGER_DRIVER:
        return ex->born == BORN_UNKNOWN || ey->born == BORN_UNKNOWN
                   ? compare_known(ex->born, ey->born, BORN_UNKNOWN)
                   : order(ey->born, ex->born);
    case TIE_TIME:
        return compare_known(x->tie_times[tie->time], y->tie_times[tie->time], TIME_NONE);
    case TIE_FIRST_DIFFERENCE:
    case TIE_TEST:
        return compare_test(x, y, item);
    }
    return 0;
}

bool tie_looks_at(const struct scores *s, const struct tie *tie, int item) {
    const struct item *it = &s->event->rules->items[item];
    if (!s->view->visible[item])
        return false;
    if (tie->kind == TIE_FIRST_DIFFERENCE)
        return it->test >= 0 && !it->ties_only;
    return tie->kind != TIE_TIME || s->event->rulings->cancelled_item[item] == NULL;
}
