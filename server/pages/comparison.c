/* SPDX-License-Identifier: MIT */
#include "pages/comparison.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event/car_search.h"

bool comparison_has(const struct comparison *c, int car) {
    for (int i = 0; i < c->count; i++) {
        if (c->cars[i] == car)
            return true;
    }
    return false;
}

void comparison_read(struct comparison *c, const char *list) {
    const struct entries *entries = c->s->event->entries;
    while (list != NULL && *list != '\0' && c->count < COMPARISON_CARS_MAX) {
        char *end;
        long number = strtol(list, &end, 10);
        int car = entries_find(entries, number);
        if (end > list && car >= 0 && !comparison_has(c, car))
            c->cars[c->count++] = car;
        list = end > list ? end : list + 1;
        list += strspn(list, ", ");
    }
}

bool comparison_add(struct comparison *c, const char *typed) {
    const struct entries *entries = c->s->event->entries;
    int found = -1;
    int count = 0;
    for (int car = 0; car < entries->count; car++) {
        if (car_search_fits(&entries->list[car], typed)) {
            found = car;
            count++;
        }
    }
    if (count != 1 || c->count == COMPARISON_CARS_MAX)
        return false;
    if (!comparison_has(c, found))
        c->cars[c->count++] = found;
    return true;
}

/* What an item is in the total: after the drop, and with the coefficient. */
static int64_t cost_of(const struct scores *s, int car, int place) {
    const struct car_score *score = &s->cars[car];
    return (score->item_flags[place] & ITEM_DROPPED) != 0 ? 0 : score->item_value[place];
}

/* The fails of an item in the total. */
static int fails_of(const struct scores *s, int car, int place) {
    return s->event->rules->items[place].ties_only ? 0 : s->cars[car].item_fails[place];
}

static const struct tally *tally_of(const struct comparison *c, int i) {
    return &c->s->cars[c->cars[i]].tally[BASIS_CORRECTED];
}

bool comparison_is_off(const struct comparison *c, int i, int step) {
    return c->items[step] >= 0 &&
           (c->s->cars[c->cars[i]].item_flags[c->items[step]] & ITEM_OFF) != 0;
}

bool comparison_is_known(const struct comparison *c, int i, int step) {
    return c->items[step] < 0 ||
           (c->s->cars[c->cars[i]].item_flags[c->items[step]] & (ITEM_TO_COME | ITEM_OFF)) == 0;
}

/* How many of the steps there are up to the last that is known of a car; what is not on its route
 * is not waited for. */
static int known_steps(const struct comparison *c, int i) {
    int steps = c->steps;
    while (steps > 0 &&
           (c->s->cars[c->cars[i]].item_flags[c->items[steps - 1]] & ITEM_TO_COME) != 0)
        steps--;
    return steps;
}

/* The steps: what some car has come to, and of it what all have. */
static void lay_out(struct comparison *c) {
    const struct rules *rules = c->s->event->rules;
    int longest = 0;
    for (int i = 0; i < rules->item_count; i++) {
        if (c->s->view->visible[i])
            c->items[c->steps++] = i;
    }
    c->level = c->steps;
    for (int i = 0; i < c->count; i++) {
        int known = known_steps(c, i);
        c->level = known < c->level ? known : c->level;
        longest = known > longest ? known : longest;
    }
    c->steps = longest;
    c->items[c->steps++] = -1;
}

/* Makes sums into distances from the smallest: one of each car, `stride` apart. */
static void subtract_best(int64_t *sums, int count, int stride) {
    int64_t best = INT64_MAX;
    for (int i = 0; i < count; i++)
        best = sums[(ptrdiff_t)i * stride] < best ? sums[(ptrdiff_t)i * stride] : best;
    for (int i = 0; i < count; i++)
        sums[(ptrdiff_t)i * stride] -= best;
}

/* Finds the steps at whose end the fails so far are not those of all the cars. */
static void find_parted(struct comparison *c) {
    int fails[COMPARISON_CARS_MAX] = {0};
    for (int step = 0; step < c->steps; step++) {
        for (int i = 0; i < c->count; i++) {
            fails[i] += comparison_fails(c, i, step);
            c->parted[step] = c->parted[step] || fails[i] != fails[0];
        }
    }
}

