/* SPDX-License-Identifier: MIT */
#include "scoring/kinds/attempt.h"

#include "base/decimal.h"
#include "scoring/explain_faults.h"
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

/* All faults of an attempt, told with a reading or by a decision. */
static struct fault_sum faults_of(const struct score_sheet *sheet, int car, const struct item *item,
                                  int n, const struct reading *start,
                                  const struct reading *finish) {
    struct fault_sum sum = told_faults(sheet, car, item, attempt_start(item, n), start);
    const struct fault_sum more = told_faults(sheet, car, item, attempt_finish(item, n), finish);
    sum.penalty = decimal_add(sum.penalty, more.penalty);
    sum.fails = fails_add(sum.fails, more.fails);
    sum.missed = sum.missed < 0 ? more.missed : sum.missed;
    sum.maximum = sum.maximum < 0 ? more.maximum : sum.maximum;
    sum.any = sum.any || more.any;
    return sum;
}

/* Fills the rest of a run whose readings are set. True where there is an elapsed time. */
static bool run_is_timed(struct run *run, const struct score_sheet *sheet, int car,
                         const struct item *item, int n) {
    const struct special_test *own = special_test_of(item);
    run->faults = item->fault_count == 0 ? FAULT_SUM_NONE
                                         : faults_of(sheet, car, item, n, run->start, run->finish);
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

/* The maximum as a time; TIME_NONE where there is none, or the best that it follows from is still
 * to come. */
static int64_t maximum_time(const struct score_sheet *sheet, const struct item *item) {
    const struct special_test *own = special_test_of(item);
    if (!own->maximum_by_best)
        return own->maximum;
    if (special_maximum_is_cost(own))
        return TIME_NONE;
    int64_t best =
        bests_of(sheet->bests, sheet->event, item, own->maximum_scope, sheet->car)->value;
    return best == TIME_NONE ? TIME_NONE : best + own->plus;
}

/* The price of a time without the cap, which is on time and faults together. A finish before the
 * start is a wrong clock: no time is charged, and `cairn check` reports it. */
static struct price uncapped_price(const struct item *item, int64_t ms) {
    struct penalty_rule uncapped = item->rule;
    uncapped.cap[SIDE_LATE] = CAP_NONE;
    return penalty_price(&uncapped, ms > 0 ? ms : 0);
}

/* The maximum as a cost; TIME_NONE as above. */
static int64_t maximum_cost(const struct score_sheet *sheet, const struct item *item) {
    const struct special_test *own = special_test_of(item);
    if (!special_maximum_is_cost(own))
        return TIME_NONE;
    int64_t best =
        bests_of(sheet->bests, sheet->event, item, own->maximum_scope, sheet->car)->value;
    return best == TIME_NONE ? TIME_NONE
                             : decimal_add(best, uncapped_price(item, own->plus).penalty);
}

static bool has_maximum(const struct score_sheet *sheet, const struct item *item) {
    return maximum_time(sheet, item) != TIME_NONE || maximum_cost(sheet, item) != TIME_NONE;
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
    int64_t limit = maximum_cost(sheet, item);
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
        sp->price = uncapped_price(item, sp->charged_ms);
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
    int64_t limit = maximum_time(sheet, item);
    if (sp->maximum_fault < 0) {
        sp->actual = limit != TIME_NONE && run.held > limit ? limit : run.held;
    } else if (has_maximum(sheet, item)) {
        sp->actual = limit;
    } else {
        scored_point_lacks(sp, CAUSE_NO_BEST, sheet->view->open[attempt_finish(item, n)]);
        return;
    }
    charge(sheet, item, sp->maximum_fault < 0 ? &run.faults : NULL, sp);
}

/* Charges the maximum, as if a fault had made the attempt that. */
static void work_maximum(const struct score_sheet *sheet, const struct item *item,
                         struct scored_point *sp) {
    scored_point_clear(sp);
    sp->maximum_fault = 0;
    sp->actual = maximum_time(sheet, item);
    charge(sheet, item, NULL, sp);
}

struct price attempt_missed(const struct score_sheet *sheet, const struct item *item) {
    struct scored_point sp;
    if (!item->rule.missed_maximum)
        return (struct price){.penalty = item->rule.missed, .fails = item->rule.missed_fails};
    if (!has_maximum(sheet, item))
        return (struct price){0};
    work_maximum(sheet, item, &sp);
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
            bid.value = decimal_add(uncapped_price(item, charged).penalty, run.faults.penalty);
        }
        if (best.value == TIME_NONE ||
            (bid.preferred != best.preferred ? bid.preferred : bid.value < best.value))
            best = bid;
    }
    return best;
}

