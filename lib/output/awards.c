/* SPDX-License-Identifier: MIT */
#include "output/awards.h"

#include <stdlib.h>
#include <string.h>

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

/* Adds a call that nobody has taken yet; `of` and `word` as in struct award_call. */
static struct award_call *add_call(struct award_maker *m, const struct award *award, int of,
                                   const char *word) {
    struct awards *a = m->awards;
    struct award_call *calls =
        array_reserve(a->calls, &m->cap, (size_t)a->count + 1, sizeof *a->calls);
    if (calls == NULL) {
        m->err = ERR_NOMEM;
        return NULL;
    }
    a->calls = calls;
    calls[a->count] = (struct award_call){.award = award, .of = of, .word = word, .car = -1};
    return &calls[a->count++];
}

static const struct car_choice *among_of(const struct award *award) {
    return award->among.of_count > 0 ? &award->among : NULL;
}

/* The standings that a prize goes by, those of all cars made when they are first needed. NULL with
 * m->err. */
static const struct standings *standings_of(struct award_maker *m, const struct award *award) {
    struct awards *a = m->awards;
    struct standings **st = &a->standings[award->by];
    if (among_of(award) != NULL)
        st = &a->among[a->among_count++];
    if (*st == NULL && m->err == ERR_OK)
        m->err = standings_among(a->scores, award->by, among_of(award), st);
    return *st;
}

static const struct standings_group *group_of(const struct standings *st, int index) {
    for (int i = 0; i < st->group_count; i++) {
        if (st->groups[i].index == index)
            return &st->groups[i];
    }
    return NULL;
}

/* The places of one prize while they are given: counted among those that are not passed over, so
 * that those behind move up; equal ones stay equal. */
struct places {
    const struct award *award;
    int of;
    const char *word;
    int first;    /* its first call */
    int given;    /* how many so far */
    int place;    /* of the last one that took a place */
    int position; /* of the same in the standings */
};

/* Notes who took the prize; where nobody did, adds that. */
static void close_prize(struct award_maker *m, const struct places *p) {
    if (m->awards->count == p->first)
        (void)add_call(m, p->award, p->of, p->word);
    for (int i = p->first; i < m->awards->count; i++) {
        const struct award_call *c = &m->awards->calls[i];
        if (c->car >= 0)
            m->car_took[c->car] = true;
        if (c->team != NULL)
            m->team_took[c->team->team] = true;
    }
}

/* Gives the next place.
 *   position  in the standings
 * Returns: the call, for the caller to name the crew or team; NULL where all places are given, or
 * memory is out. */
