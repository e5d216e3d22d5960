/* SPDX-License-Identifier: MIT */
/* time_control.h - what event.json says of a time control alone. Source: the contract,
 * "time-control". */
#ifndef CAIRN_TIME_CONTROL_H
#define CAIRN_TIME_CONTROL_H

#include "event/rules.h"

struct time_control {
    int64_t target; /* ms from the control before */
    int64_t halt;   /* ms of rest there */
    bool main;      /* a main control: lateness is not carried past it */
};

/* Of an item of this kind. */
static inline const struct time_control *time_control_of(const struct item *item) {
    return item->own;
}

#endif
