/* SPDX-License-Identifier: MIT */
/* What would change if a doubt were decided the other way. */
#include "office/doubts.h"

#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/err.h"

struct evaluation {
    const struct scores *scores;
    const struct event *event;
    struct scorer scorer;
    int values; /* how many of one doubt are scored */
    int scorings;
    int err;
};

/* Scores the doubt's car in `other`, the event with the doubt decided the other way, and keeps the
 * effect where it moves more than what is kept. */
static void evaluate(struct evaluation *e, struct doubt *doubt, const struct event *other) {
    const struct scores *scores = e->scores;
    struct scores *after = NULL;
    struct effect effect = {0};
    e->scorings++;
    int err = scores_copy(scores, other, scores->view, &after);
    if (err == ERR_OK) {
        scores_update(after, &e->scorer, &doubt->car, 1);
        scores_rank(after, &e->scorer);
        err = effect_make(scores, after, &effect);
    }
    scores_free(after);
    if (err != ERR_OK)
        e->err = err;
    effect.event = e->event;
    int places = effect_places(&effect);
    bool better = places > doubt->places || (places == doubt->places && doubt->effect.count == 0);
    if (better) {
        effect_clear(&doubt->effect);
        doubt->effect = effect;
        doubt->places = places;
    } else {
        effect_clear(&effect);
    }
}

static void evaluate_reading(struct evaluation *e, struct doubt *doubt,
                             const struct reading *reading) {
    struct substitute substitute = {doubt->car, doubt->point, reading};
    struct event other = *e->event;
    other.substitute = &substitute;
    evaluate(e, doubt, &other);
}

/* With other rulings for the doubt's car. */
static void evaluate_rulings(struct evaluation *e, struct doubt *doubt,
                             const struct car_rulings *own) {
    size_t cars = (size_t)e->event->entries->count;
    struct rulings rulings = *e->event->rulings;
    struct event other = *e->event;
    struct car_rulings *all = malloc(cars * sizeof *all);
    if (all == NULL) {
        e->err = ERR_NOMEM;
        return;
    }
    memcpy(all, rulings.cars, cars * sizeof *all);
    all[doubt->car] = *own;
    rulings.cars = all;
    other.rulings = &rulings;
    evaluate(e, doubt, &other);
    free(all);
}

static void evaluate_not_out(struct evaluation *e, struct doubt *doubt) {
    struct car_rulings own = e->event->rulings->cars[doubt->car];
    own.retirement_count = 0;
    evaluate_rulings(e, doubt, &own);
}

static void evaluate_waived(struct evaluation *e, struct doubt *doubt) {
    struct car_rulings own = e->event->rulings->cars[doubt->car];
    struct decision waive = {.id = "",
                             .kind = DECIDE_WAIVE,
                             .car = doubt->car,
                             .target = TARGET_POINT,
                             .place = doubt->point};
    const struct decision **list = malloc(((size_t)own.count + 1) * sizeof *list);
    if (list == NULL) {
        e->err = ERR_NOMEM;
        return;
    }
    if (own.count > 0)
        memcpy(list, own.list, (size_t)own.count * sizeof *list);
    list[own.count++] = &waive;
    own.list = list;
    evaluate_rulings(e, doubt, &own);
    free(list);
}

/* By time, elapsed and faults as written; equal faults in another order count as another value. */
static int by_value(const void *a, const void *b) {
    const struct reading *x = *(const struct reading *const *)a;
    const struct reading *y = *(const struct reading *const *)b;
    if (x->time != y->time)
        return x->time < y->time ? -1 : 1;
    if (x->elapsed != y->elapsed)
        return x->elapsed < y->elapsed ? -1 : 1;
    return strcmp(x->text.field[READING_FAULTS], y->text.field[READING_FAULTS]);
}

/* Readings with other values than the one that counts, one for each value, in order.
 * Returns: how many; -1 when memory is out. */
static int other_values(const struct event *event, const struct doubt *doubt,
                        const struct reading ***out) {
    size_t count = 0;
    size_t kept = 0;
    size_t cap = 0;
    const struct reading **list = NULL;
    for (int i = readings_latest(event->readings, doubt->car, doubt->point); i >= 0;
         i = readings_before(event->readings, i)) {
        const struct reading *other = readings_view_at(event->readings, i);
        if (other != doubt->reading && !other->is_void &&
            !reading_is_replaced(event->readings, other)) {
            const struct reading **more = array_reserve(list, &cap, count + 1, sizeof *more);
            if (more == NULL) {
                free(list);
                return -1;
            }
            list = more;
            list[count++] = other;
        }
    }
    if (count > 1)
        qsort(list, count, sizeof *list, by_value);
    for (size_t i = 0; i < count; i++) {
        if (by_value(&list[i], &doubt->reading) != 0 &&
            (kept == 0 || by_value(&list[kept - 1], &list[i]) != 0))
            list[kept++] = list[i];
    }
    *out = list;
    return (int)kept;
}

/* Of many values, some between the first and the last, and those two: one of them moves most. */
static void evaluate_others(struct evaluation *e, struct doubt *doubt) {
    const struct reading **values = NULL;
    int count = other_values(e->event, doubt, &values);
    int some = count < e->values ? count : e->values;
    if (count < 0)
        e->err = ERR_NOMEM;
    for (int i = 0; i < some && e->err == ERR_OK; i++)
        evaluate_reading(e, doubt, values[some == count ? i : i * (count - 1) / (some - 1)]);
    free(values);
}

static void evaluate_doubt(struct evaluation *e, struct doubt *doubt) {
    switch (doubt->kind) {
    case DOUBT_DIFFER:
        evaluate_others(e, doubt);
        break;
    case DOUBT_OUT:
        evaluate_not_out(e, doubt);
        break;
    case DOUBT_MISSING:
        if (!doubt->ruled)
            evaluate_waived(e, doubt);
        break;
    case DOUBT_ORDER:
    case DOUBT_FAST:
    case DOUBT_FLAG:
    case DOUBT_UNKNOWN_FAULT:
    case DOUBT_TWICE:
        evaluate_reading(e, doubt, NULL);
        break;
    case DOUBT_UNKNOWN_CAR:
    case DOUBT_NO_CAR:
        break;
    }
}

static int by_effect(const void *a, const void *b) {
    const struct doubt *x = a;
    const struct doubt *y = b;
    if (x->places != y->places)
        return y->places - x->places;
    return doubts_compare(x, y);
}

int doubts_evaluate(struct doubts *d) {
    struct evaluation e = {.scores = d->scores, .event = d->scores->event};
    int kept = 0;
    for (int i = 0; i < d->count; i++) {
        if (!d->list[i].acknowledged || doubt_is_open(&d->list[i]))
            d->list[kept++] = d->list[i];
    }
    d->count = kept;
    d->evaluated = kept < DOUBTS_EVALUATED ? kept : DOUBTS_EVALUATED;
    /* At least two, the first and the last value; few, since a changed best time scores all cars.
     */
    int share = d->evaluated == 0 ? 0 : DOUBTS_SCORINGS / d->evaluated;
    e.values = share < 2 ? 2 : share < DOUBT_VALUES_MAX ? share : DOUBT_VALUES_MAX;
    e.err = scorer_init(&e.scorer, e.event);
    for (int i = 0; e.err == ERR_OK && i < d->evaluated; i++)
        evaluate_doubt(&e, &d->list[i]);
    scorer_clear(&e.scorer);
    d->scorings = e.scorings;
    if (d->evaluated > 1)
        qsort(d->list, (size_t)d->evaluated, sizeof *d->list, by_effect);
    return e.err;
}
