/* SPDX-License-Identifier: MIT */
#include "scoring/scoring.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "scoring/drop.h"
#include "scoring/ranking.h"
#include "scoring/totals.h"

const char *status_word(enum car_status status) {
    static const char *const words[] = {"finished",       "running",      "entered",    "retired",
                                        "not-classified", "disqualified", "not-started"};
    return words[status];
}

bool status_is_placed(enum car_status status) {
    return status == STATUS_FINISHED || status == STATUS_RUNNING;
}

bool scores_in_overall(const struct scores *s, int car) {
    const struct entry *entry = &s->event->entries->list[car];
    return s->event->rules->periods[entry->period].overall &&
           (entry->category < 0 || s->event->rules->categories[entry->category].overall);
}

bool scores_in_classes(const struct scores *s, int car) {
    int category = s->event->entries->list[car].category;
    return category < 0 || s->event->rules->categories[category].classes;
}

enum basis scores_class_basis(const struct scores *s) {
    const struct scoring *scoring = &s->event->rules->scoring;
    return scoring->has_coefficient && scoring->coefficient_overall_only ? BASIS_PLAIN
                                                                         : BASIS_CORRECTED;
}

int scorer_init(struct scorer *scorer, const struct event *event) {
    size_t cars = (size_t)event->entries->count + 1;
    *scorer =
        (struct scorer){.ranked = calloc(cars, sizeof *scorer->ranked),
                        .bests = calloc(bests_cells(event->rules) + 1, sizeof *scorer->bests)};
    int err = score_sheet_init(&scorer->sheet, event);
    return scorer->ranked == NULL || scorer->bests == NULL ? ERR_NOMEM : err;
}

void scorer_clear(struct scorer *scorer) {
    score_sheet_clear(&scorer->sheet);
    free(scorer->ranked);
    free(scorer->bests);
    *scorer = (struct scorer){0};
}

/* The arrays of all cars, in one block for each type of member: a copy then takes three memcpy. */
struct car_arrays {
    int64_t *penalties; /* of each car: see penalties_of */
    int *counts;        /* of each car: items, items, then days, days */
    unsigned char *flags;
};

/* Days that are held to a cap; copies are small where there is none. */
static size_t capped_days(const struct rules *rules) {
    return rules->scoring.day_cap == CAP_NONE ? 0 : (size_t)rules->day_count;
}

/* Items, items, days, days, days, capped days, ties by time, scored points that are counted back.
 */
static size_t penalties_of(const struct event *event) {
    const struct rules *rules = event->rules;
    return 2 * (size_t)rules->item_count + 3 * (size_t)rules->day_count + capped_days(rules) +
           (size_t)rules->scoring.tie_time_count +
           (rules->scoring.counts_back ? (size_t)rules->scored_count : 0);
}

static size_t counts_of(const struct event *event) {
    return 2 * (size_t)event->rules->item_count + 2 * (size_t)event->rules->day_count;
}

/* Points the arrays of the car at `place` into those of all cars. */
static void point_arrays(struct scores *s, const struct car_arrays *all, size_t place) {
    struct car_score *c = &s->cars[place];
    size_t items = (size_t)s->event->rules->item_count;
    size_t days = (size_t)s->event->rules->day_count;
    c->item_penalty = all->penalties + place * penalties_of(s->event);
    c->item_value = c->item_penalty + items;
    c->day_penalty = c->item_value + items;
    c->day_absent = c->day_penalty + days;
    c->day_charged = c->day_absent + days;
    c->day_over = c->day_charged + days;
    c->tie_times = c->day_over + capped_days(s->event->rules);
    c->whole_costs = c->tie_times + s->event->rules->scoring.tie_time_count;
    c->item_fails = all->counts + place * counts_of(s->event);
    c->item_awaited = c->item_fails + items;
    c->day_fails = c->item_awaited + items;
    c->day_absent_fails = c->day_fails + days;
    c->item_flags = all->flags + place * items;
}

/* The arrays of all cars; those of the first car begin them. */
static struct car_arrays arrays_from(const struct car_score *first) {
    return (struct car_arrays){first->item_penalty, first->item_fails, first->item_flags};
}

static bool allocate_arrays(struct scores *s) {
    const struct event *event = s->event;
    size_t items = (size_t)event->rules->item_count;
    size_t days = (size_t)event->rules->day_count;
    size_t cars = (size_t)event->entries->count;
    s->cars = arena_array(s->arena, cars, sizeof *s->cars);
    s->order = arena_array(s->arena, cars, sizeof *s->order);
    s->drops = arena_array(s->arena, days, sizeof *s->drops);
    struct car_arrays all = {
        arena_array(s->arena, cars * penalties_of(event), sizeof *all.penalties),
        arena_array(s->arena, cars * counts_of(event), sizeof *all.counts),
        arena_array(s->arena, cars * items, sizeof *all.flags),
    };
    if (bests_init(&s->bests, event->rules, s->arena) != ERR_OK || s->cars == NULL ||
        s->order == NULL || s->drops == NULL || all.penalties == NULL || all.counts == NULL ||
        all.flags == NULL)
        return false;
    for (size_t i = 0; i < cars; i++)
        point_arrays(s, &all, i);
    return true;
}

