/* SPDX-License-Identifier: MIT */
/* road.h - a car's day on the road: what the road points that it has passed mean for those ahead.
 * Road points are time controls, and the last points of tests with `finish`. Times are ms of the
 * day. Source: the contract, "time-control" and "Road timing". Used by score_sheet.c and by the
 * kinds; needs no memory, and is safe on any thread that has the sheet for itself. */
#ifndef CAIRN_ROAD_H
#define CAIRN_ROAD_H

#include <stdbool.h>
#include <stdint.h>

#include "event/penalty.h"

struct item;
struct reading;
struct score_sheet;
struct scored_point;

/* When a car left a road point or the start of its day, and how that came about. */
struct departure {
    int64_t time;
    int64_t arrival; /* counted arrival that it follows from, TIME_NONE where it was read */
    int64_t halt;    /* of that control, ms */
};

/* What the road points that a car has passed on a day mean for those ahead. */
struct road {
    bool preceding_read;        /* the car was read at the one before (or it is the day's start) */
    bool preceding_may_come;    /* where it was not: it still can be */
    int last_read;              /* the item of the last one it was read at, -1 the start */
    struct departure departure; /* from there */
    int64_t targets;            /* since then */
    int64_t halts;              /* of controls skipped since then */
    int64_t allowances;         /* given since then */
    int64_t day_targets, day_halts, day_allowances; /* since the day's start */
    int64_t carried;                                /* lateness carried (scheduled timing) */
    int carried_from; /* the reading point of it: the last one with an arrival, -1 */
    int64_t late_sum; /* late deviations since the last main control (target timing) */
    int late_since;   /* that control, -1 the day's start */
    int over_since;   /* max_lateness_holds: the item since which it does; -1 */
};

/* What the road made of a car at an item, for the explanation; only what happened is written. */
struct passing {
    int held_since;    /* max_lateness_holds: the item since which it does here, -1 */
    int late_since;    /* lateness: cumulative: the main control since which it is summed, -1 */
    int64_t late_sum;  /* this one's lateness with it */
    int64_t lacking;   /* ms by which the car was there before `shortest`; 0 */
    struct price late; /* where it was late besides: what either costs, */
    struct price soon; /* before they are put together */
};

/* The road as a car starts its day at `start`. */
void road_begin(struct road *road, int64_t start);

/* Goes on to the item's road point: fills `sp` with when the car is due there, scheduled, and what
 * both are made of, and, where it was read, with the reading and the counted arrival. */
void road_arrive(const struct score_sheet *sheet, struct road *road, const struct item *item,
                 struct scored_point *sp);

/* Leaves it: what the road points ahead are worked out from, whatever this one cost.
 *   sp   of that point, as road_arrive filled it
 *   out  the departure that was read, NULL where none was */
void road_leave(const struct score_sheet *sheet, struct road *road, const struct item *item,
                const struct scored_point *sp, const struct reading *out);

/* Passes a test whose last point is on the road.
 *   ahead  gets the road behind it; the test's own points go by the sheet's, which stays
 * The sheet's `ends` of the item gets its due time there and arrival. */
void road_pass_test(struct score_sheet *sheet, const struct item *item, struct road *ahead);

/* Passes such a test that is hidden: its time counts, and nothing was read. */
void road_pass_hidden(struct road *road, const struct item *item);

/* Sets whether max_lateness_holds for what is read at an item.
 *   road  for a test whose last point is on the road, that behind it */
void road_judge(struct score_sheet *sheet, const struct item *item, const struct road *road);

/* Adds an allowance, ms, given at a point that is no road point. */
void road_allow(struct road *road, int64_t allowance);

/* True where a car that arrived is beyond max_lateness; before road_leave. */
bool road_is_beyond(const struct score_sheet *sheet, const struct road *road,
                    const struct scored_point *sp);

/* When the sheet's car is due at an item's road point; the item is on its route and in view. */
int64_t road_due(const struct score_sheet *sheet, const struct item *item);

/* Lateness at an arrival that is summed where it is cumulative, ms; 0 where there is none. */
int64_t road_lateness(const struct scored_point *sp);

#endif
