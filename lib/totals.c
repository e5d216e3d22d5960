/* SPDX-License-Identifier: MIT */
/* From workings to a total, in the contract's order: points, tests, coefficient, drop, sum,
 * controls and absence. */
#include <string.h>

#include "decimal.h"
#include "scoring.h"

static bool visible(const struct scores *s, int item) {
    return s->view->visible[item];
}

/* A ruling on the whole item that holds for this car. */
static const struct decision *whole_ruling(const struct sheet *sheet, const struct item *item) {
    const struct working *w = &sheet->workings[item->first_scored];
    return item->scored_count > 0 && w->ruling != NULL && w->ruling_whole ? w->ruling : NULL;
}

/* One item: its points, and what is absent taken out of it. */
static void sum_item(const struct scores *s, const struct sheet *sheet, int place,
                     struct car_score *out) {
    const struct item *item = &s->event->rules->items[place];
    int64_t sum = 0;
    int absent = 0;
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        const struct working *w = &sheet->workings[i];
        if (w->state == STATE_ABSENT) {
            absent++;
            out->day_absent[item->day] = decimal_add(out->day_absent[item->day], w->penalty);
            out->day_fails[item->day] += w->fails;
            continue;
        }
        sum = decimal_add(sum, w->penalty);
        out->item_fails[place] += w->fails;
        out->item_awaited[place] += w->state == STATE_AWAITING;
    }
    if (item->test >= 0 && whole_ruling(sheet, item) == NULL) {
        sum = decimal_add(sum, sheet->fault_sums[place]);
        if (sum > item->test_cap)
            sum = item->test_cap;
    }
    out->item_penalty[place] = sum;
    if (absent > 0 && absent == item->scored_count)
        out->item_flags[place] |= ITEM_ALL_ABSENT;
    out->awaited += out->item_awaited[place];
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

/* A test's sum on a basis, before the drop. */
static int64_t test_value(const struct scores *s, const struct car_score *car, int place,
                          enum basis basis) {
    const struct scoring *rules = &s->event->rules->scoring;
    int64_t value = car->item_penalty[place];
    if (basis == BASIS_CORRECTED && rules->has_coefficient && rules->coefficient_per_test &&
        of_kinds(rules->coefficient_kinds, &s->event->rules->items[place]))
        value = decimal_times(value, car->coefficient, rules->coefficient_whole);
    return value;
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
            int64_t value = test_value(s, car, i, basis);
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

/* Clean is clean in a dropped test too: else a crew with no penalty at all would lose the clean
 * points of the test that is dropped for it, and to a crew that has a bad one to drop. */
static void count_clean(const struct scores *s, const struct sheet *sheet, struct car_score *car) {
    const struct rules *rules = s->event->rules;
    bool unbroken = true;
    car->clean = car->furthest = 0;
    for (int p = 0; p < rules->scored_count; p++) {
        if (!visible(s, rules->scored[p].item))
            continue;
        enum state state = sheet->workings[p].state;
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

static void sum_basis(const struct scores *s, struct car_score *car, enum basis basis) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    struct tally *tally = &car->tally[basis];
    unsigned char flag = basis == BASIS_CORRECTED ? ITEM_DROPPED : ITEM_DROPPED_PLAIN;
    int64_t plain = 0;
    int64_t corrected = 0;
    *tally = (struct tally){0};
    drop_worst(s, car, basis, flag);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (!visible(s, i))
            continue;
        if (item->test >= 0 && (car->item_flags[i] & flag) == 0) {
            bool on_total = basis == BASIS_CORRECTED && scoring->has_coefficient &&
                            !scoring->coefficient_per_test &&
                            of_kinds(scoring->coefficient_kinds, item);
            int64_t *part = on_total ? &corrected : &plain;
            *part = decimal_add(*part, test_value(s, car, i, basis));
        }
    }
    int64_t tests =
        decimal_add(plain, decimal_times(corrected, car->coefficient, scoring->coefficient_whole));
    if (basis == BASIS_CORRECTED)
        car->tests = tests;
    tally->total =
        decimal_add(decimal_add(tests, car->controls), decimal_add(car->absent, car->decided));
    for (int d = 0; d <= s->view->last_day; d++)
        tally->fails += car->day_fails[d]; /* of items and of absence */
}

/* A control that counts for `finisher`: read and not beyond a time limit, or a ruling stands for
 * it. */
static bool is_reached(const struct working *w) {
    return w->state == STATE_WAIVED || w->state == STATE_NOTIONAL ||
           (w->reading != NULL && w->lack == LACK_NOTHING);
}

static bool back_after(const struct car_rulings *car, int day) {
    for (int i = 0; i < car->rejoin_count; i++) {
        if (car->rejoin_days[i] > day)
            return true;
    }
    return false;
}

/* Whether enough controls were reached to be classified. */
static bool is_finisher(const struct scores *s, const struct sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    int64_t controls = 0;
    int64_t reached = 0;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test >= 0 || !visible(s, i))
            continue;
        const struct working *w = &sheet->workings[item->first_scored];
        if (w->state == STATE_CANCELLED)
            continue;
        controls++;
        reached += is_reached(w);
    }
    if (reached * scoring->share_den < controls * scoring->share_num)
        return false;
    int last = s->view->last_standing_control;
    return !scoring->last_point || last < 0 ||
           is_reached(&sheet->workings[rules->items[last].first_scored]);
}

