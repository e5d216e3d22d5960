/* SPDX-License-Identifier: MIT */
#include "scoring/standings.h"

#include <stdlib.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/car_choice.h"
#include "event/car_route.h"
#include "event/penalty.h"
#include "scoring/ranking.h"
#include "scoring/totals.h"

/* A group that is to be filled: which cars are in it, and how they are compared. */
struct group_plan {
    struct standings *standings;
    struct ranking ranking;
    int index;
    const struct car_choice *among; /* NULL: all cars */
};

bool standings_is_among(const struct scores *scores, const struct car_choice *among, int car) {
    return among == NULL || (car_choice_fits(among, &scores->event->entries->list[car]) &&
                             (among->key != CARS_BY_CLASS || scores_in_classes(scores, car)));
}

static bool belongs(const struct group_plan *s, int car) {
    const struct entry *entry = &s->standings->scores->event->entries->list[car];
    if (!standings_is_among(s->standings->scores, s->among, car))
        return false;
    switch (s->standings->by) {
    case BY_CLASS:
        return entry->class_index == s->index && scores_in_classes(s->standings->scores, car);
    case BY_CATEGORY:
        return entry->category == s->index;
    case BY_GROUP:
        return (entry->groups >> s->index & 1) != 0;
    case BY_TEST:
        return car_item(s->standings->scores->event, car, s->index) != NULL;
    default:
        return true;
    }
}

static int awaited_in(const struct group_plan *s, int car) {
    const struct scores *scores = s->standings->scores;
    const struct car_score *score = &scores->cars[car];
    if (s->standings->by == BY_TEST)
        return score->item_awaited[s->index];
    if (scores->view->request.after < 0)
        return 0;
    if (s->standings->by != BY_DAY)
        return score->awaited;
    int sum = 0;
    for (int i = 0; i < scores->event->rules->item_count; i++) {
        if (scores->event->rules->items[i].day == s->index)
            sum += score->item_awaited[i];
    }
    return sum;
}

static bool can_be_placed(const struct group_plan *s, int car) {
    const struct scores *scores = s->standings->scores;
    if (!status_is_placed(scores->cars[car].status))
        return false;
    if (s->standings->by == BY_OVERALL)
        return scores_in_overall(scores, car);
    return s->standings->by != BY_TEST ||
           (scores->cars[car].item_flags[s->index] & ITEM_ALL_ABSENT) == 0;
}

static struct standing row_of(const struct group_plan *s, int car) {
    return (struct standing){.car = car,
                             .fails = ranking_fails(&s->ranking, car),
                             .penalty = ranking_penalty(&s->ranking, car)};
}

struct gap standings_gap(const struct standing *row, const struct standing *other) {
    return (struct gap){row->fails - other->fails, row->penalty - other->penalty};
}

static int fill_group(struct group_plan *s, struct standings_group *group) {
    const struct scores *scores = s->standings->scores;
    struct arena *arena = s->standings->arena;
    size_t cars = (size_t)scores->event->entries->count;
    struct ranked *list = arena_array(arena, cars, sizeof *list);
    /* One block serves all three lists: a car stands in one of them. */
    struct standing *rows = arena_array(arena, cars, sizeof *rows);
    if (list == NULL || rows == NULL)
        return ERR_NOMEM;
    int count = 0;
    int members = 0;
    for (int car = 0; car < (int)cars; car++) {
        if (!belongs(s, car))
            continue;
        members++;
        if (can_be_placed(s, car) && awaited_in(s, car) == 0)
            list[count++].car = car;
    }
    *group = (struct standings_group){.index = s->index, .placed = rows, .placed_count = count};
    if (members == 0)
        return ERR_OK;
    ranking_sort(&s->ranking, list, count);
    for (int i = 0; i < count; i++) {
        rows[i] = row_of(s, list[i].car);
        rows[i].position = list[i].position;
        rows[i].equal = list[i].equal;
        rows[i].behind_leader = standings_gap(&rows[i], &rows[0]);
        rows[i].behind_next = standings_gap(&rows[i], &rows[i > 0 ? i - 1 : 0]);
    }
    group->unplaced = rows + count;
    for (int car = 0; car < (int)cars; car++) {
        if (belongs(s, car) && !can_be_placed(s, car))
            group->unplaced[group->unplaced_count++] = row_of(s, car);
    }
    group->pending = group->unplaced + group->unplaced_count;
    for (int car = 0; car < (int)cars; car++) {
        if (belongs(s, car) && can_be_placed(s, car) && awaited_in(s, car) > 0)
            group->pending[group->pending_count++] = row_of(s, car);
    }
    return ERR_OK;
}

bool standings_known(const struct standings *st, const struct standings_group *group, int car) {
    if (st->by == BY_DAY)
        return !totals_day_to_come(st->scores, car, group->index);
    return st->by != BY_TEST ||
           (st->scores->cars[car].item_flags[group->index] & (ITEM_TO_COME | ITEM_ALL_ABSENT)) == 0;
}

static int possible_groups(const struct standings *st) {
    const struct rules *rules = st->scores->event->rules;
    switch (st->by) {
    case BY_CLASS:
        return rules_class_count(rules);
    case BY_CATEGORY:
        return rules->category_count;
    case BY_GROUP:
        return rules->group_count;
    case BY_DAY:
        return st->scores->view->last_day + 1;
    case BY_TEST:
        return rules->item_count;
    default:
        return 1;
    }
}

