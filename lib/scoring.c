/* SPDX-License-Identifier: MIT */
#include "scoring.h"

#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "err.h"
#include "ranking.h"

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

enum basis scores_class_basis(const struct scores *s) {
    const struct scoring *scoring = &s->event->rules->scoring;
    return scoring->has_coefficient && scoring->coefficient_overall_only ? BASIS_PLAIN
                                                                        : BASIS_CORRECTED;
}

/* Best held elapsed of each behind-best test, overall and in each class. */
static void find_bests(struct scores *s) {
    const struct rules *rules = s->event->rules;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        int64_t *best = s->bests.of + (size_t)i * (size_t)s->bests.stride;
        if (item->kind != KIND_SPECIAL_TEST || item->method != METHOD_BEHIND_BEST)
            continue;
        for (int c = 0; c < s->bests.stride; c++)
            best[c] = TIME_NONE;
        if (!s->view->visible[i])
            continue;
        for (int car = 0; car < s->event->entries->count; car++) {
            if (s->event->rulings->cars[car].disqualified != NULL)
                continue;
            bool ignored;
            struct working w = {.lack = LACK_NOTHING};
            if (!special_test_held(&s->sheet, item,
                                   sheet_read(&s->sheet, car, item->first_point, &ignored),
                                   sheet_read(&s->sheet, car, item->first_point + 1, &ignored),
                                   &w))
                continue;
            int place = 1 + s->event->entries->list[car].class_index;
            if (best[0] == TIME_NONE || w.actual < best[0])
                best[0] = w.actual;
            if (best[place] == TIME_NONE || w.actual < best[place])
                best[place] = w.actual;
        }
    }
}

static bool drop_is_due(const struct scores *s) {
    const struct rules *rules = s->event->rules;
    if (rules->scoring.drop_count == 0 || rules->scoring.drop_always)
        return rules->scoring.drop_count > 0;
    for (int i = 0; i < rules->scored_count; i++) {
        const struct item *item = &rules->items[rules->scored[i].item];
        if (item->test >= 0 && (rules->scoring.drop_kinds >> item->kind & 1u) != 0 &&
            s->view->visible[rules->scored[i].item] && s->view->open[rules->scored[i].point])
            return false;
    }
    return true;
}

static bool make_room(struct scores *s) {
    size_t items = (size_t)s->event->rules->item_count;
    size_t days = (size_t)s->event->rules->day_count;
    size_t cars = (size_t)s->event->entries->count;
    s->bests.stride = 1 + rules_class_count(s->event->rules);
    s->bests.of = arena_array(s->arena, items * (size_t)s->bests.stride, sizeof *s->bests.of);
    s->bests_before =
        arena_array(s->arena, items * (size_t)s->bests.stride, sizeof *s->bests.of);
    s->cars = arena_array(s->arena, cars, sizeof *s->cars);
    s->order = arena_array(s->arena, cars, sizeof *s->order);
    if (s->bests.of == NULL || s->bests_before == NULL || s->cars == NULL || s->order == NULL)
        return false;
    for (size_t i = 0; i < cars; i++) {
        struct car_score *c = &s->cars[i];
        c->item_penalty = arena_array(s->arena, items, sizeof *c->item_penalty);
        c->item_fails = arena_array(s->arena, items, sizeof *c->item_fails);
        c->item_awaited = arena_array(s->arena, items, sizeof *c->item_awaited);
        c->item_flags = arena_array(s->arena, items, sizeof *c->item_flags);
        c->day_penalty = arena_array(s->arena, days, sizeof *c->day_penalty);
        c->day_fails = arena_array(s->arena, days, sizeof *c->day_fails);
        c->day_absent = arena_array(s->arena, days, sizeof *c->day_absent);
        if (c->item_penalty == NULL || c->item_fails == NULL || c->item_awaited == NULL ||
            c->item_flags == NULL || c->day_penalty == NULL || c->day_fails == NULL ||
            c->day_absent == NULL)
            return false;
    }
    return true;
}

