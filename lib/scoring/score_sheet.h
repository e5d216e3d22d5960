/* SPDX-License-Identifier: MIT */
/* score_sheet.h - one car's score sheet while it is being worked out, item by item.
 * A scored point holds the outcome together with every value that made it, so that
 * the explanation is written from the same numbers. Used by the kinds; others go through
 * scoring.h. */
#ifndef CAIRN_SCORE_SHEET_H
#define CAIRN_SCORE_SHEET_H

#include "event/car_route.h"
#include "event/event.h"
#include "event/penalty.h"
#include "scoring/road.h"
#include "scoring/view.h"

/* The states of the contract's card. */
enum state {
    STATE_SCORED,
    STATE_CLEAN,
    STATE_MISSED,
    STATE_AWAITING,
    STATE_WAIVED,
    STATE_CANCELLED,
    STATE_NOTIONAL,
    STATE_DROPPED,
    STATE_ABSENT,
    STATE_OFF /* not on the car's route: on no card, in no sum, no count and no run */
};

/* The word of a state, as in the card; STATE_OFF has none. */
const char *state_word(enum state state);

/* What a kind found, rulings and absence aside. */
enum outcome { OUTCOME_PRICED, OUTCOME_MISSED, OUTCOME_AWAITING };

/* Why a point is missed or awaited. */
enum cause {
    CAUSE_NONE,
    CAUSE_NO_READING,     /* no counted reading */
    CAUSE_EARLY_LIMIT,    /* earlier than the rule's early_limit */
    CAUSE_LATE_LIMIT,     /* later than its late_limit */
    CAUSE_MAX_LATENESS,   /* later than scheduled by more than max_lateness */
    CAUSE_LATENESS_HOLDS, /* since a road point before, by max_lateness_holds */
    CAUSE_NO_START,       /* nothing to measure from */
    CAUSE_LOST_BEFORE,    /* the pad before was not read, and loses this one too */
    CAUSE_NO_NEIGHBOUR,   /* a lap without the one before it */
    CAUSE_NO_REFERENCE,   /* a lap without its reference */
    CAUSE_FAULT,          /* a fault worth "missed" */
    CAUSE_NO_BEST         /* the maximum, which follows from a best that nobody has */
};

/* A scored point of one car. Times are ms, TIME_NONE where there is none. A field of 200 cars has
 * some ten thousand: small members stand together, so that none leaves a hole. */
struct scored_point {
    enum state state;
    enum outcome outcome;
    enum cause cause;
    int fails;
    int64_t penalty;   /* what it costs */
    int64_t scheduled; /* time controls only */
    int64_t due;       /* a time of day, or a duration where `actual` is one */
    int64_t actual;    /* after truncation */
    int64_t deviation;
    struct price price;

    const struct reading *reading; /* the one that counts, NULL */
    const struct decision *ruling; /* cancel, notional or waive that holds here, NULL */
    bool ruling_whole;             /* it is about the whole item */
    bool charged;                  /* absent: its `missed` is charged */
    bool faulted;                  /* it has a fault: never clean */
    bool durations;                /* due and actual are durations */

    /* what it was measured from */
    int base_point;         /* a reading point, at controls that of `carried`; -1: none */
    int left_item;          /* the control that `left` is about, -1 the start of the day */
    bool base_from_control; /* the start is worked out from the control before */
    bool undone;            /* read, but not reached: a fault, or lateness that holds */
    struct departure left;  /* controls, and starts measured from one: where `base` comes from */
    int64_t base_read;      /* as read (or derived), before truncation */
    int64_t base;           /* after truncation */
    int64_t ideal;          /* ideal, target or reference */
    int64_t allowance;      /* ms of allowances in it */
    int64_t targets;        /* controls: time allowed since the base */
    int64_t halts;          /* controls: halts of skipped controls */
    int64_t carried;        /* controls: lateness carried */

    /* controls: what `scheduled` is made of */
    int64_t day_start;
    int64_t day_targets;
    int64_t day_halts;
    int64_t day_allowances;

    /* special tests and laps */
    int64_t raw;           /* elapsed before bogey and maximum */
    int64_t best;          /* behind-best: the best */
    int best_car;          /* the car that has it */
    int maximum_fault;     /* the fault that made it the maximum, -1 */
    int64_t charged_ms;    /* what `late` was charged on */
    int64_t fault_penalty; /* of its faults, at any kind */
    int64_t uncapped;      /* time and faults together, before the cap */
    bool capped;
    bool own_missed;     /* what it costs where it is missed or absent stands in `price` */
    bool so_far;         /* awaited or absent in part, and `price` is what the rest costs */
    signed char attempt; /* special tests: the one that it tells of, from 0 */
    int fault_fails;     /* special tests: of `price.fails` */
};

struct bests;

