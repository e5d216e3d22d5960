/* SPDX-License-Identifier: MIT */
/* standings.h - scored cars as tables: overall, or in groups by class, category, group
 * of cars, day or test, or by team. Immutable once made, and then safe for any number of threads.
 * Source: the contract, "Ranking" and section 5. */
#ifndef CAIRN_STANDINGS_H
#define CAIRN_STANDINGS_H

#include "event/grouping.h"
#include "scoring/scoring.h"

/* How far a car is behind another. */
struct gap {
    int fails;
    int64_t penalty; /* to be used only where `fails` is 0 */
};

struct standing {
    int car;      /* place in the entry list */
    int position; /* in its group; 0 where unplaced */
    bool equal;
    int fails;
    int64_t penalty;
    struct gap behind_leader; /* unused where unplaced */
    struct gap behind_next;   /* behind the row above */
};

struct standings_group {
    int index; /* of the class, category, group of cars, day or item; 0 overall */
    struct standing *placed;
    int placed_count;
    struct standing *unplaced; /* in number order */
    int unplaced_count;
    struct standing *pending; /* in number order */
    int pending_count;
};

struct team_standing {
    int team; /* place among the entries' teams */
    int position;
    bool equal;
    int fails;
    int64_t penalty;
    int *cars; /* those that count, in their order */
    int car_count;
};

struct standings {
    const struct scores *scores;
    enum standings_by by;
    bool with_pending;              /* the table has a pending list, perhaps empty */
    struct standings_group *groups; /* none for teams */
    int group_count;
    struct team_standing *teams; /* placed ones first */
    int team_count;
    int teams_placed;
    struct arena *arena;
};

/* Makes the tables of scores.
 *   scores  borrowed until standings_free, and unchanged until then
 * Returns: ERR_OK; ERR_UNKNOWN where the event has no such grouping (no categories, groups or
 * teams); ERR_NOMEM. Owner: the caller. */
int standings_new(const struct scores *scores, enum standings_by by, struct standings **out);

/* The same of some cars only, as if no others were in the event: groups and teams are theirs, and
 * they are ranked anew.
 *   among  borrowed for the call; NULL: all cars. Named by class, cars that have no place in a
 *          class are not among them. */
int standings_among(const struct scores *scores, enum standings_by by,
                    const struct car_choice *among, struct standings **out);

/* True where a car is among these. */
bool standings_is_among(const struct scores *scores, const struct car_choice *among, int car);

/* How far a row is behind another one. */
struct gap standings_gap(const struct standing *row, const struct standing *other);

/* False where a row's penalty is not a result, so that people are shown a dash: by test, the car
 * has not come to it yet or was absent from all of it; by day, nothing of that day is known yet. */
bool standings_known(const struct standings *standings, const struct standings_group *group,
                     int car);

/* Frees standings; NULL is accepted. */
void standings_free(struct standings *standings);

#endif
