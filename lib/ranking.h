/* SPDX-License-Identifier: MIT */
/* ranking.h - who is ahead of whom. Source: the contract, "Ranking". */
#ifndef CAIRN_RANKING_H
#define CAIRN_RANKING_H

#include "scoring.h"

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

/* Less than, equal to or greater than 0 as car `a` stands before, equal with or behind `b`. */
int ranking_compare(const struct ranking *ranking, int a, int b);

/* Sorts cars (places in the entry list) into their order; equal ones by number.
 *   positions, equal  get each place's position and whether it is shared: 1, 2, 2, 4 */
void ranking_sort(const struct ranking *ranking, int *cars, int count, int *positions, bool *equal);

#endif
