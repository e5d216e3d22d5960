/* SPDX-License-Identifier: MIT */
/* rulings.h - what follows from the decisions that hold, in the form that scoring needs.
 * Rebuilt whenever a decision is added; points at the decisions of the log, which must outlive it.
 * Source: the contract, "decisions.csv" and "Missing readings". */
#ifndef CAIRN_RULINGS_H
#define CAIRN_RULINGS_H

#include <stdbool.h>
#include <stdint.h>

#include "event/decisions.h"

struct arena;
struct event;
struct fault_sum;

/* One retirement of a car: out at every point behind `position`. */
struct retirement {
    int position; /* a point; -1 before the start */
    int day;      /* of that point, from 0; -1 before the start */
    int item;     /* of that point, -1 before the start */
    const struct decision *decision;
};

struct car_rulings {
    const struct decision **list; /* those that hold and name this car */
    int count;
    struct retirement *retirements;
    int retirement_count;
    int *rejoin_days; /* from 0 */
    int rejoin_count;
    const struct decision *disqualified;
    int64_t penalty; /* sum of its penalty decisions without a point, thousandths */
    int fails;       /* the same of its fails decisions, 0 .. FAILS_SUM_MAX */
    int at_points;   /* how many penalty, fails and faults decisions name a point or item */
};

struct rulings {
    struct arena *arena;
    struct car_rulings *cars;
    const struct decision **cancelled_item;  /* by item */
    const struct decision **cancelled_point; /* by reading point */
    bool *closed;                            /* by reading point */
    int64_t *starts;                         /* [day * cars + car], time of day */
};

/* Builds the rulings of an event; `event->rulings` is not used. Returns ERR_OK or ERR_NOMEM. Owner:
 * the caller. */
int rulings_build(const struct event *event, struct rulings **out);

/* True where a decision on a car can have an effect: what it is about is on the car's route, or it
 * is a retirement, which then is one after the last point before it that is. */
bool rulings_has_effect(const struct event *event, const struct decision *decision);

/* Frees rulings; NULL is accepted. */
void rulings_free(struct rulings *rulings);

/* Sum of the allowances of a car at a point, ms. */
int64_t rulings_allowance(const struct rulings *rulings, int car, int point);

/* Adds the faults that decisions tell of a car at a point to a sum.
 *   item  the point's, with that car's own values */
void rulings_add_faults(const struct rulings *rulings, int car, int point, const struct item *item,
                        struct fault_sum *sum);

/* The ruling of that kind (waive or notional) for a car at a point or on an item, NULL where
 * there is none; of two, the one that goes first. */
const struct decision *rulings_find(const struct rulings *rulings, int car, enum decision_kind kind,
                                    enum decision_target target, int place);

/* The ruling that counts for a car at a point, cancel, notional or waive: one on the whole item
 * before one on the point; NULL where there is none.
 *   item   the point's
 *   whole  gets whether it is one on the whole item */
const struct decision *rulings_at(const struct rulings *rulings, int car, int item, int point,
                                  bool *whole);

/* True where a car is out at a point: retired before it, and not back by the point's day. A
 * retirement at a hidden item counts as one after the last item before it that is shown, so that it
 * does not give the hidden one away.
 *   after   the last item that is considered, -1 for all: a later retirement has not happened
 *   hidden  by item: what must not be shown; NULL where everything is */
bool rulings_out_at(const struct event *event, int car, int point, int after, const bool *hidden);

/* True where a retirement has happened by the item `after` (-1 for all); `hidden` as above. */
bool retirement_is_by(const struct retirement *retirement, int after, const bool *hidden);

/* True where a car is out when a day (from 0) begins. */
bool rulings_out_before_day(const struct rulings *rulings, int car, int day);

/* When a car starts a day, ms from that day's midnight. */
int64_t rulings_start(const struct event *event, int day, int car);

#endif
