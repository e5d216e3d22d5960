/* SPDX-License-Identifier: MIT */
/* ranking.h - the order of cars, and their positions. Source: the contract, "Ranking". */
#ifndef CAIRN_RANKING_H
#define CAIRN_RANKING_H

#include "scoring/scoring.h"

/* By what cars are compared. */
enum ranked_by {
    RANKED_BY_TOTAL, /* fails, total on a basis, then the event's ties */
    RANKED_BY_DAY,   /* fails and penalty of a day; ties stay */
    RANKED_BY_ITEM   /* of a test; ties stay */
};

struct ranking {
    const struct scores *scores;
    enum ranked_by by;
    enum basis basis; /* RANKED_BY_TOTAL */
    int index;        /* the day or the item */
};

/* What a car is compared by first. */
int ranking_fails(const struct ranking *ranking, int car);
int64_t ranking_penalty(const struct ranking *ranking, int car);

/* One line of a ranking. */
struct ranked {
    int64_t penalty; /* what it is compared by first: see ranking_fails, ranking_penalty */
    int fails;
    int car; /* place in the entry list */
    int position;
    bool equal; /* the position is shared */
};

/* Sorts cars into their order; equal ones by number, with a shared position: 1, 2, 2, 4.
 *   list  `car` of each is given, in any order; the rest is filled in */
void ranking_sort(const struct ranking *ranking, struct ranked *list, int count);

#endif