/* Scores with memory for everything and nothing worked out. NULL when memory is out. */
static struct scores *scores_allocate(const struct event *event, const struct view *view) {
    struct scores *s = calloc(1, sizeof *s);
    if (s == NULL)
        return NULL;
    s->event = event;
    s->view = view;
    s->arena = arena_new();
    if (s->arena == NULL || !allocate_arrays(s)) {
        scores_free(s);
        return NULL;
    }
    return s;
}

int scores_new(const struct event *event, const struct view *view, struct scores **out) {
    struct scorer scorer;
    int err = scorer_init(&scorer, event);
    *out = err == ERR_OK ? scores_allocate(event, view) : NULL;
    if (*out != NULL) {
        drop_find_days(*out);
        scores_update_all(*out, &scorer);
        scores_rank(*out, &scorer);
    }
    scorer_clear(&scorer);
    return *out == NULL ? ERR_NOMEM : ERR_OK;
}

int scores_copy(const struct scores *old, const struct event *event, const struct view *view,
                struct scores **out) {
    struct scores *s = scores_allocate(event, view);
    size_t cars = (size_t)event->entries->count;
    *out = s;
    if (s == NULL)
        return ERR_NOMEM;
    memcpy(s->drops, old->drops, (size_t)event->rules->day_count * sizeof *s->drops);
    s->placed = old->placed;
    bests_copy(&s->bests, &old->bests, event->rules);
    memcpy(s->order, old->order, cars * sizeof *s->order);
    if (cars == 0)
        return ERR_OK;
    const struct car_arrays all = arrays_from(&s->cars[0]);
    const struct car_arrays from = arrays_from(&old->cars[0]);
    memcpy(all.penalties, from.penalties, cars * penalties_of(event) * sizeof *all.penalties);
    memcpy(all.counts, from.counts, cars * counts_of(event) * sizeof *all.counts);
    memcpy(all.flags, from.flags, cars * (size_t)event->rules->item_count);
    for (size_t i = 0; i < cars; i++) {
        s->cars[i] = old->cars[i];
        point_arrays(s, &all, i);
    }
    return ERR_OK;
}

void scores_free(struct scores *s) {
    if (s == NULL)
        return;
    arena_free(s->arena);
    free(s);
}

int scores_sheet(const struct scores *s, int car, struct score_sheet *sheet) {
    int err = score_sheet_init(sheet, s->event);
    if (err != ERR_OK)
        return err;
    score_sheet_use(sheet, s->event, s->view, &s->bests);
    score_sheet_score(sheet, car);
    totals_complete_sheet(s, sheet);
    return ERR_OK;
}

static void score_car(struct scores *s, struct score_sheet *sheet, int car) {
    score_sheet_score(sheet, car);
    totals_sum(s, sheet, &s->cars[car]);
}

void scores_update(struct scores *s, struct scorer *scorer, const int *cars, int count) {
    if (bests_stand(&s->bests, s->event, s->view, &scorer->sheet, cars, count, scorer->bests)) {
        score_sheet_use(&scorer->sheet, s->event, s->view, &s->bests);
    } else if (bests_find(&s->bests, s->event, s->view, &scorer->sheet, scorer->bests)) {
        for (int car = 0; car < s->event->entries->count; car++)
            score_car(s, &scorer->sheet, car);
        return;
    }
    for (int i = 0; i < count; i++)
        score_car(s, &scorer->sheet, cars[i]);
}

void scores_update_all(struct scores *s, struct scorer *scorer) {
    (void)bests_find(&s->bests, s->event, s->view, &scorer->sheet, scorer->bests);
    for (int car = 0; car < s->event->entries->count; car++)
        score_car(s, &scorer->sheet, car);
}

/* With --after, a car still awaited somewhere is not compared with those that are through. */
static bool can_be_placed(const struct scores *s, int car) {
    return status_is_placed(s->cars[car].status) &&
           (s->view->request.after < 0 || s->cars[car].awaited == 0);
}

void scores_rank(struct scores *s, struct scorer *scorer) {
    int cars = s->event->entries->count;
    struct ranking ranking = {s, RANKED_BY_TOTAL, BASIS_CORRECTED, 0};
    struct ranked *list = scorer->ranked;
    int count = 0;
    for (int i = 0; i < cars; i++) {
        s->cars[i].position = s->cars[i].class_position = 0;
        s->cars[i].equal = false;
        if (can_be_placed(s, i) && scores_in_overall(s, i))
            list[count++].car = i;
    }
    ranking_sort(&ranking, list, count);
    for (int i = 0; i < count; i++) {
        s->order[i] = list[i].car;
        s->cars[list[i].car].position = list[i].position;
        s->cars[list[i].car].equal = list[i].equal;
    }
    s->placed = count;
    for (int i = 0; i < cars; i++) {
        if (s->cars[i].position == 0)
            s->order[count++] = i;
    }
    ranking.basis = scores_class_basis(s);
    for (int class_index = 0; class_index < rules_class_count(s->event->rules); class_index++) {
        count = 0;
        for (int i = 0; i < cars; i++) {
            if (s->event->entries->list[i].class_index == class_index && scores_in_classes(s, i) &&
                can_be_placed(s, i))
                list[count++].car = i;
        }
        ranking_sort(&ranking, list, count);
        for (int i = 0; i < count; i++)
            s->cars[list[i].car].class_position = list[i].position;
    }
}