int scores_new(const struct event *event, const struct view *view, struct scores **out) {
    struct scores *s = calloc(1, sizeof *s);
    int err = ERR_NOMEM;
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->event = event;
    s->view = view;
    s->arena = arena_new();
    if (s->arena == NULL || !make_room(s) ||
        sheet_init(&s->sheet, event, view, &s->bests) != ERR_OK)
        goto done;
    s->drops_now = drop_is_due(s);
    scores_update_all(s);
    err = scores_rank(s);
done:
    if (err == ERR_OK)
        *out = s;
    else
        scores_free(s);
    return err;
}

void scores_free(struct scores *s) {
    if (s == NULL)
        return;
    sheet_clear(&s->sheet);
    arena_free(s->arena);
    free(s);
}

const struct sheet *scores_sheet(struct scores *s, int car) {
    sheet_score(&s->sheet, car);
    totals_sum(s, &s->sheet, &s->cars[car]);
    return &s->sheet;
}

bool scores_update(struct scores *s, int car) {
    size_t cells = (size_t)s->event->rules->item_count * (size_t)s->bests.stride;
    memcpy(s->bests_before, s->bests.of, cells * sizeof *s->bests.of);
    find_bests(s);
    (void)scores_sheet(s, car);
    return memcmp(s->bests_before, s->bests.of, cells * sizeof *s->bests.of) != 0;
}

void scores_update_all(struct scores *s) {
    find_bests(s);
    for (int car = 0; car < s->event->entries->count; car++)
        (void)scores_sheet(s, car);
}

/* Ranks the cars that `takes` lets in and hands each its position. */
static void rank_some(struct scores *s, const struct ranking *ranking, int *cars, int count,
                      int *positions, bool *equal, bool overall) {
    ranking_sort(ranking, cars, count, positions, equal);
    for (int i = 0; i < count; i++) {
        struct car_score *c = &s->cars[cars[i]];
        if (overall) {
            c->position = positions[i];
            c->equal = equal[i];
        } else {
            c->class_position = positions[i];
        }
    }
}

/* With --after, a car still awaited somewhere is not compared with those that are through. */
static bool can_be_placed(const struct scores *s, int car) {
    return status_is_placed(s->cars[car].status) &&
           (s->view->request.after < 0 || s->cars[car].awaited == 0);
}

int scores_rank(struct scores *s) {
    int cars = s->event->entries->count;
    int *list = calloc((size_t)cars, sizeof *list);
    int *positions = calloc((size_t)cars, sizeof *positions);
    bool *equal = calloc((size_t)cars, sizeof *equal);
    int err = ERR_NOMEM;
    if (list == NULL || positions == NULL || equal == NULL)
        goto done;
    struct ranking ranking = {s, RANKED_BY_TOTAL, BASIS_CORRECTED, 0};
    int count = 0;
    for (int i = 0; i < cars; i++) {
        s->cars[i].position = s->cars[i].class_position = 0;
        s->cars[i].equal = false;
        if (can_be_placed(s, i) && scores_in_overall(s, i))
            s->order[count++] = i;
    }
    rank_some(s, &ranking, s->order, count, positions, equal, true);
    s->placed = count;
    for (int i = 0; i < cars; i++) {
        if (s->cars[i].position == 0)
            s->order[count++] = i;
    }
    ranking.basis = scores_class_basis(s);
    for (int class_index = 0; class_index < rules_class_count(s->event->rules); class_index++) {
        count = 0;
        for (int i = 0; i < cars; i++) {
            if (s->event->entries->list[i].class_index == class_index && can_be_placed(s, i))
                list[count++] = i;
        }
        rank_some(s, &ranking, list, count, positions, equal, false);
    }
    err = ERR_OK;
done:
    free(list);
    free(positions);
    free(equal);
    return err;
}
