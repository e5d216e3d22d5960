/* SPDX-License-Identifier: MIT */
#include "output/awards.h"

#include <stdlib.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "scoring/ranking.h"

/* The list while it is being made: first prize first. */
struct giving {
    struct awards *awards;
    bool *car_took; /* by car */
    bool *team_took;
    struct ranked *ranked; /* those that stand in the order of one prize */
    size_t cap;
    int err;
};

static struct award_call *call(struct giving *g, const struct award *award, int of) {
    struct awards *a = g->awards;
    struct award_call *calls =
        array_reserve(a->calls, &g->cap, (size_t)a->count + 1, sizeof *a->calls);
    if (calls == NULL) {
        g->err = ERR_NOMEM;
        return NULL;
    }
    a->calls = calls;
    calls[a->count] = (struct award_call){.award = award, .of = of, .car = -1};
    return &calls[a->count++];
}

static const struct standings *by(struct giving *g, enum standings_by by) {
    struct standings **st = &g->awards->standings[by];
    if (*st == NULL && g->err == ERR_OK)
        g->err = standings_new(g->awards->scores, by, st);
    return *st;
}

static const struct standings_group *group_of(const struct standings *st, int index) {
    for (int i = 0; i < st->group_count; i++) {
        if (st->groups[i].index == index)
            return &st->groups[i];
    }
    return NULL;
}

/* What was taken from the call `from` on; where that is nothing, nobody took the prize. */
static void close_prize(struct giving *g, const struct award *award, int of, int from) {
    if (g->awards->count == from)
        (void)call(g, award, of);
    for (int i = from; i < g->awards->count; i++) {
        const struct award_call *c = &g->awards->calls[i];
        if (c->car >= 0)
            g->car_took[c->car] = true;
        if (c->team != NULL)
            g->team_took[c->team->team] = true;
    }
}

/* Places among those that are not passed over. Where a crew is passed over, those behind it move
 * up; equal crews stay equal. */
static void give(struct giving *g, const struct award *award, int of, const struct standing *placed,
                 int count) {
    int ahead = 0;    /* those that can take it, so far */
    int place = 0;    /* of the crew before */
    int position = 0; /* of the crew before, in the standings */
    int first = g->awards->count;
    for (int i = 0; i < count; i++) {
        const struct standing *row = &placed[i];
        if (award->once && g->car_took[row->car])
            continue;
        bool tied = ahead > 0 && row->position == position;
        if (!tied)
            place = ahead + 1;
        if (place > award->places)
            break;
        struct award_call *c = call(g, award, of);
        if (c == NULL)
            return;
        *c = (struct award_call){.award = award,
                                 .of = of,
                                 .place = place,
                                 .shared = tied,
                                 .car = row->car,
                                 .fails = row->fails,
                                 .penalty = row->penalty};
        if (tied)
            c[-1].shared = true;
        position = row->position;
        ahead++;
    }
    close_prize(g, award, of, first);
}

static void give_teams(struct giving *g, const struct award *award) {
    const struct standings *st = by(g, BY_TEAM);
    int ahead = 0;
    int place = 0;
    int position = 0;
    int first = g->awards->count;
    for (int i = 0; st != NULL && i < st->teams_placed; i++) {
        const struct team_standing *team = &st->teams[i];
        if (award->once && g->team_took[team->team])
            continue;
        bool tied = ahead > 0 && team->position == position;
        if (!tied)
            place = ahead + 1;
        if (place > award->places)
            break;
        struct award_call *c = call(g, award, -1);
        if (c == NULL)
            return;
        *c = (struct award_call){.award = award,
                                 .of = -1,
                                 .place = place,
                                 .shared = tied,
                                 .car = -1,
                                 .team = team,
                                 .fails = team->fails,
                                 .penalty = team->penalty};
        if (tied)
            c[-1].shared = true;
        position = team->position;
        ahead++;
    }
    close_prize(g, award, -1, first);
}

/* All classes of a period, ranked as one. */
static void give_period(struct giving *g, const struct award *award, int period) {
    const struct scores *scores = g->awards->scores;
    const struct standings *st = by(g, BY_CLASS);
    int capacities = scores->event->rules->capacity_count;
    struct ranking ranking = {scores, RANKED_BY_TOTAL, scores_class_basis(scores), 0};
    int count = 0;
    for (int i = 0; st != NULL && i < st->group_count; i++) {
        const struct standings_group *group = &st->groups[i];
        for (int p = 0; group->index / capacities == period && p < group->placed_count; p++)
            g->ranked[count++].car = group->placed[p].car;
    }
    struct standing *rows = arena_array(g->awards->arena, (size_t)count + 1, sizeof *rows);
    if (rows == NULL) {
        g->err = ERR_NOMEM;
        return;
    }
    ranking_sort(&ranking, g->ranked, count);
    for (int i = 0; i < count; i++)
        rows[i] = (struct standing){.car = g->ranked[i].car,
                                    .position = g->ranked[i].position,
                                    .fails = g->ranked[i].fails,
                                    .penalty = g->ranked[i].penalty};
    give(g, award, period, rows, count);
}

static void give_award(struct giving *g, const struct award *award) {
    if (award->by == BY_TEAM) {
        give_teams(g, award);
        return;
    }
    if (award->period) {
        give_period(g, award, award->of);
        return;
    }
    const struct standings *st = by(g, award->by);
    for (int i = 0; g->err == ERR_OK && award->of < 0 && i < st->group_count; i++)
        give(g, award, award->by == BY_OVERALL ? -1 : st->groups[i].index, st->groups[i].placed,
             st->groups[i].placed_count);
    if (g->err != ERR_OK || award->of < 0)
        return;
    const struct standings_group *group = group_of(st, award->of);
    give(g, award, award->of, group == NULL ? NULL : group->placed,
         group == NULL ? 0 : group->placed_count);
}

static void turn(struct awards *a) {
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
    struct giving g = {
        .awards = a,
        .car_took = arena_array(a->arena, cars, sizeof(bool)),
        .team_took = arena_array(a->arena, (size_t)event->entries->team_count + 1, sizeof(bool)),
        .ranked = arena_array(a->arena, cars, sizeof(struct ranked))};
    if (g.car_took == NULL || g.team_took == NULL || g.ranked == NULL)
        g.err = ERR_NOMEM;
    for (int i = 0; g.err == ERR_OK && i < event->rules->award_count; i++)
        give_award(&g, &event->rules->awards[i]);
    turn(a);
    if (g.err == ERR_OK)
        *out = a;
    else
        awards_free(a);
    return g.err;
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