static struct award_call *next_place(struct award_maker *m, struct places *p, int position) {
    bool tied = p->given > 0 && position == p->position;
    if (!tied)
        p->place = p->given + 1;
    if (!p->award->has_within && p->place > p->award->places)
        return NULL;
    struct award_call *c = add_call(m, p->award, p->of, p->word);
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

/* True where a row is within what a prize asks for. Rows behind one that is not are not either. */
static bool is_within(const struct award *award, const struct standing *row) {
    return !award->has_within || (row->fails == 0 && row->penalty <= award->within);
}

static void give(struct award_maker *m, struct places places, const struct standing *placed,
                 int count) {
    const struct award *award = places.award;
    places.first = m->awards->count;
    for (int i = 0; i < count && is_within(award, &placed[i]); i++) {
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
    close_prize(m, &places);
}

static void give_teams(struct award_maker *m, const struct award *award) {
    const struct standings *st = standings_of(m, award);
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
    close_prize(m, &places);
}

/* Ranks the cars that stand in the maker's memory, and gives them their places. */
static void rank_and_give(struct award_maker *m, struct places places, enum basis basis,
                          int count) {
    struct ranking ranking = {.scores = m->awards->scores, .by = RANKED_BY_TOTAL, .basis = basis};
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
    give(m, places, rows, count);
}

/* All classes of a period, ranked as one. */
static void give_period(struct award_maker *m, const struct award *award) {
    const struct scores *scores = m->awards->scores;
    const struct standings *st = standings_of(m, award);
    int capacities = scores->event->rules->capacity_count;
    int count = 0;
    for (int i = 0; st != NULL && i < st->group_count; i++) {
        const struct standings_group *group = &st->groups[i];
        for (int p = 0; group->index / capacities == award->of && p < group->placed_count; p++)
            m->ranked[count++].car = group->placed[p].car;
    }
    if (m->err == ERR_OK)
        rank_and_give(m, (struct places){.award = award, .of = award->of},
                      scores_class_basis(scores), count);
}

/* The cars that have a word in the prize's column. */
static void give_word(struct award_maker *m, const struct award *award, const char *word) {
    const struct scores *scores = m->awards->scores;
    int count = 0;
    for (int car = 0; car < scores->event->entries->count; car++) {
        const struct entry *entry = &scores->event->entries->list[car];
        if (strcmp(entry_column_word(entry, award->column), word) == 0 &&
            standings_is_among(scores, among_of(award), car) &&
            status_is_placed(scores->cars[car].status))
            m->ranked[count++].car = car;
    }
    rank_and_give(m, (struct places){.award = award, .of = -1, .word = word}, BASIS_CORRECTED,
                  count);
}

/* A car and its word in a prize's column. */
struct worded {
    const char *word;
    int car;
};

static int by_word_and_car(const void *a, const void *b) {
    const struct worded *x = a;
    const struct worded *y = b;
    int found = strcmp(x->word, y->word);
    return found != 0 ? found : x->car - y->car;
}

/* A prize for each word of its column that its cars have, in the order of the words; also for one
 * whose cars are not placed, which nobody takes. */
static void give_each_word(struct award_maker *m, const struct award *award) {
    const struct scores *scores = m->awards->scores;
    int cars = scores->event->entries->count;
    struct worded *list = arena_array(m->awards->arena, (size_t)cars + 1, sizeof *list);
    int count = 0;
    if (list == NULL) {
        m->err = ERR_NOMEM;
        return;
    }
    for (int car = 0; car < cars; car++) {
        const char *word = entry_column_word(&scores->event->entries->list[car], award->column);
        if (*word != '\0' && standings_is_among(scores, among_of(award), car))
            list[count++] = (struct worded){.word = word, .car = car};
    }
    qsort(list, (size_t)count, sizeof *list, by_word_and_car);
    for (int i = 0; m->err == ERR_OK && i < count;) {
        const char *word = list[i].word;
        int placed = 0;
        for (; i < count && strcmp(list[i].word, word) == 0; i++) {
            if (status_is_placed(scores->cars[list[i].car].status))
                m->ranked[placed++].car = list[i].car;
        }
        rank_and_give(m, (struct places){.award = award, .of = -1, .word = word}, BASIS_CORRECTED,
                      placed);
    }
}

static void give_groups(struct award_maker *m, const struct award *award) {
    const struct standings *st = standings_of(m, award);
    for (int i = 0; m->err == ERR_OK && award->of < 0 && i < st->group_count; i++)
        give(m,
             (struct places){.award = award,
                             .of = award->by == BY_OVERALL ? -1 : st->groups[i].index},
             st->groups[i].placed, st->groups[i].placed_count);
    if (m->err != ERR_OK || award->of < 0)
        return;
    const struct standings_group *group = group_of(st, award->of);
    give(m, (struct places){.award = award, .of = award->of}, group == NULL ? NULL : group->placed,
         group == NULL ? 0 : group->placed_count);
}

static void give_award(struct award_maker *m, const struct award *award) {
    if (award->column != COLUMN_NONE && award->of_word != NULL)
        give_word(m, award, award->of_word);
    else if (award->column != COLUMN_NONE)
        give_each_word(m, award);
    else if (award->by == BY_TEAM)
        give_teams(m, award);
    else if (award->period)
        give_period(m, award);
    else
        give_groups(m, award);
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
    a->among =
        arena_array(a->arena, (size_t)event->rules->award_count + 1, sizeof(struct standings *));
    if (a->among == NULL || m.car_took == NULL || m.team_took == NULL || m.ranked == NULL)
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
    for (int i = 0; i < a->among_count; i++)
        standings_free(a->among[i]);
    free(a->calls);
    arena_free(a->arena);
    free(a);
}
