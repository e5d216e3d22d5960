/* SPDX-License-Identifier: MIT */
/* The steps behind a car's total, written from struct car_score, which holds what each part came
 * to. */
#include "base/decimal.h"
#include "base/err.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "event/kind_list.h"
#include "output/output.h"
#include "scoring/coefficient.h"
#include "scoring/decided.h"
#include "scoring/explain_faults.h"
#include "scoring/totals.h"

/* What the steps of one car are written from, and the function that gets them. */
struct step_writer {
    const struct scores *scores;
    const struct score_sheet *sheet;
    const struct rules *rules;
    const struct car_score *score;
    int car;
    struct textbuf why;
    emit_step emit;
    void *context;
};

static void emit(struct step_writer *t, struct total_step step) {
    step.why = textbuf_text(&t->why);
    t->emit(t->context, &step);
    textbuf_reset(&t->why);
}

/* True where each item of that kind is multiplied by itself. */
static bool multiplies(const struct step_writer *t, const struct item *item) {
    return t->rules->scoring.coefficient_per_test && coefficient_takes(&t->rules->scoring, item);
}

/* "coefficient of 1934", "coefficient of period D". */
static void write_coefficient(struct step_writer *t) {
    const struct entry *e = &t->scores->event->entries->list[t->car];
    switch (t->rules->scoring.coefficient_by) {
    case COEFFICIENT_BY_YEAR:
        textbuf_printf(&t->why, "coefficient of %d", e->year);
        break;
    case COEFFICIENT_BY_CLASS:
        textbuf_printf(&t->why, "coefficient of period %s", t->rules->periods[e->period].id);
        break;
    case COEFFICIENT_BY_CATEGORY:
        if (e->category < 0)
            textbuf_puts(&t->why, "coefficient of a car without category");
        else
            textbuf_printf(&t->why, "coefficient of category %s",
                           t->rules->categories[e->category].id);
        break;
    case COEFFICIENT_BY_ENTRY:
        textbuf_printf(&t->why, "coefficient of car %d", e->number);
        break;
    }
}

/* " × 1.34 (coefficient of 1934), to a whole point = 54", of what stands before it. */
static void write_product(struct step_writer *t, int64_t product) {
    textbuf_puts(&t->why, " × ");
    decimal_write_short(&t->why, t->score->coefficient);
    textbuf_puts(&t->why, " (");
    write_coefficient(t);
    textbuf_puts(&t->why, t->rules->scoring.coefficient_whole ? "), to a whole point = " : ") = ");
    decimal_write_short(&t->why, product);
}

static void write_value(struct textbuf *b, int place, const struct step_writer *t) {
    decimal_write_short(b, t->score->item_value[place]);
}

/* One test: the sum of its points, faults outside the laps, cap. */
static void write_points(struct step_writer *t, int place) {
    const struct item *item = car_item(t->scores->event, t->car, place);
    const struct scored_point *first = &t->sheet->scored[item_first_on_route(t->rules, item)];
    bool whole = first->ruling != NULL && first->ruling_whole;
    struct textbuf *b = &t->why;
    textbuf_puts(b, "points ");
    decimal_write_short(b, t->sheet->point_sums[place]);
    if (!whole && (t->sheet->fault_sums[place] > 0 || t->sheet->fault_fails[place] > 0)) {
        textbuf_puts(b, " + faults ");
        explain_amount(b, t->sheet->fault_sums[place], t->sheet->fault_fails[place]);
    }
    if (!whole &&
        decimal_add(t->sheet->point_sums[place], t->sheet->fault_sums[place]) > item->test_cap) {
        textbuf_puts(b, ", held to the test's cap of ");
        decimal_write_short(b, item->test_cap);
    }
}

