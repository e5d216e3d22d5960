/* SPDX-License-Identifier: MIT */
#include "scoring/kinds/attempt_explain.h"

#include "base/decimal.h"
#include "scoring/explain_faults.h"
#include "scoring/kinds/attempt.h"
#include "scoring/kinds/special_limits.h"

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
        explain_penalty(b, special_price(context->item, own->plus).penalty);
        textbuf_puts(b, " for ");
    }
    duration_write_words(b, own->plus);
    textbuf_putc(b, ')');
}

/* "the maximum 1 min 11.2 s (…)". */
static void explain_maximum(struct textbuf *b, const struct explain_context *context) {
    textbuf_puts(b, "the maximum ");
    if (special_maximum_is_cost(special_test_of(context->item)))
        explain_penalty(b, special_maximum_cost(context->sheet, context->item));
    else
        explain_span(b, special_maximum_time(context->sheet, context->item));
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
    int64_t limit = special_maximum_cost(context->sheet, context->item);
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
        faults = attempt_faults(sheet, sheet->car, item, sp->attempt,
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
    if (!special_has_maximum(context->sheet, item)) {
        textbuf_puts(b, "there is no best that the maximum follows from");
        return;
    }
    attempt_at_maximum(context->sheet, item, &sp);
    textbuf_puts(b, "as at ");
    explain_maximum(b, context);
    explain_run_cost(b, context, &sp);
}
