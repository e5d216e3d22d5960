/* SPDX-License-Identifier: MIT */
#include "event/rulings.h"

#include <stdlib.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/car_route.h"
#include "event/event.h"
#include "event/faults.h"
#include "event/penalty.h"

static void close_points(struct rulings *r, int first, int count) {
    for (int i = first; i < first + count; i++)
        r->closed[i] = true;
}

static void apply_close(const struct rules *rules, struct rulings *r, const struct decision *d) {
    if (d->target == TARGET_POINT) {
        r->closed[d->place] = true;
        return;
    }
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (d->target == TARGET_ITEM ? i == d->place : item->day == d->place)
            close_points(r, item->first_point, item->point_count);
    }
}

static void apply_cancel(struct rulings *r, const struct decision *d) {
    const struct decision **slot =
        d->target == TARGET_ITEM ? &r->cancelled_item[d->place] : &r->cancelled_point[d->place];
    if (*slot == NULL || decision_before(d, *slot))
        *slot = d;
}

/* A car that retires at a point which is not on its route is out after the last point before it
 * that is. */
static struct retirement retirement_of(const struct event *event, const struct decision *d) {
    const struct rules *rules = event->rules;
    struct retirement out = {-1, -1, -1, d};
    if (d->target == TARGET_ITEM)
        out.position = rules->items[d->place].first_point + rules->items[d->place].point_count - 1;
    else if (d->target == TARGET_POINT)
        out.position = d->place;
    while (out.position >= 0 && !car_point_is_on(event, d->car, out.position))
        out.position--;
    out.item = out.position < 0 ? -1 : rules->points[out.position].item;
    if (out.item >= 0)
        out.day = rules->items[out.item].day;
    return out;
}

bool rulings_has_effect(const struct event *event, const struct decision *d) {
    if (d->kind == DECIDE_RETIRE)
        return true;
    if (d->target == TARGET_ITEM)
        return car_item(event, d->car, d->place) != NULL;
    return d->target != TARGET_POINT || car_point_is_on(event, d->car, d->place);
}

static void apply_to_car(const struct event *event, struct car_rulings *car,
                         const struct decision *d) {
    if (!rulings_has_effect(event, d))
        return;
    car->list[car->count++] = d;
    car->at_points +=
        d->target != TARGET_NONE &&
        (d->kind == DECIDE_PENALTY || d->kind == DECIDE_FAILS || d->kind == DECIDE_FAULTS);
    switch (d->kind) {
    case DECIDE_PENALTY:
        if (d->target == TARGET_NONE)
            car->penalty = decimal_add(car->penalty, d->value);
        break;
    case DECIDE_FAILS:
        if (d->target == TARGET_NONE)
            car->fails = fails_add(car->fails, (int)d->value);
        break;
    case DECIDE_RETIRE:
        car->retirements[car->retirement_count++] = retirement_of(event, d);
        break;
    case DECIDE_REJOIN:
        car->rejoin_days[car->rejoin_count++] = (int)d->value;
        break;
    case DECIDE_DISQUALIFY:
        if (car->disqualified == NULL || decision_before(d, car->disqualified))
            car->disqualified = d;
        break;
    default:
        break;
    }
}

/* Counts first, so that each car's lists get just the memory they need. */
static int allocate_lists(const struct event *event, struct rulings *r) {
    int cars = event->entries->count;
    for (int i = 0; i < event->decisions.count; i++) {
        const struct decision *d = event->decisions.list[i].decision;
        if (!event->decisions.list[i].holds || d->car < 0)
            continue;
        struct car_rulings *car = &r->cars[d->car];
        car->count++;
        car->retirement_count += d->kind == DECIDE_RETIRE;
        car->rejoin_count += d->kind == DECIDE_REJOIN;
    }
    for (int i = 0; i < cars; i++) {
        struct car_rulings *car = &r->cars[i];
        if (car->count == 0)
            continue;
        car->list = arena_array(r->arena, (size_t)car->count, sizeof *car->list);
        car->retirements =
            arena_array(r->arena, (size_t)car->retirement_count, sizeof *car->retirements);
        car->rejoin_days =
            arena_array(r->arena, (size_t)car->rejoin_count, sizeof *car->rejoin_days);
        if (car->list == NULL || car->retirements == NULL || car->rejoin_days == NULL)
            return ERR_NOMEM;
        car->count = car->retirement_count = car->rejoin_count = 0;
    }
    return ERR_OK;
}

/* A rejoin ends the retirements of earlier days. */
static bool is_back(const struct car_rulings *car, const struct retirement *r, int day) {
    for (int i = 0; i < car->rejoin_count; i++) {
        if (car->rejoin_days[i] > r->day && car->rejoin_days[i] <= day)
            return true;
    }
    return false;
}

bool rulings_out_before_day(const struct rulings *rulings, int car, int day) {
    const struct car_rulings *c = &rulings->cars[car];
    for (int i = 0; i < c->retirement_count; i++) {
        if (c->retirements[i].day < day && !is_back(c, &c->retirements[i], day))
            return true;
    }
    return false;
}

bool retirement_is_by(const struct retirement *r, int after, const bool *hidden) {
    int item = r->item;
    while (hidden != NULL && item >= 0 && hidden[item])
        item--;
    return after < 0 || item <= after;
}

bool rulings_out_at(const struct event *event, int car, int point, int after, const bool *hidden) {
    const struct car_rulings *c = &event->rulings->cars[car];
    int day = event->rules->items[event->rules->points[point].item].day;
    for (int i = 0; i < c->retirement_count; i++) {
        const struct retirement *r = &c->retirements[i];
        if (r->position < point && retirement_is_by(r, after, hidden) && !is_back(c, r, day))
            return true;
    }
    return false;
}