/* "41.2 s (car 1)", "31 (car 1)": a best, with the car that has it. */
static void explain_best(struct textbuf *b, const struct explain_context *context,
                         const struct special_test *own, int64_t value, int car) {
    if (own->ground == BEST_RESULT)
        explain_penalty(b, value);
    else
        explain_span(b, value);
    if (car == context->sheet->car)
        textbuf_puts(b, " (its own)");
    else
        textbuf_printf(b, " (car %d)", context->event->entries->list[car].number);
}

/* "the best result of the class, ". */
static void explain_whose(struct textbuf *b, const struct special_test *own, enum best_scope scope,
                          bool preferred) {
    static const char *const among[] = {"", " of the class", " of the category"};
    textbuf_printf(b, "the best%s%s", own->ground == BEST_RESULT ? " result" : "", among[scope]);
    if (own->ground == BEST_FAULTLESS)
        textbuf_puts(b, preferred ? " without faults" : " (none is without faults)");
    textbuf_puts(b, ", ");
}

/* What a maximum by the best is made of: " (the best of the class, 41.2 s (car 1), + 30 s)". */
static void explain_maximum_made(struct textbuf *b, const struct explain_context *context) {
    const struct special_test *own = special_test_of(context->item);
    if (!own->maximum_by_best)
        return;
    const struct score_sheet *sheet = context->sheet;
    const struct best *best =
        bests_of(sheet->bests, sheet->event, context->item, own->maximum_scope, sheet->car);
    textbuf_puts(b, " (");
    explain_whose(b, own, own->maximum_scope, best->preferred);
    explain_best(b, context, own, best->value, best->car);
    textbuf_puts(b, ", + ");
    if (special_maximum_is_cost(own)) {
        explain_penalty(b, uncapped_price(context->item, own->plus).penalty);
        textbuf_puts(b, " for ");
    }
    duration_write_words(b, own->plus);
    textbuf_putc(b, ')');
}

/* "the maximum 1 min 11.2 s (…)". */
static void explain_maximum(struct textbuf *b, const struct explain_context *context) {
    textbuf_puts(b, "the maximum ");
    if (special_maximum_is_cost(special_test_of(context->item)))
        explain_penalty(b, maximum_cost(context->sheet, context->item));
    else
        explain_span(b, maximum_time(context->sheet, context->item));
    explain_maximum_made(b, context);
}

static void explain_limits(struct textbuf *b, const struct explain_context *context,
                           const struct scored_point *sp) {
    if (sp->maximum_fault >= 0) {
        textbuf_printf(b, ", %s: ", context->item->faults[sp->maximum_fault].name);
        explain_maximum(b, context);
        textbuf_puts(b, ", and no other fault is added");
    } else if (sp->actual > sp->raw) {
        textbuf_puts(b, ", raised to the bogey ");
        duration_write_words(b, sp->actual);
    } else if (sp->actual < sp->raw) {
        textbuf_puts(b, ", held to ");
        explain_maximum(b, context);
    }
}

