/* SPDX-License-Identifier: MIT */
/* From scored points to a total, in the contract's order: points, tests, coefficient, drop, sum,
 * controls and absence. */
#include "scoring/totals.h"

#include <string.h>

#include "base/decimal.h"

static bool visible(const struct scores *s, int item) {
    return s->view->visible[item];
}

/* A ruling on the whole item that holds for this car. */
static const struct decision *whole_ruling(const struct score_sheet *sheet,
                                           const struct item *item) {
    const struct scored_point *sp = &sheet->scored[item->first_scored];
    return item->scored_count > 0 && sp->ruling != NULL && sp->ruling_whole ? sp->ruling : NULL;
}

/* What the points of an item cost together, without absent ones. */
static int64_t sum_points(const struct score_sheet *sheet, const struct item *item) {
    int64_t sum = 0;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        if (sheet->scored[i].state != STATE_ABSENT)
            sum = decimal_add(sum, sheet->scored[i].penalty);
    }
    return sum;
}

/* Fails, absence and awaited points of an item. An item is to come while each of its points may
 * still be read, or will be charged as absent when it is closed. */
static void count_points(const struct score_sheet *sheet, int place, struct car_score *out) {
    const struct item *item = &sheet->event->rules->items[place];
    int absent = 0;
    int open = 0;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        const struct scored_point *sp = &sheet->scored[i];
        if (sp->state == STATE_ABSENT) {
            absent++;
            open += !sp->charged;
            out->day_absent[item->day] = decimal_add(out->day_absent[item->day], sp->penalty);
            out->day_absent_fails[item->day] += sp->fails;
            continue;
        }
        out->item_fails[place] += sp->fails;
        out->item_awaited[place] += sp->state == STATE_AWAITING;
    }
    open += out->item_awaited[place];
    if (absent > 0 && absent == item->scored_count)
        out->item_flags[place] |= ITEM_ALL_ABSENT;
    if (open > 0 && open == item->scored_count && sheet->fault_sums[place] == 0)
        out->item_flags[place] |= ITEM_TO_COME;
    out->awaited += out->item_awaited[place];
}

static void sum_item(const struct score_sheet *sheet, int place, struct car_score *out) {
    const struct item *item = &sheet->event->rules->items[place];
    int64_t sum = sum_points(sheet, item);
    count_points(sheet, place, out);
    if (item->test >= 0 && whole_ruling(sheet, item) == NULL) {
        sum = decimal_add(sum, sheet->fault_sums[place]);
        if (sum > item->test_cap)
            sum = item->test_cap;
    }
    out->item_penalty[place] = sum;
    out->day_penalty[item->day] = decimal_add(out->day_penalty[item->day], sum);
    out->day_fails[item->day] += out->item_fails[place];
}

static bool of_kinds(unsigned kinds, const struct item *item) {
    return item->test >= 0 && (kinds >> item->kind & 1u) != 0;
}

static int64_t coefficient_of(const struct rules *rules, const struct entry *entry) {
    const struct scoring *s = &rules->scoring;
    if (!s->has_coefficient)
        return 1000;
    if (s->coefficient_by_class)
        return s->coefficient_table[entry->period];
    int64_t value = 1000 + (entry->year - 1900) * 10;
    return value < 1000 ? 1000 : value;
}

static bool takes_coefficient(const struct scoring *scoring, const struct item *item) {
    return scoring->has_coefficient && of_kinds(scoring->coefficient_kinds, item);
}

/* With the coefficient, which rounds to whole points here only where it is on each test. */
static void value_item(const struct rules *rules, int place, struct car_score *out) {
    const struct scoring *scoring = &rules->scoring;
    int64_t value = out->item_penalty[place];
    if (value != 0 && takes_coefficient(scoring, &rules->items[place]))
        value = decimal_times(value, out->coefficient,
                              scoring->coefficient_per_test && scoring->coefficient_whole);
    out->item_value[place] = value;
}

/* What a test adds to the sum on a basis, where it is not dropped. */
static int64_t summed_value(const struct scores *s, const struct car_score *car, int place,
                            enum basis basis) {
    return basis == BASIS_CORRECTED && s->event->rules->scoring.coefficient_per_test
               ? car->item_value[place]
               : car->item_penalty[place];
}