static void lay_starts(const struct event *event, struct rulings *r) {
    const struct entries *entries = event->entries;
    for (int day = 0; day < event->rules->day_count; day++) {
        const struct day *d = &event->rules->days[day];
        int64_t turn = 0;
        for (int car = 0; car < entries->count; car++) {
            size_t cell = (size_t)day * (size_t)entries->count + (size_t)car;
            int64_t place = d->sequence ? turn : entries->list[car].number - 1;
            if (!rulings_out_before_day(r, car, day))
                turn++;
            r->starts[cell] = entries->starts[cell] != TIME_NONE
                                  ? entries->starts[cell]
                                  : d->first_start + place * d->interval;
        }
    }
}

static int by_order(const void *a, const void *b) {
    const struct decision *x = *(const struct decision *const *)a;
    const struct decision *y = *(const struct decision *const *)b;
    return decision_before(x, y) ? -1 : decision_before(y, x);
}

/* The decisions that hold, in the contract's order: what is listed from them does not depend on the
 * order in which they came. NULL when memory is out. */
static const struct decision **in_order(const struct event *event, struct arena *arena,
                                        int *count) {
    const struct decision_list *all = &event->decisions;
    const struct decision **list = arena_array(arena, (size_t)all->count, sizeof *list);
    *count = 0;
    for (int i = 0; list != NULL && i < all->count; i++) {
        if (all->list[i].holds)
            list[(*count)++] = all->list[i].decision;
    }
    if (*count > 1)
        qsort(list, (size_t)*count, sizeof *list, by_order);
    return list;
}

int rulings_build(const struct event *event, struct rulings **out) {
    const struct rules *rules = event->rules;
    struct rulings *r = calloc(1, sizeof *r);
    size_t cars = (size_t)event->entries->count;
    int count = 0;
    if (r == NULL || (r->arena = arena_new()) == NULL)
        goto failed;
    r->cars = arena_array(r->arena, cars, sizeof *r->cars);
    r->cancelled_item = arena_array(r->arena, (size_t)rules->item_count, sizeof *r->cancelled_item);
    r->cancelled_point =
        arena_array(r->arena, (size_t)rules->point_count, sizeof *r->cancelled_point);
    r->closed = arena_array(r->arena, (size_t)rules->point_count, sizeof *r->closed);
    r->starts = arena_array(r->arena, cars * (size_t)rules->day_count, sizeof *r->starts);
    if (r->cars == NULL || r->cancelled_item == NULL || r->cancelled_point == NULL ||
        r->closed == NULL || r->starts == NULL || allocate_lists(event, r) != ERR_OK)
        goto failed;
    const struct decision **ordered = in_order(event, r->arena, &count);
    if (ordered == NULL)
        goto failed;
    for (int i = 0; i < count; i++) {
        const struct decision *d = ordered[i];
        if (d->car >= 0)
            apply_to_car(event, &r->cars[d->car], d);
        else if (d->kind == DECIDE_CLOSE)
            apply_close(rules, r, d);
        else if (d->kind == DECIDE_CANCEL)
            apply_cancel(r, d);
    }
    lay_starts(event, r);
    *out = r;
    return ERR_OK;
failed:
    rulings_free(r);
    return ERR_NOMEM;
}

void rulings_free(struct rulings *r) {
    if (r == NULL)
        return;
    arena_free(r->arena);
    free(r);
}

int64_t rulings_allowance(const struct rulings *r, int car, int point) {
    const struct car_rulings *c = &r->cars[car];
    int64_t sum = 0;
    for (int i = 0; i < c->count; i++) {
        if (c->list[i]->kind == DECIDE_ALLOWANCE && c->list[i]->place == point)
            sum += c->list[i]->value;
    }
    return sum;
}

void rulings_add_faults(const struct rulings *r, int car, int point, const struct item *item,
                        struct fault_sum *sum) {
    const struct car_rulings *c = &r->cars[car];
    for (int i = 0; c->at_points > 0 && i < c->count; i++) {
        const struct decision *d = c->list[i];
        if (d->kind == DECIDE_FAULTS && d->place == point)
            faults_add(sum, item, d->faults, d->fault_count);
    }
}

const struct decision *rulings_find(const struct rulings *r, int car, enum decision_kind kind,
                                    enum decision_target target, int place) {
    const struct car_rulings *c = &r->cars[car];
    const struct decision *found = NULL;
    for (int i = 0; i < c->count; i++) {
        const struct decision *d = c->list[i];
        if (d->kind == kind && d->target == target && d->place == place &&
            (found == NULL || decision_before(d, found)))
            found = d;
    }
    return found;
}

/* On each level cancel, then notional, then waive. */
const struct decision *rulings_at(const struct rulings *r, int car, int item, int point,
                                  bool *whole) {
    bool own = r->cars[car].count > 0;
    const struct decision *d = r->cancelled_item[item];
    *whole = true;
    if (d == NULL && own)
        d = rulings_find(r, car, DECIDE_NOTIONAL, TARGET_ITEM, item);
    if (d == NULL && own)
        d = rulings_find(r, car, DECIDE_WAIVE, TARGET_ITEM, item);
    if (d != NULL)
        return d;
    *whole = false;
    d = r->cancelled_point[point];
    if (d == NULL && own)
        d = rulings_find(r, car, DECIDE_NOTIONAL, TARGET_POINT, point);
    if (d == NULL && own)
        d = rulings_find(r, car, DECIDE_WAIVE, TARGET_POINT, point);
    return d;
}

int64_t rulings_start(const struct event *event, int day, int car) {
    return event->rulings->starts[(size_t)day * (size_t)event->entries->count + (size_t)car];
}
