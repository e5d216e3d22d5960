/* SPDX-License-Identifier: MIT */
#include "scoring/kinds/attempt.h"

#include "base/decimal.h"
#include "scoring/kinds/special_limits.h"
#include "scoring/told_faults.h"

/* What was read of one attempt, before any limit but the bogey. */
struct run {
    const struct reading *start, *finish;
    struct fault_sum faults;
    int64_t base; /* the start, truncated; TIME_NONE where a device measured the time */
    int64_t raw;
    int64_t held; /* raised to the bogey */
    enum cause lacks;
    int missing; /* the point whose reading is lacking, -1 */
};

struct fault_sum attempt_faults(const struct score_sheet *sheet, int car, const struct item *item,
                                int n, const struct reading *start, const struct reading *finish) {
    struct fault_sum sum = FAULT_SUM_NONE;
    told_faults_add(&sum, sheet, car, item, attempt_start(item, n), start);
    told_faults_add(&sum, sheet, car, item, attempt_finish(item, n), finish);
    return sum;
}

/* Fills the rest of a run whose readings are set. True where there is an elapsed time. */
static bool run_is_timed(struct run *run, const struct score_sheet *sheet, int car,
                         const struct item *item, int n) {
    const struct special_test *own = special_test_of(item);
    run->faults = item->fault_count == 0
                      ? FAULT_SUM_NONE
                      : attempt_faults(sheet, car, item, n, run->start, run->finish);
    run->base = TIME_NONE;
    run->missing = -1;
    if (run->faults.missed >= 0) {
        run->lacks = CAUSE_FAULT;
        return false;
    }
    if (run->finish == NULL) {
        run->lacks = CAUSE_NO_READING;
        run->missing = attempt_finish(item, n);
        return false;
    }
    if (run->finish->elapsed != TIME_NONE) {
        run->raw = time_truncate(run->finish->elapsed, item->rule.precision);
    } else if (run->start == NULL) {
        run->lacks = CAUSE_NO_START;
        run->missing = attempt_start(item, n);
        return false;
    } else {
        run->base = time_truncate(run->start->time, item->rule.precision);
        run->raw = time_truncate(run->finish->time, item->rule.precision) - run->base;
    }
    run->held = own->bogey != TIME_NONE && run->raw < own->bogey ? own->bogey : run->raw;
    return true;
}

/* Sets the best that a car is charged with being behind, of a value of its own. A disqualified car
 * may be better than the best of those that count. */
static void find_best(const struct score_sheet *sheet, const struct item *item, int64_t value,
                      struct scored_point *sp) {
    const struct best *best =
        bests_of(sheet->bests, sheet->event, item, special_test_of(item)->scope, sheet->car);
    bool own = best->value == TIME_NONE || best->value >= value;
    sp->best = own ? value : best->value;
    sp->best_car = own ? sheet->car : best->car;
}

/* What of the elapsed time is charged, as the method says. */
static void find_charged(const struct score_sheet *sheet, const struct item *item,
                         struct scored_point *sp) {
    const struct special_test *own = special_test_of(item);
    sp->charged_ms = sp->actual;
    if (own->method == METHOD_OVER_BOGEY) {
        /* A maximum that is a cost is compared with no time, so that there is none to be due. */
        sp->due = special_maximum_is_cost(own) ? TIME_NONE : own->bogey;
        sp->charged_ms = sp->actual - own->bogey;
    } else if (own->method == METHOD_BEHIND_BEST && own->ground != BEST_RESULT) {
        find_best(sheet, item, sp->actual, sp);
        sp->due = sp->best;
        sp->charged_ms = sp->actual - sp->best;
    }
    sp->deviation = sp->due == TIME_NONE ? sp->actual : sp->charged_ms;
}

/* The cost of time and faults together, `cost`, held to a maximum that is a cost and reduced to
 * what is behind the best result. */
static int64_t compared_cost(const struct score_sheet *sheet, const struct item *item, int64_t cost,
                             struct scored_point *sp) {
    int64_t limit = special_maximum_cost(sheet, item);
    if (limit != TIME_NONE && (cost > limit || sp->maximum_fault >= 0))
        cost = limit;
    if (special_test_of(item)->method != METHOD_BEHIND_BEST)
        return cost;
    find_best(sheet, item, cost, sp);
    return cost - sp->best;
}

/* The cost of a held elapsed time and of the faults beside it.
 *   faults  NULL where it is the maximum, and none is added */
