/* SPDX-License-Identifier: MIT */
/* From scored points to a total, in the contract's order: points, tests, coefficient, drop, sum,
 * controls and absence. */
#include "scoring/totals.h"

#include <string.h>

#include "base/decimal.h"
#include "event/penalty.h"
#include "scoring/coefficient.h"
#include "scoring/drop.h"
#include "scoring/finisher.h"
#include "scoring/item_sums.h"
#include "scoring/ties.h"

static bool visible(const struct scores *s, int item) {
    return s->view->visible[item];
}

const int64_t *totals_values(const struct scores *s, const struct car_score *car,
                             enum basis basis) {
    return basis == BASIS_CORRECTED && s->event->rules->scoring.coefficient_per_test
               ? car->item_value
               : car->item_penalty;
}

int64_t totals_counted(const struct scores *s, int car, int item) {
    const struct car_score *score = &s->cars[car];
    return (score->item_flags[item] & ITEM_DROPPED) != 0 || s->event->rules->items[item].ties_only
               ? 0
               : totals_values(s, score, BASIS_CORRECTED)[item];
}

/* Of the items of these kinds, of one day or (-1) of all. */
static bool all_to_come(const struct scores *s, int car, unsigned kinds, int day) {
    const struct rules *rules = s->event->rules;
    bool any = false;
    for (int i = 0; i < rules->item_count; i++) {
        if (!visible(s, i) || (kinds >> rules->items[i].kind & 1u) == 0 ||
            rules->items[i].ties_only || (day >= 0 && rules->items[i].day != day))
            continue;
        if ((s->cars[car].item_flags[i] & ITEM_OFF) != 0)
            continue;
        if ((s->cars[car].item_flags[i] & ITEM_TO_COME) == 0)
            return false;
        any = true;
    }
    return any;
}

bool totals_to_come(const struct scores *s, int car, unsigned kinds) {
    return all_to_come(s, car, kinds, -1);
}

bool totals_day_to_come(const struct scores *s, int car, int day) {
    return all_to_come(s, car, (1u << KIND_COUNT) - 1, day);
}

/* Points of dropped tests count too: otherwise a crew without any penalty would lose the clean
 * points of its dropped test, and a tie against a crew that had a costly test to drop.
 *   unbroken  all points so far are clean */
static void count_clean(const struct score_sheet *sheet, const struct item *item, bool *unbroken,
                        struct car_score *car) {
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        enum state state = sheet->scored[i].state;
        if (state == STATE_CLEAN) {
            car->clean++;
            car->furthest += *unbroken;
        } else if (state != STATE_CANCELLED && state != STATE_WAIVED && state != STATE_OFF) {
            *unbroken = false;
        }
    }
}

/* The parts of a total on a basis. */
struct parts {
    int64_t tests, controls, absent;
    int64_t multiplied; /* of them, what a coefficient on the total takes */
    int64_t over;
};

/* What a day cost more than its cap: its items, dropped tests aside, and its absent points, before
 * any coefficient. */
static int64_t day_over(const struct rules *rules, const struct car_score *car, int day,
                        unsigned char flag) {
    int64_t cost = car->day_penalty[day];
    for (int i = 0; i < rules->item_count; i++) {
        if (rules->items[i].day == day && (car->item_flags[i] & flag) != 0)
            cost = decimal_add(cost, -car->item_penalty[i]);
    }
    return cost > rules->scoring.day_cap ? cost - rules->scoring.day_cap : 0;
}

static void add_days(const struct rules *rules, struct car_score *car, enum basis basis,
                     unsigned char flag, struct parts *parts) {
    const struct scoring *scoring = &rules->scoring;
    for (int d = 0; d < rules->day_count; d++) {
        int64_t value = basis == BASIS_CORRECTED ? coefficient_on_absence(scoring, car, d)
                                                 : car->day_charged[d];
        parts->absent = decimal_add(parts->absent, value);
        if (scoring->day_cap == CAP_NONE)
            continue;
        car->day_over[d] = day_over(rules, car, d, flag);
        parts->over = decimal_add(parts->over, car->day_over[d]);
    }
    if (scoring->coefficient_all)
        parts->multiplied = decimal_add(parts->multiplied, parts->absent);
}