int64_t totals_counted(const struct scores *s, int car, int item) {
    const struct car_score *score = &s->cars[car];
    return (score->item_flags[item] & ITEM_DROPPED) != 0
               ? 0
               : summed_value(s, score, item, BASIS_CORRECTED);
}

/* Of the items of these kinds, of one day or (-1) of all. */
static bool all_to_come(const struct scores *s, int car, unsigned kinds, int day) {
    const struct rules *rules = s->event->rules;
    bool any = false;
    for (int i = 0; i < rules->item_count; i++) {
        if (!visible(s, i) || (kinds >> rules->items[i].kind & 1u) == 0 ||
            (day >= 0 && rules->items[i].day != day))
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

/* Marks the costliest tests of a day (-1: of all); of equal ones the earlier on the route. */
static void drop_tests(const struct scores *s, struct car_score *car, enum basis basis,
                       unsigned char flag, int day) {
    const struct rules *rules = s->event->rules;
    for (int n = 0; n < rules->scoring.drop_count; n++) {
        int worst = -1;
        int64_t most = -1;
        for (int i = 0; i < rules->item_count; i++) {
            const struct item *item = &rules->items[i];
            if (!visible(s, i) || !of_kinds(rules->scoring.drop_kinds, item) ||
                (day >= 0 && item->day != day) || car->item_fails[i] > 0 ||
                (car->item_flags[i] & flag) != 0)
                continue;
            int64_t value = summed_value(s, car, i, basis);
            if (value > most) {
                most = value;
                worst = i;
            }
        }
        if (worst < 0)
            return;
        car->item_flags[worst] |= flag;
    }
}

/* Points of dropped tests count too: otherwise a crew without any penalty would lose the clean
 * points of its dropped test, and a tie against a crew that had a costly test to drop. */
static void count_clean(const struct scores *s, const struct score_sheet *sheet,
                        struct car_score *car) {
    const struct rules *rules = s->event->rules;
    bool unbroken = true;
    car->clean = car->furthest = 0;
    for (int p = 0; p < rules->scored_count; p++) {
        if (!visible(s, rules->scored[p].item))
            continue;
        enum state state = sheet->scored[p].state;
        if (state == STATE_CLEAN) {
            car->clean++;
            car->furthest += unbroken;
        } else if (state != STATE_CANCELLED && state != STATE_WAIVED) {
            unbroken = false;
        }
    }
}

static void drop_worst(const struct scores *s, struct car_score *car, enum basis basis,
                       unsigned char flag) {
    const struct rules *rules = s->event->rules;
    if (!rules->scoring.drop_each_day) {
        if (s->drops[0])
            drop_tests(s, car, basis, flag, -1);
        return;
    }
    for (int d = 0; d < rules->day_count; d++) {
        if (s->drops[d])
            drop_tests(s, car, basis, flag, d);
    }
}

/* The coefficient on the total. */
static void multiply(const struct scoring *scoring, int64_t sum, struct car_score *car) {
    car->multiplied = sum;
    car->product = decimal_times(sum, car->coefficient, false);
    car->added = decimal_times(sum, car->coefficient, scoring->coefficient_whole) - sum;
}

static void sum_basis(const struct scores *s, struct car_score *car, enum basis basis) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    struct tally *tally = &car->tally[basis];
    unsigned char flag = basis == BASIS_CORRECTED ? ITEM_DROPPED : ITEM_DROPPED_PLAIN;
    int64_t tests = 0;
    int64_t multiplied = 0;
    *tally = (struct tally){0};
    drop_worst(s, car, basis, flag);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (!visible(s, i) || item->test < 0 || (car->item_flags[i] & flag) != 0)
            continue;
        int64_t value = summed_value(s, car, i, basis);
        tests = decimal_add(tests, value);
        if (takes_coefficient(scoring, item))
            multiplied = decimal_add(multiplied, value);
    }
    if (basis == BASIS_CORRECTED && scoring->has_coefficient && !scoring->coefficient_per_test) {
        multiply(scoring, multiplied, car);
        tests = decimal_add(tests, car->added);
    }
    if (basis == BASIS_CORRECTED)
        car->tests = tests;
    tally->total =
        decimal_add(decimal_add(tests, car->controls), decimal_add(car->absent, car->decided));
    for (int d = 0; d <= s->view->last_day; d++)
        tally->fails += car->day_fails[d]; /* of items and of absence */
}