/* Behind its points: what is decided, coefficient, drop. */
static void write_behind_points(struct step_writer *t, int place) {
    const struct item *item = car_item(t->scores->event, t->car, place);
    const struct decided decided = decided_sum(t->sheet, place);
    bool per_test = multiplies(t, item);
    struct textbuf *b = &t->why;
    if (decided.count > 0) {
        textbuf_puts(b, decided.penalty < 0 ? " − decided " : " + decided ");
        explain_amount(b, decided.penalty < 0 ? -decided.penalty : decided.penalty, decided.fails);
    }
    if (per_test) {
        textbuf_puts(b, ",");
        write_product(t, t->score->item_value[place]);
    }
    if (t->score->item_awaited[place] > 0)
        textbuf_printf(b, "; %d awaited", t->score->item_awaited[place]);
    if ((t->score->item_flags[place] & ITEM_DROPPED) == 0)
        return;
    textbuf_puts(b, "; dropped as the costliest, would have cost ");
    write_value(b, place, t);
    if (!per_test && coefficient_takes(&t->rules->scoring, item)) {
        textbuf_puts(b, " (");
        decimal_write_short(b, t->score->item_penalty[place]);
        textbuf_puts(b, " × ");
        decimal_write_short(b, t->score->coefficient);
        textbuf_puts(b, ")");
    }
}

static void step_of_test(struct step_writer *t, int place) {
    unsigned flags = t->score->item_flags[place];
    bool ties_only = t->rules->items[place].ties_only;
    struct total_step step = {.of = t->rules->items[place].id,
                              .penalty = totals_counted(t->scores, t->car, place),
                              .fails = ties_only ? 0 : t->score->item_fails[place],
                              .to_come = !ties_only && (flags & ITEM_TO_COME) != 0};
    if (ties_only) {
        textbuf_puts(&t->why, "counts for ties only");
        emit(t, step);
        return;
    }
    if ((flags & ITEM_ALL_ABSENT) != 0)
        textbuf_puts(&t->why, step.to_come ? "absent: charged once it is closed"
                                           : "absent: its points stand in the absence of that day");
    else if (step.to_come)
        textbuf_puts(&t->why, "to come");
    else
        write_points(t, place);
    /* What is decided of a test stands in it also where the car was out. */
    if (!step.to_come && ((flags & ITEM_ALL_ABSENT) == 0 || step.penalty != 0 || step.fails != 0))
        write_behind_points(t, place);
    emit(t, step);
}

static void step_of_coefficient(struct step_writer *t) {
    const struct scoring *scoring = &t->rules->scoring;
    struct textbuf *b = &t->why;
    const char *sep = " on ";
    write_coefficient(t);
    if (scoring->coefficient_all)
        textbuf_puts(b, " on all items and absence");
    for (int k = 0; !scoring->coefficient_all && k < KIND_COUNT; k++) {
        if ((scoring->coefficient_kinds >> k & 1u) == 0)
            continue;
        textbuf_printf(b, "%s%s", sep, kind_name((enum kind_id)k));
        sep = ", ";
    }
    textbuf_puts(b, ": ");
    decimal_write_short(b, t->score->multiplied);
    textbuf_puts(b, " × ");
    decimal_write_short(b, t->score->coefficient);
    textbuf_puts(b, " = ");
    decimal_write_short(b, t->score->product);
    if (scoring->coefficient_whole) {
        textbuf_puts(b, ", rounded to ");
        decimal_write_short(b, t->score->multiplied + t->score->added);
    }
    textbuf_puts(b, ", less ");
    decimal_write_short(b, t->score->multiplied);
    textbuf_puts(b, " = ");
    decimal_write_short(b, t->score->added);
    emit(t, (struct total_step){.of = "coefficient",
                                .penalty = t->score->added,
                                .to_come =
                                    totals_to_come(t->scores, t->car, scoring->coefficient_kinds)});
}

/* The controls that are multiplied each by itself. */
static void write_products_of_controls(struct step_writer *t) {
    const char *sep = ": ";
    for (int i = 0; i < t->rules->item_count; i++) {
        const struct item *item = &t->rules->items[i];
        if (!t->scores->view->visible[i] || item->test >= 0 || !multiplies(t, item) ||
            t->score->item_penalty[i] == 0)
            continue;
        textbuf_printf(&t->why, "%s%s ", sep, item->id);
        decimal_write_short(&t->why, t->score->item_penalty[i]);
        write_product(t, t->score->item_value[i]);
        sep = ", ";
    }
}

static void step_of_controls(struct step_writer *t) {
    unsigned kinds = 1u << KIND_TIME_CONTROL | 1u << KIND_PASSAGE_CONTROL;
    textbuf_puts(&t->why, "time and passage controls together");
    write_products_of_controls(t);
    emit(t, (struct total_step){.of = "controls",
                                .penalty = t->score->controls,
                                .fails = t->score->control_fails,
                                .to_come = totals_to_come(t->scores, t->car, kinds)});
}

