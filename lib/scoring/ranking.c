/* SPDX-License-Identifier: MIT */
#include "scoring/ranking.h"

#include <stdlib.h>

#include "scoring/ties.h"

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

/* What parts cars: a criterion of the event's, with the test that it looks at (-1: none); before
 * all of them, fails and penalty. */
struct criterion {
    const struct ranking *ranking;
    const struct tie *tie; /* NULL: fails and penalty */
    int item;
};

static int compare(const struct criterion *c, const struct ranked *a, const struct ranked *b) {
    if (c->tie != NULL)
        return tie_compare(c->ranking->scores, c->tie, c->item, a->car, b->car);
    return a->fails != b->fails ? order(a->fails, b->fails) : order(a->penalty, b->penalty);
}

static int compare_places(const void *a, const void *b, void *criterion) {
    const struct ranked *x = a;
    const struct ranked *y = b;
    int found = compare(criterion, x, y);
    return found != 0 ? found : order(x->car, y->car); /* the entry list is in number order */
}

static void sort_by(const struct criterion *c, struct ranked *list, int count) {
    qsort_r(list, (size_t)count, sizeof *list, compare_places, (void *)c);
    for (int i = 1; i < count; i++)
        list[i].equal = compare(c, &list[i - 1], &list[i]) == 0;
}

/* Parts cars that are equal so far; false where it parts none. */
static bool part(const struct criterion *c, struct ranked *list, int count) {
    int i = 1;
    while (i < count && compare(c, &list[0], &list[i]) == 0)
        i++;
    if (i >= count)
        return false;
    sort_by(c, list, count);
    return true;
}

/* A test that is off for any of them is passed over. */
static bool all_have(const struct scores *s, int item, const struct ranked *list, int count) {
    for (int i = 0; i < count; i++) {
        if ((s->cars[list[i].car].item_flags[item] & ITEM_OFF) != 0)
            return false;
    }
    return true;
}

static bool part_by_test(struct criterion *c, int item, struct ranked *list, int count) {
    const struct scores *s = c->ranking->scores;
    c->item = item;
    return tie_looks_at(s, c->tie, item) && all_have(s, item, list, count) && part(c, list, count);
}

/* Parts cars of equal fails and penalty by the first criterion that can. */
static bool part_by_ties(const struct ranking *r, struct ranked *list, int count) {
    const struct rules *rules = r->scores->event->rules;
    struct criterion c = {r, NULL, -1};
    bool parted = false;
    for (int i = 0; !parted && i < rules->scoring.tie_count; i++) {
        c.tie = &rules->scoring.ties[i];
        c.item = -1;
        if (c.tie->kind == TIE_FIRST_DIFFERENCE) {
            for (int t = 0; !parted && t < rules->item_count; t++)
                parted = part_by_test(&c, t, list, count);
        } else if (c.tie->kind == TIE_TEST || c.tie->kind == TIE_TIME) {
            parted = part_by_test(&c, c.tie->item, list, count);
        } else {
            parted = part(&c, list, count);
        }
    }
    return parted;
}

/* While it is sorted, `equal` says that a car is equal so far to the one before it. A group that a
 * criterion parts is looked at again, each part from the first criterion on: what it passed over
 * for a car of another part may decide within this one. */
void ranking_sort(const struct ranking *r, struct ranked *list, int count) {
    const struct criterion result = {r, NULL, -1};
    for (int i = 0; i < count; i++) {
        list[i].fails = ranking_fails(r, list[i].car);
        list[i].penalty = ranking_penalty(r, list[i].car);
        list[i].equal = false;
    }
    sort_by(&result, list, count);
    for (int from = 0, to = 0; from < count;) {
        for (to = from + 1; to < count && list[to].equal; to++) {
        }
        if (to - from > 1 && r->by == RANKED_BY_TOTAL && part_by_ties(r, &list[from], to - from))
            continue;
        for (int i = from; i < to; i++) {
            list[i].position = from + 1;
            list[i].equal = to - from > 1;
        }
        from = to;
    }
}