static enum car_status status_of(const struct scores *s, const struct sheet *sheet) {
    const struct car_rulings *car = &s->event->rulings->cars[sheet->car];
    int after = s->view->request.after;
    bool retired = false;
    bool never = false;
    for (int i = 0; i < car->retirement_count; i++) {
        const struct retirement *r = &car->retirements[i];
        if (!retirement_is_by(r, after, s->view->hidden) || back_after(car, r->day))
            continue;
        retired = true;
        never = never || r->position < 0;
    }
    if (car->disqualified != NULL)
        return STATUS_DISQUALIFIED;
    if (never || (s->view->all_closed && !sheet->read_anywhere))
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
static int awaited_before(const struct scores *s, const struct sheet *sheet) {
    const struct rules *rules = s->event->rules;
    int count = 0;
    for (int i = 0; i < rules->scored_count; i++) {
        if (rules->scored[i].point < sheet->through && visible(s, rules->scored[i].item) &&
            sheet->workings[i].state == STATE_AWAITING)
            count++;
    }
    return count;
}

void totals_sum(const struct scores *s, const struct sheet *sheet, struct car_score *out) {
    const struct rules *rules = s->event->rules;
    size_t items = (size_t)rules->item_count;
    size_t days = (size_t)rules->day_count;
    memset(out->item_penalty, 0, items * sizeof *out->item_penalty);
    memset(out->item_fails, 0, items * sizeof *out->item_fails);
    memset(out->item_awaited, 0, items * sizeof *out->item_awaited);
    memset(out->item_flags, 0, items * sizeof *out->item_flags);
    memset(out->day_penalty, 0, days * sizeof *out->day_penalty);
    memset(out->day_fails, 0, days * sizeof *out->day_fails);
    memset(out->day_absent, 0, days * sizeof *out->day_absent);
    out->awaited = 0;
    out->controls = 0;
    out->absent = 0;
    out->doubtful = sheet->doubtful;
    out->through = sheet->through;
    out->decided = s->event->rulings->cars[sheet->car].penalty;
    out->coefficient = coefficient_of(rules, &s->event->entries->list[sheet->car]);
    for (int i = 0; i < rules->item_count; i++) {
        if (!visible(s, i))
            continue;
        sum_item(s, sheet, i, out);
        if (rules->items[i].test < 0)
            out->controls = decimal_add(out->controls, out->item_penalty[i]);
    }
    for (size_t d = 0; d < days; d++) {
        int64_t cap = rules->scoring.absent_day_cap;
        int64_t absent = out->day_absent[d] < cap ? out->day_absent[d] : cap;
        out->absent = decimal_add(out->absent, absent);
        out->day_penalty[d] = decimal_add(out->day_penalty[d], absent);
    }
    sum_basis(s, out, BASIS_PLAIN);
    sum_basis(s, out, BASIS_CORRECTED);
    count_clean(s, sheet, out);
    out->awaiting = awaited_before(s, sheet);
    out->status = status_of(s, sheet);
}

void totals_mark_dropped(const struct scores *s, struct sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const unsigned char *flags = s->cars[sheet->car].item_flags;
    for (int i = 0; i < rules->scored_count; i++) {
        struct working *w = &sheet->workings[i];
        bool counts = w->state == STATE_SCORED || w->state == STATE_CLEAN ||
                      w->state == STATE_MISSED || w->state == STATE_NOTIONAL;
        if (counts && visible(s, rules->scored[i].item) &&
            (flags[rules->scored[i].item] & ITEM_DROPPED) != 0)
            w->state = STATE_DROPPED;
    }
}