static void steps_of_absence(struct step_writer *t) {
    for (int d = 0; d <= t->scores->view->last_day; d++) {
        int64_t absent = t->score->day_absent[d];
        if (absent == 0 && t->score->day_absent_fails[d] == 0)
            continue;
        textbuf_printf(&t->why, "absent on day %d: ", d + 1);
        decimal_write_short(&t->why, absent);
        if (absent > t->score->day_charged[d]) {
            textbuf_puts(&t->why, ", held to the cap of ");
            decimal_write_short(&t->why, t->score->day_charged[d]);
            textbuf_puts(&t->why, " a day");
        }
        int64_t value = coefficient_on_absence(&t->rules->scoring, t->score, d);
        if (t->rules->scoring.coefficient_all && t->rules->scoring.coefficient_per_test) {
            textbuf_puts(&t->why, ",");
            write_product(t, value);
        }
        emit(t, (struct total_step){
                    .of = "absence", .penalty = value, .fails = t->score->day_absent_fails[d]});
    }
}

/* The days that cost more than one may. */
static void steps_of_day_cap(struct step_writer *t) {
    const char *before = t->rules->scoring.has_coefficient ? ", before the coefficient" : "";
    bool capped = t->rules->scoring.day_cap != CAP_NONE;
    for (int d = 0; capped && d <= t->scores->view->last_day; d++) {
        int64_t over = t->score->day_over[d];
        if (over == 0)
            continue;
        int64_t cost = decimal_add(t->rules->scoring.day_cap, over);
        textbuf_printf(&t->why, "day %d: items that count ", d + 1);
        decimal_write_short(&t->why, cost - t->score->day_charged[d]);
        if (t->score->day_charged[d] > 0) {
            textbuf_puts(&t->why, " + absence ");
            decimal_write_short(&t->why, t->score->day_charged[d]);
            textbuf_puts(&t->why, " = ");
            decimal_write_short(&t->why, cost);
        }
        textbuf_printf(&t->why, "%s, held to the most for a day, ", before);
        decimal_write_short(&t->why, t->rules->scoring.day_cap);
        textbuf_puts(&t->why, ": ");
        decimal_write_short(&t->why, over);
        textbuf_puts(&t->why, " is taken off");
        emit(t, (struct total_step){.of = "day_cap", .penalty = -over});
    }
}

/* Those without a point: the others are part of their items. */
static void steps_of_decisions(struct step_writer *t) {
    const struct car_rulings *rulings = &t->scores->event->rulings->cars[t->car];
    for (int i = 0; i < rulings->count; i++) {
        const struct decision *d = rulings->list[i];
        bool penalty = d->kind == DECIDE_PENALTY;
        if ((!penalty && d->kind != DECIDE_FAILS) || d->target != TARGET_NONE)
            continue;
        textbuf_puts(&t->why, d->text.field[DECISION_REASON]);
        emit(t, (struct total_step){.of = "decision",
                                    .penalty = penalty ? d->value : 0,
                                    .fails = penalty ? 0 : (int)d->value});
    }
}

int output_total_steps(const struct scores *scores, const struct score_sheet *sheet, int car,
                       emit_step emit_one, void *context) {
    struct step_writer t = {.scores = scores,
                            .sheet = sheet,
                            .rules = scores->event->rules,
                            .score = &scores->cars[car],
                            .car = car,
                            .emit = emit_one,
                            .context = context};
    for (int i = 0; i < t.rules->item_count; i++) {
        if (scores->view->visible[i] && t.rules->items[i].test >= 0 &&
            (t.score->item_flags[i] & ITEM_OFF) == 0)
            step_of_test(&t, i);
    }
    /* It stands behind what it multiplies. */
    bool on_total = t.rules->scoring.has_coefficient && !t.rules->scoring.coefficient_per_test;
    bool on_tests_alone = (t.rules->scoring.coefficient_kinds & kinds_of_tests()) ==
                          t.rules->scoring.coefficient_kinds;
    if (on_total && on_tests_alone)
        step_of_coefficient(&t);
    step_of_controls(&t);
    steps_of_absence(&t);
    if (on_total && !on_tests_alone)
        step_of_coefficient(&t);
    steps_of_day_cap(&t);
    steps_of_decisions(&t);
    int err = t.why.failed ? ERR_NOMEM : ERR_OK;
    textbuf_clear(&t.why);
    return err;
}