static int make_groups(struct standings *st, const struct car_choice *among) {
    const struct scores *scores = st->scores;
    int possible = possible_groups(st);
    st->groups = arena_array(st->arena, (size_t)possible, sizeof *st->groups);
    if (st->groups == NULL)
        return ERR_NOMEM;
    for (int i = 0; i < possible; i++) {
        if (st->by == BY_TEST &&
            (scores->event->rules->items[i].test < 0 || !scores->view->visible[i]))
            continue;
        struct group_plan plan = {
            .standings = st,
            .ranking = {.scores = scores,
                        .by = RANKED_BY_TOTAL,
                        .basis = st->by == BY_CLASS ? scores_class_basis(scores) : BASIS_CORRECTED,
                        .index = i},
            .index = i,
            .among = among};
        if (st->by == BY_DAY)
            plan.ranking.by = RANKED_BY_DAY;
        if (st->by == BY_TEST)
            plan.ranking.by = RANKED_BY_ITEM;
        struct standings_group *group = &st->groups[st->group_count];
        int err = fill_group(&plan, group);
        if (err != ERR_OK)
            return err;
        if (st->by == BY_OVERALL ||
            group->placed_count + group->unplaced_count + group->pending_count > 0)
            st->group_count++;
    }
    return ERR_OK;
}

/* Teams by fails, penalty, then the place of their best car. */
static int compare_teams(const void *a, const void *b, void *scores) {
    const struct team_standing *x = a;
    const struct team_standing *y = b;
    const struct car_score *cars = ((const struct scores *)scores)->cars;
    if (x->fails != y->fails)
        return x->fails < y->fails ? -1 : 1;
    if (x->penalty != y->penalty)
        return x->penalty < y->penalty ? -1 : 1;
    return cars[x->cars[0]].position - cars[y->cars[0]].position;
}

static int compare_teams_fully(const void *a, const void *b, void *scores) {
    int found = compare_teams(a, b, scores);
    return found != 0
               ? found
               : ((const struct team_standing *)a)->team - ((const struct team_standing *)b)->team;
}

static int make_teams(struct standings *st, const struct car_choice *among) {
    const struct scores *scores = st->scores;
    const struct entries *entries = scores->event->entries;
    int best = scores->event->rules->scoring.team_count;
    int teams = entries->team_count;
    struct team_standing *all = arena_array(st->arena, (size_t)teams, sizeof *all);
    st->teams = arena_array(st->arena, (size_t)teams, sizeof *st->teams);
    if (all == NULL || st->teams == NULL)
        return ERR_NOMEM;
    for (int t = 0; t < teams; t++) {
        all[t].team = t;
        all[t].cars = arena_array(st->arena, (size_t)best, sizeof *all[t].cars);
        if (all[t].cars == NULL)
            return ERR_NOMEM;
    }
    for (int i = 0; i < scores->placed; i++) {
        int car = scores->order[i];
        int team = entries->list[car].team_index;
        if (team < 0 || all[team].car_count == best || !standings_is_among(scores, among, car))
            continue;
        all[team].cars[all[team].car_count++] = car;
        all[team].fails =
            fails_add(all[team].fails, scores->cars[car].tally[BASIS_CORRECTED].fails);
        all[team].penalty =
            decimal_add(all[team].penalty, scores->cars[car].tally[BASIS_CORRECTED].total);
    }
    for (int t = 0; t < teams; t++) {
        if (all[t].car_count == best)
            st->teams[st->teams_placed++] = all[t];
    }
    qsort_r(st->teams, (size_t)st->teams_placed, sizeof *st->teams, compare_teams_fully,
            (void *)scores);
    for (int i = 0; i < st->teams_placed; i++) {
        bool tied = i > 0 && compare_teams(&st->teams[i - 1], &st->teams[i], (void *)scores) == 0;
        st->teams[i].position = tied ? st->teams[i - 1].position : i + 1;
        st->teams[i].equal = tied;
        if (tied)
            st->teams[i - 1].equal = true;
    }
    st->team_count = st->teams_placed;
    for (int t = 0; t < teams; t++) {
        if (all[t].car_count < best)
            st->teams[st->team_count++] = all[t];
    }
    return ERR_OK;
}

int standings_new(const struct scores *scores, enum standings_by by, struct standings **out) {
    return standings_among(scores, by, NULL, out);
}

int standings_among(const struct scores *scores, enum standings_by by,
                    const struct car_choice *among, struct standings **out) {
    const struct rules *rules = scores->event->rules;
    *out = NULL;
    if ((by == BY_CATEGORY && rules->category_count == 0) ||
        (by == BY_GROUP && rules->group_count == 0) ||
        (by == BY_TEAM && rules->scoring.team_count == 0))
        return ERR_UNKNOWN;
    struct standings *st = calloc(1, sizeof *st);
    if (st == NULL || (st->arena = arena_new()) == NULL) {
        free(st);
        return ERR_NOMEM;
    }
    st->scores = scores;
    st->by = by;
    st->with_pending = by == BY_TEST || (scores->view->request.after >= 0 && by != BY_TEAM);
    int err = by == BY_TEAM ? make_teams(st, among) : make_groups(st, among);
    if (err == ERR_OK)
        *out = st;
    else
        standings_free(st);
    return err;
}

void standings_free(struct standings *st) {
    if (st == NULL)
        return;
    arena_free(st->arena);
    free(st);
}
