/* SPDX-License-Identifier: MIT */
#include "scoring/ranking.h"

#include <stdlib.h>

static int order(int64_t a, int64_t b) {
    return (a > b) - (a < b);
}

int ranking_fails(const struct ranking *r, int car) {
    const struct car_score *score = &r->scores->cars[car];
    switch (r->by) {
    case RANKED_BY_DAY:
        return score->day_fails[r->index];
    case RANKED_BY_ITEM:
        return score->item_fails[r->index];
    default:
        return score->tally[r->basis].fails;
    }
}

int64_t ranking_penalty(const struct ranking *r, int car) {
    const struct car_score *score = &r->scores->cars[car];
    switch (r->by) {
    case RANKED_BY_DAY:
        return score->day_penalty[r->index];
    case RANKED_BY_ITEM:
        return score->item_penalty[r->index];
    default:
        return score->tally[r->basis].total;
    }
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

static int compare_tie(const struct ranking *r, const struct tie *tie, int a, int b) {
    const struct car_score *x = &r->scores->cars[a];
    const struct car_score *y = &r->scores->cars[b];
    const struct entry *ex = &r->scores->event->entries->list[a];
    const struct entry *ey = &r->scores->event->entries->list[b];
    const struct rules *rules = r->scores->event->rules;
    const bool *visible = r->scores->view->visible;
    switch (tie->kind) {
    case TIE_MOST_CLEAN:
        return order(y->clean, x->clean);
    case TIE_FURTHEST_CLEAN:
        return order(y->furthest, x->furthest);
    case TIE_OLDER_CAR:
        return order(ex->year, ey->year);
    case TIE_SMALLER_ENGINE:
        return order(ex->engine_cc < 0 ? INT64_MAX : ex->engine_cc,
                     ey->engine_cc < 0 ? INT64_MAX : ey->engine_cc);
    case TIE_FIRST_DIFFERENCE:
        for (int i = 0; i < rules->item_count; i++) {
            int found = visible[i] && rules->items[i].test >= 0 ? compare_test(x, y, i) : 0;
            if (found != 0)
                return found;
        }
        return 0;
    case TIE_TEST:
        return visible[tie->item] ? compare_test(x, y, tie->item) : 0;
    }
    return 0;
}

/* Decides between cars with the same fails and penalty. */
static int compare_ties(const struct ranking *r, int a, int b) {
    if (r->by != RANKED_BY_TOTAL)
        return 0;
    const struct scoring *scoring = &r->scores->event->rules->scoring;
    int found = 0;
    for (int i = 0; found == 0 && i < scoring->tie_count; i++)
        found = compare_tie(r, &scoring->ties[i], a, b);
    return found;
}

/* Fails and penalty were copied into the list, since most cars differ in them. */
static int compare(const struct ranking *r, const struct ranked *a, const struct ranked *b) {
    if (a->fails != b->fails)
        return order(a->fails, b->fails);
    if (a->penalty != b->penalty)
        return order(a->penalty, b->penalty);
    return compare_ties(r, a->car, b->car);
}

static int compare_places(const void *a, const void *b, void *ranking) {
    const struct ranked *x = a;
    const struct ranked *y = b;
    int found = compare(ranking, x, y);
    return found != 0 ? found : order(x->car, y->car); /* the entry list is in number order */
}

void ranking_sort(const struct ranking *r, struct ranked *list, int count) {
    for (int i = 0; i < count; i++) {
        list[i].fails = ranking_fails(r, list[i].car);
        list[i].penalty = ranking_penalty(r, list[i].car);
    }
    qsort_r(list, (size_t)count, sizeof *list, compare_places, (void *)r);
    for (int i = 0; i < count; i++) {
        bool tied = i > 0 && compare(r, &list[i - 1], &list[i]) == 0;
        list[i].position = tied ? list[i - 1].position : i + 1;
        list[i].equal = tied;
        if (tied)
            list[i - 1].equal = true;
    }
}