/* What is not visible costs nothing. */
static struct parts add_up(const struct scores *s, struct car_score *car, enum basis basis,
                           unsigned char flag) {
    const struct rules *rules = s->event->rules;
    const int64_t *values = totals_values(s, car, basis);
    struct parts parts = {0};
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (values[i] == 0 || item->ties_only || (car->item_flags[i] & flag) != 0)
            continue;
        int64_t *part = item->test < 0 ? &parts.controls : &parts.tests;
        *part = decimal_add(*part, values[i]);
        if (coefficient_takes(&rules->scoring, item))
            parts.multiplied = decimal_add(parts.multiplied, values[i]);
    }
    add_days(rules, car, basis, flag, &parts);
    return parts;
}

/* The corrected basis is summed up last, and its parts stay in `car`. */
static void sum_basis(const struct scores *s, struct car_score *car, enum basis basis) {
    const struct scoring *scoring = &s->event->rules->scoring;
    struct tally *tally = &car->tally[basis];
    unsigned char flag = basis == BASIS_CORRECTED ? ITEM_DROPPED : ITEM_DROPPED_PLAIN;
    drop_worst(s, car, basis, flag);
    struct parts parts = add_up(s, car, basis, flag);
    if (basis == BASIS_CORRECTED && scoring->has_coefficient && !scoring->coefficient_per_test)
        coefficient_on_total(scoring, parts.multiplied, car);
    car->tests = parts.tests;
    car->controls = parts.controls;
    car->absent = parts.absent;
    car->over = parts.over;
    int64_t items = decimal_add(decimal_add(parts.tests, car->added), parts.controls);
    tally->total =
        decimal_add(decimal_add(items, decimal_add(parts.absent, car->decided)), -parts.over);
    tally->fails = car->decided_fails;
    for (int d = 0; d <= s->view->last_day; d++)
        tally->fails = fails_add(tally->fails, car->day_fails[d]); /* of items and of absence */
}

/* Once the totals are there, which look at what the days cost in full. */
static void hold_days(const struct rules *rules, struct car_score *car) {
    for (int d = 0; d < rules->day_count; d++) {
        if (car->day_penalty[d] > rules->scoring.day_cap)
            car->day_penalty[d] = rules->scoring.day_cap;
    }
}

static bool rejoins_after(const struct car_rulings *car, int day) {
    for (int i = 0; i < car->rejoin_count; i++) {
        if (car->rejoin_days[i] > day)
            return true;
    }
    return false;
}

static enum car_status status_of(const struct scores *s, const struct score_sheet *sheet) {
    const struct car_rulings *car = sheet->rulings;
    int after = s->view->request.after;
    bool retired = false;
    bool never_started = false;
    for (int i = 0; i < car->retirement_count; i++) {
        const struct retirement *r = &car->retirements[i];
        if (!retirement_is_by(r, after, s->view->hidden) || rejoins_after(car, r->day))
            continue;
        retired = true;
        never_started = never_started || r->position < 0;
    }
    if (car->disqualified != NULL)
        return STATUS_DISQUALIFIED;
    if (never_started || (s->view->all_closed && !sheet->read_anywhere))
        return STATUS_NOT_STARTED;
    if (retired)
        return STATUS_RETIRED;
    if (s->view->all_closed && after < 0 && !finisher_is(s, sheet))
        return STATUS_NOT_CLASSIFIED;
    if (s->view->all_closed || sheet->at_last_control)
        return STATUS_FINISHED;
    return sheet->read_anywhere ? STATUS_RUNNING : STATUS_ENTERED;
}

