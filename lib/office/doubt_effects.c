/* SPDX-License-Identifier: MIT */
/* What would change if a doubt were decided the other way. */
#include "office/doubts.h"

#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/err.h"

struct weighing {
    const struct scores *scores;
    const struct event *event;
    struct scorer scorer;
    int values; /* how many of a doubt are tried */
    int tried;
    int err;
};

/* Scores the car of a doubt in another event than its own, and keeps the effect where it moves more
 * than the one that is kept. */
static void weigh(struct weighing *w, struct doubt *doubt, const struct event *other) {
    const struct scores *scores = w->scores;
    struct scores *after = NULL;
    struct effect effect = {0};
    w->tried++;
    int err = scores_copy(scores, other, scores->view, &after);
    if (err == ERR_OK) {
        scores_update(after, &w->scorer, &doubt->car, 1);
        scores_rank(after, &w->scorer);
        err = effect_make(scores, after, &effect);
    }
    scores_free(after);
    if (err != ERR_OK)
        w->err = err;
    effect.event = w->event;
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

static void weigh_reading(struct weighing *w, struct doubt *doubt, const struct reading *reading) {
    struct substitute substitute = {doubt->car, doubt->point, reading};
    struct event other = *w->event;
    other.substitute = &substitute;
    weigh(w, doubt, &other);
}

/* The event were the car's rulings others. */
static void weigh_rulings(struct weighing *w, struct doubt *doubt, const struct car_rulings *own) {
    size_t cars = (size_t)w->event->entries->count;
    struct rulings rulings = *w->event->rulings;
    struct event other = *w->event;
    struct car_rulings *all = malloc(cars * sizeof *all);
    if (all == NULL) {
        w->err = ERR_NOMEM;
        return;
    }
    memcpy(all, rulings.cars, cars * sizeof *all);
    all[doubt->car] = *own;
    rulings.cars = all;
    other.rulings = &rulings;
    weigh(w, doubt, &other);
    free(all);
}

static void weigh_not_out(struct weighing *w, struct doubt *doubt) {
    struct car_rulings own = w->event->rulings->cars[doubt->car];
    own.retirement_count = 0;
    weigh_rulings(w, doubt, &own);
}

static void weigh_waived(struct weighing *w, struct doubt *doubt) {
    struct car_rulings own = w->event->rulings->cars[doubt->car];
    struct decision waive = {.id = "",
                             .kind = DECIDE_WAIVE,
                             .car = doubt->car,
                             .target = TARGET_POINT,
                             .place = doubt->point};
    const struct decision **list = malloc(((size_t)own.count + 1) * sizeof *list);
    if (list == NULL) {
        w->err = ERR_NOMEM;
        return;
    }
    if (own.count > 0)
        memcpy(list, own.list, (size_t)own.count * sizeof *list);
    list[own.count++] = &waive;
    own.list = list;
    weigh_rulings(w, doubt, &own);
    free(list);
}

/* By what they say; the same value in other words may come twice. */
static int by_value(const void *a, const void *b) {
    const struct reading *x = *(const struct reading *const *)a;
    const struct reading *y = *(const struct reading *const *)b;
    if (x->time != y->time)
        return x->time < y->time ? -1 : 1;
    if (x->elapsed != y->elapsed)
        return x->elapsed < y->elapsed ? -1 : 1;
    return strcmp(x->text.field[READING_FAULTS], y->text.field[READING_FAULTS]);
}

/* The other values that stand beside the one that counts, each once, in their order. */
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

/* Of very many values some are weighed, from the first to the last: one of the ends moves most. */
static void weigh_others(struct weighing *w, struct doubt *doubt) {
    const struct reading **values = NULL;
    int count = other_values(w->event, doubt, &values);
    int some = count < w->values ? count : w->values;
    if (count < 0)
        w->err = ERR_NOMEM;
    for (int i = 0; i < some && w->err == ERR_OK; i++)
        weigh_reading(w, doubt, values[some == count ? i : i * (count - 1) / (some - 1)]);
    free(values);
}

static void weigh_doubt(struct weighing *w, struct doubt *doubt) {
    switch (doubt->kind) {
    case DOUBT_DIFFER:
        weigh_others(w, doubt);
        break;
    case DOUBT_OUT:
        weigh_not_out(w, doubt);
        break;
    case DOUBT_MISSING:
        if (!doubt->ruled)
            weigh_waived(w, doubt);
        break;
    case DOUBT_ORDER:
    case DOUBT_FAST:
    case DOUBT_FLAG:
        weigh_reading(w, doubt, NULL);
        break;
    }
}

static int by_weight(const void *a, const void *b) {
    const struct doubt *x = a;
    const struct doubt *y = b;
    if (x->places != y->places)
        return y->places - x->places;
    if (x->kind != y->kind)
        return (int)x->kind - (int)y->kind;
    return x->point != y->point ? x->point - y->point : x->car - y->car;
}

int doubts_weigh(struct doubts *d) {
    struct weighing w = {.scores = d->scores, .event = d->scores->event};
    int kept = 0;
    for (int i = 0; i < d->count; i++) {
        if (!d->list[i].acknowledged || doubt_is_open(&d->list[i]))
            d->list[kept++] = d->list[i];
    }
    d->count = kept;
    d->weighed = kept < DOUBTS_WEIGHED ? kept : DOUBTS_WEIGHED;
    /* Two at least, the first and the last: a trial of a best time scores all cars anew. */
    int share = d->weighed == 0 ? 0 : DOUBTS_TRIALS / d->weighed;
    w.values = share < 2 ? 2 : share < DOUBT_VALUES_WEIGHED ? share : DOUBT_VALUES_WEIGHED;
    w.err = scorer_init(&w.scorer, w.event);
    for (int i = 0; w.err == ERR_OK && i < d->weighed; i++)
        weigh_doubt(&w, &d->list[i]);
    scorer_clear(&w.scorer);
    d->tried = w.tried;
    if (d->weighed > 1)
        qsort(d->list, (size_t)d->weighed, sizeof *d->list, by_weight);
    return w.err;
}