static void explain_elapsed(struct textbuf *b, const struct scored_point *sp) {
    if (sp->base != TIME_NONE) {
        textbuf_puts(b, "Start ");
        explain_reading(b, sp->base_read, sp->base);
        textbuf_puts(b, ", finish ");
        explain_reading(b, sp->reading->time, sp->base + sp->raw);
        textbuf_puts(b, sp->raw < 0 ? ", before the start by " : ": ");
        duration_write_words(b, sp->raw);
    } else {
        textbuf_puts(b, "Measured ");
        explain_duration(b, sp->reading->elapsed, sp->raw);
    }
}

/* What a car is behind, up to the difference: "; behind the best of the class, 41 s (car 5): ". */
static void explain_behind(struct textbuf *b, const struct explain_context *context,
                           const struct scored_point *sp) {
    const struct special_test *own = special_test_of(context->item);
    const struct score_sheet *sheet = context->sheet;
    const struct best *best =
        bests_of(sheet->bests, sheet->event, context->item, own->scope, sheet->car);
    textbuf_puts(b, "; behind ");
    explain_whose(b, own, own->scope, best->preferred);
    /* Only the best without faults can be slower than a car that is not disqualified. */
    if (own->ground == BEST_FAULTLESS && best->value != TIME_NONE && best->value > sp->best) {
        explain_best(b, context, own, best->value, best->car);
        textbuf_puts(b, ", which it beats");
    } else {
        explain_best(b, context, own, sp->best, sp->best_car);
    }
    textbuf_puts(b, ": ");
}

/* What of the elapsed time is charged; nothing is written where it is all. */
static void explain_charged(struct textbuf *b, const struct explain_context *context,
                            const struct scored_point *sp) {
    const struct special_test *own = special_test_of(context->item);
    if (own->method == METHOD_OVER_BOGEY) {
        textbuf_puts(b, "; over the bogey of ");
        duration_write_words(b, own->bogey);
        textbuf_puts(b, ": ");
        duration_write_words(b, sp->charged_ms);
    } else if (own->method == METHOD_BEHIND_BEST && own->ground != BEST_RESULT) {
        explain_behind(b, context, sp);
        duration_write_words(b, sp->charged_ms);
    }
    textbuf_puts(b, "; ");
}

static void explain_time_cost(struct textbuf *b, const struct penalty_rule *rule,
                              const struct scored_point *sp) {
    const struct price *price = &sp->price;
    if (price->within_grace) {
        textbuf_puts(b, "within the grace of ");
        duration_write_words(b, rule->grace);
        textbuf_puts(b, ": nothing for time");
        return;
    }
    if (price->deducted) {
        textbuf_puts(b, "less the grace of ");
        duration_write_words(b, rule->grace);
        textbuf_puts(b, ": ");
    }
    if (rule->charge[SIDE_LATE] == CHARGE_FAILS) {
        int fails = price->fails - sp->fault_fails;
        textbuf_printf(b, "%d fail%s for time", fails, fails == 1 ? "" : "s");
        return;
    }
    if (rule->charge[SIDE_LATE] == CHARGE_ONCE && price->charged == 0) {
        textbuf_puts(b, "nothing for time");
        return;
    }
    if (rule->charge[SIDE_LATE] == CHARGE_STEPS || rule->part) {
        explain_units(b, rule, price->units);
        textbuf_puts(b, " at ");
    } else if (rule->charge[SIDE_LATE] == CHARGE_RATE) {
        textbuf_printf(b, "%lld at ", (long long)price->units);
    }
    explain_charge(b, rule, SIDE_LATE, price->units);
}

/* From the cost of time and faults together to what is charged of it. */
static void explain_compared(struct textbuf *b, const struct explain_context *context,
                             const struct scored_point *sp) {
    const struct special_test *own = special_test_of(context->item);
    int64_t together = decimal_add(sp->price.uncapped, sp->fault_penalty);
    int64_t limit = maximum_cost(context->sheet, context->item);
    if (sp->maximum_fault < 0 && limit != TIME_NONE && together > limit) {
        textbuf_puts(b, ", held to ");
        explain_maximum(b, context);
    }
    if (own->method != METHOD_BEHIND_BEST)
        return;
    explain_behind(b, context, sp);
    explain_penalty(b, sp->uncapped);
}

