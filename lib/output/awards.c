/* SPDX-License-Identifier: MIT */
#include "output/awards.h"

#include <stdlib.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "scoring/ranking.h"

/* What is needed while the list is made, the first prize first. */
struct award_maker {
    struct awards *awards;
    bool *car_took; /* by car */
    bool *team_took;
    struct ranked *ranked; /* memory for the cars of one prize */
    size_t cap;
    int err;
};

static struct award_call *add_call(struct award_maker *m, const struct award *award, int of) {
    struct awards *a = m->awards;
    struct award_call *calls =
        array_reserve(a->calls, &m->cap, (size_t)a->count + 1, sizeof *a->calls);
    if (calls == NULL) {
        m->err = ERR_NOMEM;
        return NULL;
    }
    a->calls = calls;
    calls[a->count] = (struct award_call){.award = award, .of = of, .car = -1};
    return &calls[a->count++];
}

/* The standings of that grouping, made when they are first needed. NULL with m->err. */
static const struct standings *by(struct award_maker *m, enum standings_by by) {
    struct standings **st = &m->awards->standings[by];
    if (*st == NULL && m->err == ERR_OK)
        m->err = standings_new(m->awards->scores, by, st);
    return *st;
}

static const struct standings_group *group_of(const struct standings *st, int index) {
    for (int i = 0; i < st->group_count; i++) {
        if (st->groups[i].index == index)
            return &st->groups[i];
    }
    return NULL;
}

/* Notes who took the prize, in the calls from `from` on; where there are none, adds that nobody
 * did. */
static void close_prize(struct award_maker *m, const struct award *award, int of, int from) {
    if (m->awards->count == from)
        (void)add_call(m, award, of);
    for (int i = from; i < m->awards->count; i++) {
        const struct award_call *c = &m->awards->calls[i];
        if (c->car >= 0)
            m->car_took[c->car] = true;
        if (c->team != NULL)
            m->team_took[c->team->team] = true;
    }
}

/* The places of one prize while they are given: counted among those that are not passed over, so
 * that those behind move up; equal ones stay equal. */
struct places {
    const struct award *award;
    int of;
    int first;    /* its first call */
    int given;    /* how many so far */
    int place;    /* of the last one that took a place */
    int position; /* of the same in the standings */
};

/* Gives the next place.
 *   position  in the standings
 * Returns: the call, for the caller to name the crew or team; NULL where all places are given, or
 * memory is out. */
static struct award_call *next_place(struct award_maker *m, struct places *p, int position) {
    bool tied = p->given > 0 && position == p->position;
    if (!tied)
        p->place = p->given + 1;
    if (p->place > p->award->places)
        return NULL;
    struct award_call *c = add_call(m, p->award, p->of);
    if (c == NULL)
        return NULL;
    c->place = p->place;
    c->shared = tied;
    if (tied)
        c[-1].shared = true;
    p->position = position;
    p->given++;
    return c;
}

static void give(struct award_maker *m, const struct award *award, int of,
                 const struct standing *placed, int count) {
    struct places places = {.award = award, .of = of, .first = m->awards->count};
    for (int i = 0; i < count; i++) {
        const struct standing *row = &placed[i];
        if (award->once && m->car_took[row->car])
            continue;
        struct award_call *c = next_place(m, &places, row->position);
        if (c == NULL)
            break;
        c->car = row->car;
        c->fails = row->fails;
        c->penalty = row->penalty;
    }
    close_prize(m, award, of, places.first);
}

static void give_teams(struct award_maker *m, const struct award *award) {
    const struct standings *st = by(m, BY_TEAM);
    struct places places = {.award = award, .of = -1, .first = m->awards->count};
    for (int i = 0; st != NULL && i < st->teams_placed; i++) {
        const struct team_standing *team = &st->teams[i];
        if (award->once && m->team_took[team->team])
            continue;
        struct award_call *c = next_place(m, &places, team->position);
        if (c == NULL)
            break;
        c->team = team;
        c->fails = team->fails;
        c->penalty = team->penalty;
    }
    close_prize(m, award, -1, places.first);
}

/* All classes of a period, ranked as one. */
static void give_period(struct award_maker *m, const struct award *award, int period) {
    const struct scores *scores = m->awards->scores;
    const struct standings *st = by(m, BY_CLASS);
    int capacities = scores->event->rules->capacity_count;
    struct ranking ranking = {scores, RANKED_BY_TOTAL, scores_class_basis(scores), 0};
    int count = 0;
    for (int i = 0; st != NULL && i < st->group_count; i++) {
        const struct standings_group *group = &st->groups[i];
        for (int p = 0; group->index / capacities == period && p < group->placed_count; p++)
            m->ranked[count++].car = group->placed[p].car;
    }
    struct standing *rows = arena_array(m->awards->arena, (size_t)count + 1, sizeof *rows);
    if (rows == NULL) {
        m->err = ERR_NOMEM;
        return;
    }
    ranking_sort(&ranking, m->ranked, count);
    for (int i = 0; i < count; i++)
        rows[i] = (struct standing){.car = m->ranked[i].car,
                                    .position = m->ranked[i].position,
                                    .fails = m->ranked[i].fails,
                                    .penalty = m->ranked[i].penalty};
    give(m, award, period, rows, count);
}

static void give_award(struct award_maker *m, const struct award *award) {
    if (award->by == BY_TEAM) {
        give_teams(m, award);
        return;
    }
    if (award->period) {
        give_period(m, award, award->of);
        return;
    }
    const struct standings *st = by(m, award->by);
    for (int i = 0; m->err == ERR_OK && award->of < 0 && i < st->group_count; i++)
        give(m, award, award->by == BY_OVERALL ? -1 : st->groups[i].index, st->groups[i].placed,
             st->groups[i].placed_count);
    if (m->err != ERR_OK || award->of < 0)
        return;
    const struct standings_group *group = group_of(st, award->of);
    give(m, award, award->of, group == NULL ? NULL : group->placed,
         group == NULL ? 0 : group->placed_count);
}

static void reverse(struct awards *a) {
    for (int i = 0; i < a->count / 2; i++) {
        struct award_call other = a->calls[i];
        a->calls[i] = a->calls[a->count - 1 - i];
        a->calls[a->count - 1 - i] = other;
    }
}

int awards_new(const struct scores *scores, struct awards **out) {
    const struct event *event = scores->event;
    struct awards *a = calloc(1, sizeof *a);
    size_t cars = (size_t)event->entries->count + 1;
    *out = NULL;
    if (a == NULL || (a->arena = arena_new()) == NULL) {
        free(a);
        return ERR_NOMEM;
    }
    a->scores = scores;
    struct award_maker m = {
        .awards = a,
        .car_took = arena_array(a->arena, cars, sizeof(bool)),
        .team_took = arena_array(a->arena, (size_t)event->entries->team_count + 1, sizeof(bool)),
        .ranked = arena_array(a->arena, cars, sizeof(struct ranked))};
    if (m.car_took == NULL || m.team_took == NULL || m.ranked == NULL)
        m.err = ERR_NOMEM;
    for (int i = 0; m.err == ERR_OK && i < event->rules->award_count; i++)
        give_award(&m, &event->rules->awards[i]);
    reverse(a);
    if (m.err == ERR_OK)
        *out = a;
    else
        awards_free(a);
    return m.err;
}

void awards_free(struct awards *a) {
    if (a == NULL)
        return;
    for (int i = 0; i < BY_COUNT; i++)
        standings_free(a->standings[i]);
    free(a->calls);
    arena_free(a->arena);
    free(a);
}