static void charge(const struct score_sheet *sheet, const struct item *item,
                   const struct fault_sum *faults, struct scored_point *sp) {
    bool result = special_test_of(item)->ground == BEST_RESULT;
    if (sp->actual != TIME_NONE) {
        find_charged(sheet, item, sp);
        sp->price = special_price(item, sp->charged_ms);
    }
    if (faults != NULL) {
        sp->fault_penalty = faults->penalty;
        sp->fault_fails = faults->fails;
        sp->price.fails = fails_add(sp->price.fails, faults->fails);
    }
    int64_t cost = decimal_add(sp->price.penalty, sp->fault_penalty);
    sp->uncapped = result ? compared_cost(sheet, item, cost, sp) : cost;
    sp->capped = sp->uncapped > item->rule.cap[SIDE_LATE];
    sp->price.penalty = sp->capped ? item->rule.cap[SIDE_LATE] : sp->uncapped;
}

/* True where an attempt that lacks a reading may still be completed. */
static bool may_come(const struct score_sheet *sheet, const struct item *item, int missing) {
    if (missing < 0)
        return false;
    /* Absent at all of them is absent at the test, which its one scored point tells. */
    if (item->attempts > 1 && score_sheet_absent(sheet, sheet->car, missing))
        return !score_sheet_absence_is_charged(sheet, missing);
    return sheet->view->open[missing];
}

/* True where what the sheet's car did at a test is missed for its lateness on the road. */
static bool lateness_holds(const struct score_sheet *sheet, const struct item *item) {
    return sheet->event->rules->scoring.max_lateness_holds &&
           sheet->passings[item->place].held_since >= 0;
}

void attempt_work(const struct score_sheet *sheet, const struct item *item, int n,
                  struct scored_point *sp) {
    struct run run = {.start = sheet->counted[attempt_start(item, n)],
                      .finish = sheet->counted[attempt_finish(item, n)]};
    sp->durations = true;
    sp->attempt = (signed char)n;
    sp->reading = run.finish;
    bool timed = run_is_timed(&run, sheet, sheet->car, item, n);
    if (timed && run.base != TIME_NONE) {
        sp->base_point = attempt_start(item, n);
        sp->base_read = run.start->time;
        sp->base = run.base;
    }
    if (timed)
        sp->raw = run.raw;
    if (run.finish != NULL && lateness_holds(sheet, item)) {
        scored_point_lacks(sp, CAUSE_LATENESS_HOLDS, false);
        return;
    }
    if (!timed) {
        scored_point_lacks(sp, run.lacks, may_come(sheet, item, run.missing));
        return;
    }
    sp->maximum_fault = run.faults.maximum;
    sp->faulted = run.faults.any;
    int64_t limit = special_maximum_time(sheet, item);
    if (sp->maximum_fault < 0) {
        sp->actual = limit != TIME_NONE && run.held > limit ? limit : run.held;
    } else if (special_has_maximum(sheet, item)) {
        sp->actual = limit;
    } else {
        scored_point_lacks(sp, CAUSE_NO_BEST, sheet->view->open[attempt_finish(item, n)]);
        return;
    }
    charge(sheet, item, sp->maximum_fault < 0 ? &run.faults : NULL, sp);
}

void attempt_at_maximum(const struct score_sheet *sheet, const struct item *item,
                        struct scored_point *sp) {
    scored_point_clear(sp);
    sp->maximum_fault = 0;
    sp->actual = special_maximum_time(sheet, item);
    charge(sheet, item, NULL, sp);
}

struct price attempt_missed(const struct score_sheet *sheet, const struct item *item) {
    struct scored_point sp;
    if (!item->rule.missed_maximum)
        return (struct price){.penalty = item->rule.missed, .fails = item->rule.missed_fails};
    if (!special_has_maximum(sheet, item))
        return (struct price){0};
    attempt_at_maximum(sheet, item, &sp);
    return sp.price;
}

struct bid attempt_bid(const struct score_sheet *sheet, const struct item *item, int car) {
    const struct special_test *own = special_test_of(item);
    struct bid best = {.value = TIME_NONE};
    bool ignored;
    if (lateness_holds(sheet, item))
        return best;
    for (int n = 0; n < item->attempts; n++) {
        struct run run = {.start = score_sheet_read(sheet, car, attempt_start(item, n), &ignored),
                          .finish =
                              score_sheet_read(sheet, car, attempt_finish(item, n), &ignored)};
        /* An attempt that only counts as the maximum is no time of anybody's. */
        if (!run_is_timed(&run, sheet, car, item, n) || run.faults.maximum >= 0)
            continue;
        int64_t held =
            own->maximum != TIME_NONE && run.held > own->maximum ? own->maximum : run.held;
        struct bid bid = {.value = held,
                          .preferred = own->ground == BEST_FAULTLESS && !run.faults.any};
        if (own->ground == BEST_RESULT) {
            int64_t charged = own->method == METHOD_OVER_BOGEY ? held - own->bogey : held;
            bid.value = decimal_add(special_price(item, charged).penalty, run.faults.penalty);
        }
        if (best.value == TIME_NONE ||
            (bid.preferred != best.preferred ? bid.preferred : bid.value < best.value))
            best = bid;
    }
    return best;
}
