/* SPDX-License-Identifier: MIT */
/* regularity.h - what event.json says of a regularity alone. Source: the contract, "regularity". */
#ifndef CAIRN_REGULARITY_H
#define CAIRN_REGULARITY_H

#include "scoring/kinds/checks_and_pads.h"

struct speed {
    int64_t from;  /* distance from the start of the test */
    int64_t speed; /* per hour */
};

struct check {
    int64_t at;    /* distance from the start; -1 where only an ideal is given */
    int64_t ideal; /* ms from the start, used as given; TIME_NONE: by speeds */
};

struct regularity {
    struct checks_and_pads timed; /* the first member: see checks_and_pads_of */
    struct speed *speeds;
    int speed_count;
    bool ideals_down;     /* ideals are cut, not rounded */
    struct check *checks; /* as many as `timed` counts */
};

/* Of an item of this kind. */
static inline const struct regularity *regularity_of(const struct item *item) {
    return item->own;
}

#endif