/* A control that counts for `finisher`: read and within its time limits, or waived or notional. */
static bool is_reached(const struct scored_point *sp) {
    return sp->state == STATE_WAIVED || sp->state == STATE_NOTIONAL ||
           (sp->reading != NULL && sp->cause == CAUSE_NONE);
}

static bool rejoins_after(const struct car_rulings *car, int day) {
    for (int i = 0; i < car->rejoin_count; i++) {
        if (car->rejoin_days[i] > day)
            return true;
    }
    return false;
}

/* Whether enough controls were reached to be classified. */
static bool is_finisher(const struct scores *s, const struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    int64_t controls = 0;
    int64_t reached = 0;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test >= 0 || !visible(s, i))
            continue;
        const struct scored_point *sp = &sheet->scored[item->first_scored];
        if (sp->state == STATE_CANCELLED)
            continue;
        controls++;
        reached += is_reached(sp);
    }
    if (reached * scoring->share_den < controls * scoring->share_num)
        return false;
    int last = s->view->last_standing_control;
    return !scoring->last_point || last < 0 ||
           is_reached(&sheet->scored[rules->items[last].first_scored]);
}

static enum car_status status_of(const struct scores *s, const struct score_sheet *sheet) {
    const struct car_rulings *car = &s->event->rulings->cars[sheet->car];
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
    if (s->view->all_closed && after < 0 && !is_finisher(s, sheet))
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
    out->awaited = out->control_fails = 0;
    out->controls = out->absent = 0;
    out->multiplied = out->product = out->added = 0;
}

static void sum_absence(const struct rules *rules, struct car_score *out) {
    for (int d = 0; d < rules->day_count; d++) {
        int64_t cap = rules->scoring.absent_day_cap;
        out->day_charged[d] = out->day_absent[d] < cap ? out->day_absent[d] : cap;
        out->absent = decimal_add(out->absent, out->day_charged[d]);
        out->day_penalty[d] = decimal_add(out->day_penalty[d], out->day_charged[d]);
        out->day_fails[d] += out->day_absent_fails[d];
    }
}

void totals_sum(const struct scores *s, const struct score_sheet *sheet, struct car_score *out) {
    const struct rules *rules = s->event->rules;
    clear(rules, out);
    out->doubtful = sheet->doubtful;
    out->through = sheet->through;
    out->decided = s->event->rulings->cars[sheet->car].penalty;
    out->coefficient = coefficient_of(rules, &s->event->entries->list[sheet->car]);
    for (int i = 0; i < rules->item_count; i++) {
        if (!visible(s, i))
            continue;
        sum_item(sheet, i, out);
        value_item(rules, i, out);
        if (rules->items[i].test < 0) {
            out->controls = decimal_add(out->controls, out->item_penalty[i]);
            out->control_fails += out->item_fails[i];
        }
    }
    sum_absence(rules, out);
    sum_basis(s, out, BASIS_PLAIN);
    sum_basis(s, out, BASIS_CORRECTED);
    count_clean(s, sheet, out);
    out->awaiting = awaited_before(s, sheet);
    out->status = status_of(s, sheet);
}

void totals_complete_sheet(const struct scores *s, struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const unsigned char *flags = s->cars[sheet->car].item_flags;
    for (int i = 0; i < rules->item_count; i++)
        sheet->point_sums[i] = visible(s, i) ? sum_points(sheet, &rules->items[i]) : 0;
    for (int i = 0; i < rules->scored_count; i++) {
        struct scored_point *sp = &sheet->scored[i];
        bool counts = sp->state == STATE_SCORED || sp->state == STATE_CLEAN ||
                      sp->state == STATE_MISSED || sp->state == STATE_NOTIONAL;
        if (counts && visible(s, rules->scored[i].item) &&
            (flags[rules->scored[i].item] & ITEM_DROPPED) != 0)
            sp->state = STATE_DROPPED;
    }
}