/* What time and faults cost, from the held elapsed on. */
static void explain_run_cost(struct textbuf *b, const struct explain_context *context,
                             const struct scored_point *sp) {
    const struct item *item = context->item;
    bool result = special_test_of(item)->ground == BEST_RESULT;
    if (sp->actual != TIME_NONE) {
        explain_charged(b, context, sp);
        explain_time_cost(b, &item->rule, sp);
        if (sp->maximum_fault < 0) {
            (void)explain_told_faults(b, context, attempt_start(item, sp->attempt), " + ");
            (void)explain_told_faults(b, context, attempt_finish(item, sp->attempt), " + ");
        }
        if (item->rule.charge[SIDE_LATE] != CHARGE_FAILS || sp->uncapped > 0) {
            textbuf_puts(b, " = ");
            explain_penalty(b, result ? decimal_add(sp->price.uncapped, sp->fault_penalty)
                                      : sp->uncapped);
        }
    }
    if (result)
        explain_compared(b, context, sp);
    if (sp->capped) {
        textbuf_puts(b, ", held to the cap of ");
        explain_penalty(b, item->rule.cap[SIDE_LATE]);
    }
    if (sp->fault_fails > 0)
        textbuf_printf(b, ", and %d fail%s for faults", sp->fault_fails,
                       sp->fault_fails == 1 ? "" : "s");
}

/* Of an attempt that was not completed, why. */
static void explain_lacking(struct textbuf *b, const struct explain_context *context,
                            const struct scored_point *sp) {
    const struct item *item = context->item;
    const struct score_sheet *sheet = context->sheet;
    struct fault_sum faults;
    switch (sp->cause) {
    case CAUSE_FAULT:
        faults = faults_of(sheet, sheet->car, item, sp->attempt,
                           sheet->counted[attempt_start(item, sp->attempt)], sp->reading);
        textbuf_printf(b, "%s: missed, whatever was read", item->faults[faults.missed].name);
        break;
    case CAUSE_LATENESS_HOLDS:
        if (sp->raw != TIME_NONE)
            explain_elapsed(b, sp);
        else
            textbuf_puts(b, "Finished");
        textbuf_puts(b, ", but too late on the road");
        break;
    case CAUSE_NO_BEST:
        explain_elapsed(b, sp);
        textbuf_printf(b, ", %s: the maximum, but there is no best that it follows from",
                       item->faults[sp->maximum_fault].name);
        break;
    case CAUSE_NO_START:
        textbuf_puts(b, "Finished ");
        time_write_short(b, sp->reading->time);
        textbuf_puts(b, ", but there is no start to measure from");
        break;
    default:
        textbuf_puts(b, score_sheet_absent(sheet, sheet->car, attempt_finish(item, sp->attempt))
                            ? "Out of the event here"
                            : "No finish");
        break;
    }
}

void attempt_explain(struct textbuf *b, const struct explain_context *context,
                     const struct scored_point *sp) {
    if (sp->cause != CAUSE_NONE) {
        explain_lacking(b, context, sp);
        return;
    }
    explain_elapsed(b, sp);
    explain_limits(b, context, sp);
    explain_run_cost(b, context, sp);
}

void attempt_explain_missed(struct textbuf *b, const struct explain_context *context) {
    const struct item *item = context->item;
    struct scored_point sp;
    if (!item->rule.missed_maximum)
        return;
    if (!has_maximum(context->sheet, item)) {
        textbuf_puts(b, "there is no best that the maximum follows from");
        return;
    }
    work_maximum(context->sheet, item, &sp);
    textbuf_puts(b, "as at ");
    explain_maximum(b, context);
    explain_run_cost(b, context, &sp);
}