/* Points awaited before the last one that the car was read at. */
static int awaited_before(const struct scores *s, const struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    int count = 0;
    for (int i = 0; i < rules->scored_count; i++) {
        if (rules->scored[i].point < sheet->through && visible(s, rules->scored[i].item) &&
            sheet->scored[i].state == STATE_AWAITING)
            count++;
    }
    return count;
}

static void clear(const struct rules *rules, struct car_score *out) {
    size_t items = (size_t)rules->item_count;
    size_t days = (size_t)rules->day_count;
    memset(out->item_penalty, 0, items * sizeof *out->item_penalty);
    memset(out->item_value, 0, items * sizeof *out->item_value);
    memset(out->item_fails, 0, items * sizeof *out->item_fails);
    memset(out->item_awaited, 0, items * sizeof *out->item_awaited);
    memset(out->item_flags, 0, items * sizeof *out->item_flags);
    memset(out->day_penalty, 0, days * sizeof *out->day_penalty);
    memset(out->day_fails, 0, days * sizeof *out->day_fails);
    memset(out->day_absent, 0, days * sizeof *out->day_absent);
    memset(out->day_charged, 0, days * sizeof *out->day_charged);
    memset(out->day_absent_fails, 0, days * sizeof *out->day_absent_fails);
    out->awaited = out->control_fails = out->clean = out->furthest = 0;
    out->multiplied = out->product = out->added = 0;
}

static void value_item(const struct scoring *scoring, const struct item *item,
                       struct car_score *out) {
    int64_t value = item->ties_only ? 0 : out->item_penalty[item->place];
    out->item_value[item->place] = value != 0 && coefficient_takes(scoring, item)
                                       ? coefficient_times(scoring, value, out->coefficient)
                                       : value;
}

void totals_sum(const struct scores *s, const struct score_sheet *sheet, struct car_score *out) {
    const struct rules *rules = s->event->rules;
    bool unbroken = true;
    clear(rules, out);
    out->doubtful = sheet->doubtful;
    out->through = sheet->through;
    out->decided = sheet->rulings->penalty;
    out->decided_fails = sheet->rulings->fails;
    out->coefficient = coefficient_of(rules, &s->event->entries->list[sheet->car]);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = sheet->route->items[i];
        if (!visible(s, i))
            continue;
        if (item == NULL) {
            out->item_flags[i] = ITEM_OFF;
            continue;
        }
        item_sum(sheet, item, out);
        value_item(&rules->scoring, item, out);
        if (item->test < 0)
            out->control_fails = fails_add(out->control_fails, out->item_fails[i]);
        if (!item->ties_only)
            count_clean(sheet, item, &unbroken, out);
    }
    absence_sum(rules, out);
    if (scores_class_basis(s) == BASIS_PLAIN)
        sum_basis(s, out, BASIS_PLAIN);
    sum_basis(s, out, BASIS_CORRECTED);
    hold_days(rules, out);
    ties_collect(s, sheet, out);
    out->awaiting = out->awaited > 0 ? awaited_before(s, sheet) : 0;
    out->status = status_of(s, sheet);
}

void totals_complete_sheet(const struct scores *s, struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const unsigned char *flags = s->cars[sheet->car].item_flags;
    for (int i = 0; i < rules->item_count; i++)
        sheet->point_sums[i] = visible(s, i) ? item_points_sum(sheet, &rules->items[i]) : 0;
    for (int i = 0; i < rules->scored_count; i++) {
        struct scored_point *sp = &sheet->scored[i];
        bool counts = sp->state == STATE_SCORED || sp->state == STATE_CLEAN ||
                      sp->state == STATE_MISSED || sp->state == STATE_NOTIONAL;
        if (counts && visible(s, rules->scored[i].item) &&
            (flags[rules->scored[i].item] & ITEM_DROPPED) != 0)
            sp->state = STATE_DROPPED;
    }
}
