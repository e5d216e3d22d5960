/* SPDX-License-Identifier: MIT */
/* start_plan.h - how a day is to be started: order, first car, intervals, gaps, late cars. Set one
 * value at a time, as text, from a command line or JSON. Not thread-safe: one owner at a time. */
#ifndef CAIRN_START_PLAN_H
#define CAIRN_START_PLAN_H

#include "event/event.h"

struct arena;
struct problems;
struct textbuf;

/* In what order a day is started. */
enum start_order {
    START_BY_NUMBER,
    START_BY_NUMBER_REVERSED,
    START_BY_STANDINGS,          /* the leader first */
    START_BY_STANDINGS_REVERSED, /* the last of the first N first, the leader at their end */
    START_BY_ERA                 /* the oldest period first, in it by number */
};

/* `late` of a car that starts behind all others. */
#define START_AT_THE_END INT64_MAX

/* How a day is to be started. Made by start_plan_init, filled by start_plan_set. */
struct start_plan {
    const struct event *event;
    struct arena *arena;
    int day; /* from 0 */
    enum start_order order;
    int64_t first;          /* time of day of the first car */
    int64_t interval;       /* ms behind a car that has no other interval */
    int reverse_first;      /* START_BY_STANDINGS_REVERSED: how many, 0 for all that are placed */
    int64_t interval_first; /* behind each of those; TIME_NONE where not set */
    bool rest_by_number;    /* those behind them go by number, else by standings */
    int64_t *by_period;     /* interval behind a car of the period; TIME_NONE where not set */
    int64_t *by_class;
    int64_t *by_category;
    int64_t *gap; /* by car: ms more behind it */
    /* By car: out of the order, to start at this time, or START_AT_THE_END; TIME_NONE for the rest.
     */
    int64_t *late;
};

/* A plan as event.json has the day: by number from first_start at its interval.
 *   event  borrowed until start_plan_clear
 *   day    from 0
 * Returns: ERR_OK or ERR_NOMEM; start_plan_clear in any case. */
int start_plan_init(struct start_plan *plan, const struct event *event, int day);
void start_plan_clear(struct start_plan *plan);

/* Sets one value of a plan, from text.
 *   key    order (number, reversed, standings, standings-reversed, era), first (time of day),
 *          interval (duration), interval_first (duration), reverse_first (count), rest (standings
 *          or number), intervals (of a group), gaps (behind a car) or late (a car)
 *   name   intervals: id of a class, category or period, the first that has it; gaps and late: a
 *          car's number; else NULL
 *   value  a duration; for late a time of day, or “end”
 *   why    gets what is wrong
 * Returns: ERR_OK; ERR_INPUT. */
int start_plan_set(struct start_plan *plan, const char *key, const char *name, const char *value,
                   struct textbuf *why);

/* Sets all values of a JSON object: the keys above, with objects of names for intervals,
 * gaps and late.
 *   flag      one more key that may be there, a flag; `is_set` gets it
 *   problems  gets what is wrong, with its place
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. */
int start_plan_read(struct start_plan *plan, const char *text, size_t len, const char *flag,
                    bool *is_set, struct problems *problems);

#endif