/* What each step cost one of them, and the rest of its total. */
static void fill_car(struct comparison *c, int i) {
    int rest = c->steps - 1;
    int64_t *cost = c->cost + (ptrdiff_t)i * c->steps;
    int *fails = c->fails + (ptrdiff_t)i * c->steps;
    int64_t *gap = c->gap + (ptrdiff_t)i * (c->level + 1);
    int64_t sum = 0;
    int64_t total = cost[rest] = tally_of(c, i)->total;
    fails[rest] = tally_of(c, i)->fails;
    for (int step = 0; step < rest; step++) {
        cost[step] = cost_of(c->s, c->cars[i], c->items[step]);
        cost[rest] -= cost[step];
        fails[step] = fails_of(c->s, c->cars[i], c->items[step]);
        fails[rest] -= fails[step];
        if (step < c->level)
            gap[step] = sum += cost[step];
    }
    gap[c->level] = total;
}

int comparison_fill(struct comparison *c, struct request *r) {
    size_t steps_max = (size_t)c->s->event->rules->item_count + 1;
    c->items = request_array(r, steps_max, sizeof *c->items);
    c->cost = request_array(r, steps_max * COMPARISON_CARS_MAX, sizeof *c->cost);
    c->fails = request_array(r, steps_max * COMPARISON_CARS_MAX, sizeof *c->fails);
    c->gap = request_array(r, steps_max * COMPARISON_CARS_MAX, sizeof *c->gap);
    c->parted = request_array(r, steps_max, sizeof *c->parted);
    if (c->items == NULL || c->cost == NULL || c->fails == NULL || c->gap == NULL ||
        c->parted == NULL)
        return ERR_NOMEM;
    lay_out(c);
    for (int i = 0; i < c->count; i++)
        fill_car(c, i);
    for (int step = 0; step <= c->level; step++)
        subtract_best(c->gap + step, c->count, c->level + 1);
    find_parted(c);
    return ERR_OK;
}

int64_t comparison_cost(const struct comparison *c, int i, int step) {
    return c->cost[i * c->steps + step];
}

int comparison_fails(const struct comparison *c, int i, int step) {
    return c->fails[i * c->steps + step];
}

bool comparison_has_gap(const struct comparison *c, int step) {
    return !c->parted[step] && (step < c->level || step == c->steps - 1);
}

int64_t comparison_gap(const struct comparison *c, int i, int step) {
    return c->gap[i * (c->level + 1) + (step < c->level ? step : c->level)];
}

int comparison_best(const struct comparison *c) {
    int best = 0;
    for (int i = 1; i < c->count; i++) {
        struct gap gap = comparison_behind(c, i, best);
        if (gap.fails < 0 || (gap.fails == 0 && gap.penalty < 0))
            best = i;
    }
    return best;
}

struct gap comparison_behind(const struct comparison *c, int i, int other) {
    const struct tally *one = tally_of(c, i);
    const struct tally *two = tally_of(c, other);
    return (struct gap){one->fails - two->fails, one->total - two->total};
}

int comparison_telling(const struct comparison *c, int one, int other,
                       int out[COMPARISON_TELLING]) {
    int64_t apart[COMPARISON_TELLING];
    int count = 0;
    bool by_fails = comparison_behind(c, one, other).fails != 0;
    for (int step = 0; step < c->steps; step++) {
        int64_t d = by_fails
                        ? abs(comparison_fails(c, one, step) - comparison_fails(c, other, step))
                        : llabs(comparison_cost(c, one, step) - comparison_cost(c, other, step));
        if (d == 0 || !comparison_is_known(c, one, step) || !comparison_is_known(c, other, step))
            continue;
        int at = count;
        while (at > 0 && apart[at - 1] < d)
            at--;
        if (at == COMPARISON_TELLING)
            continue;
        count += count < COMPARISON_TELLING;
        for (int i = count - 1; i > at; i--) {
            apart[i] = apart[i - 1];
            out[i] = out[i - 1];
        }
        apart[at] = d;
        out[at] = step;
    }
    return count;
}

int64_t comparison_level_total(const struct comparison *c, int i) {
    int64_t total = tally_of(c, i)->total;
    for (int step = c->level; step < c->steps - 1; step++)
        total -= comparison_cost(c, i, step);
    return total;
}

bool comparison_is_uneven(const struct comparison *c) {
    bool charged = false;
    for (int i = 0; i < c->count; i++) {
        if (c->s->cars[c->cars[i]].position == 0 || comparison_behind(c, i, 0).fails != 0)
            return false;
        charged = charged || comparison_level_total(c, i) != tally_of(c, i)->total;
    }
    return charged && c->level > 0;
}