struct score_sheet {
    const struct event *event;
    const struct view *view;
    const struct bests *bests;
    int car;
    const struct car_route *route;     /* the car's */
    const struct car_rulings *rulings; /* likewise */
    struct scored_point *scored;       /* as rules->scored */
    const struct reading **counted;    /* by reading point; NULL where none counts */
    int64_t *fault_sums;               /* by item: faults that are part of no scored point */
    int *fault_fails;                  /* the same: fails of them */
    int64_t *point_sums;               /* by item: its points, absent ones aside; see totals.c */
    struct road road;
    struct scored_point *ends; /* by item: tests with `finish`, as they are on the road; or NULL */
    struct passing *passings;  /* by item */
    int64_t *starts; /* by item: when a test that starts from the control before is to be started,
                      * by what the car did there; TIME_NONE where nothing can be told */
    bool held;       /* max_lateness_holds where the item is that is being scored */
    int64_t day_start;
    int doubtful;         /* points with readings that differ or were made while absent */
    int through;          /* last point read at, -1 */
    bool read_anywhere;   /* on the whole route, also behind --after */
    bool at_last_control; /* read at the last time control of its route */
};

/* Memory for one car's sheet of an event of this size. Returns ERR_OK or ERR_NOMEM;
 * score_sheet_clear in any case. */
int score_sheet_init(struct score_sheet *sheet, const struct event *event);
void score_sheet_clear(struct score_sheet *sheet);

/* Sets what is scored; all are borrowed. The event must have the rules and entries of the one that
 * score_sheet_init got. */
void score_sheet_use(struct score_sheet *sheet, const struct event *event, const struct view *view,
                     const struct bests *bests);

/* Works out the whole sheet of a car: readings, then each visible item in route order. */
void score_sheet_score(struct score_sheet *sheet, int car);

/* True where a scored point is on the car's card: in view, and on the car's route. */
static inline bool score_sheet_shows(const struct score_sheet *sheet, int scored) {
    return sheet->view->visible[sheet->event->rules->scored[scored].item] &&
           sheet->scored[scored].state != STATE_OFF;
}

/* The functions from here on are for the kinds. */

/* The reading that counts at a point, NULL where there is none or the car is out.
 *   doubtful  gets whether readings differ there, or there is one while the car is out */
const struct reading *score_sheet_read(const struct score_sheet *sheet, int car, int point,
                                       bool *doubtful);

/* True where the car is out at that point, or it is not on the car's route. */
static inline bool score_sheet_absent(const struct score_sheet *sheet, int car, int point) {
    const struct event *event = sheet->event;
    return !car_point_is_on(event, car, point) ||
           (event->rulings->cars[car].retirement_count > 0 &&
            rulings_out_at(event, car, point, sheet->view->request.after, sheet->view->hidden));
}

/* True where what is missed at a point while the car is out is charged: the point is closed, or the
 * car has rejoined. */
bool score_sheet_absence_is_charged(const struct score_sheet *sheet, int point);

/* Resets a scored point: priced at nothing. */
void scored_point_clear(struct scored_point *sp);

/* The `n`th scored point of an item, reset. */
struct scored_point *score_sheet_scored(struct score_sheet *sheet, const struct item *item, int n);

/* Gives a scored point its state and cost: rulings first, then absence, then what the kind found.
 */
void score_sheet_assess(struct score_sheet *sheet, const struct item *item,
                        struct scored_point *sp);

/* The ruling that counts at a point for the sheet's car, as rulings_at says. */
const struct decision *score_sheet_ruling(const struct score_sheet *sheet, int item, int point,
                                          bool *whole);

/* True where the point, or its whole item, is cancelled, waived or notional for the car: faults
 * there are left out. */
bool score_sheet_point_ruled(const struct score_sheet *sheet, int point);

/* Ends a scored point that cannot be priced yet: awaited or missed.
 *   may_come  what it needs can still be read */
static inline void scored_point_lacks(struct scored_point *sp, enum cause cause, bool may_come) {
    sp->cause = cause;
    sp->outcome = may_come ? OUTCOME_AWAITING : OUTCOME_MISSED;
}

/* True where what a point costs is known, if only so far: it is not awaited, or not all of it, or
 * faults decided there cost something already. */
static inline bool scored_point_is_known(const struct scored_point *sp) {
    return sp->state != STATE_AWAITING || sp->so_far || sp->penalty != 0 || sp->fails > 0;
}

/* Makes a scored point missed where its deviation is past the rule's early_limit or late_limit.
 * Returns true there. */
static inline bool scored_point_is_past_limit(struct scored_point *sp,
                                              const struct penalty_rule *rule) {
    if (rule->late_limit != TIME_NONE && sp->deviation > rule->late_limit)
        sp->cause = CAUSE_LATE_LIMIT;
    else if (rule->early_limit != TIME_NONE && sp->deviation < -rule->early_limit)
        sp->cause = CAUSE_EARLY_LIMIT;
    else
        return false;
    sp->outcome = OUTCOME_MISSED;
    return true;
}

/* Prices a scored point's deviation, or makes it missed where that is past a limit of the rule. */
static inline void scored_point_price(struct scored_point *sp, const struct penalty_rule *rule) {
    if (!scored_point_is_past_limit(sp, rule))
        price_deviation(&sp->price, rule, sp->deviation);
}

#endif
