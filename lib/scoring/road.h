/* SPDX-License-Identifier: MIT */
/* road.h - a car's day on the road: what the controls that it has passed mean for those ahead.
 * Times are ms of the day. Source: the contract, "time-control". Used by score_sheet.c and by the
 * kinds; needs no memory, and is safe on any thread that has the sheet for itself. */
#ifndef CAIRN_ROAD_H
#define CAIRN_ROAD_H

#include <stdbool.h>
#include <stdint.h>

struct item;
struct reading;
struct score_sheet;
struct scored_point;

/* When a car left a time control or the start of its day, and how that came about. */
struct departure {
    int64_t time;
    int64_t arrival; /* counted arrival that it follows from, TIME_NONE where it was read */
    int64_t halt;    /* of that control, ms */
};

/* What the time controls that a car has passed on a day mean for those ahead. */
struct road {
    int preceding;              /* the time control before here, -1 none yet today */
    bool preceding_read;        /* the car was read there (or it is the day's start) */
    int last_read;              /* last control the car was read at, -1 the start */
    struct departure departure; /* from there */
    int64_t targets;            /* since then */
    int64_t halts;              /* of controls skipped since then */
    int64_t allowances;         /* given since then */
    int64_t day_targets, day_halts, day_allowances; /* since the day's start */
    int64_t carried;                                /* lateness carried (scheduled timing) */
};

/* The road as a car starts its day at `start`. */
void road_begin(struct road *road, int64_t start);

/* Goes on to the item's time control: fills `sp` with when the car is due there, scheduled, and
 * what both are made of, and, where it was read, with the reading and the counted arrival. */
void road_arrive(const struct score_sheet *sheet, struct road *road, const struct item *item,
                 struct scored_point *sp);

/* Leaves the control: what the controls ahead are worked out from, whatever this one cost.
 *   sp   of that control, as road_arrive filled it
 *   out  the departure that was read, NULL where none was */
void road_leave(struct road *road, const struct item *item, const struct scored_point *sp,
                const struct reading *out);

/* Adds an allowance, ms, given at a point of the road that is no time control. */
void road_allow(struct road *road, int64_t allowance);

#endif
