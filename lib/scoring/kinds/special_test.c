/* SPDX-License-Identifier: MIT */
/* Special tests: an elapsed time between bogey and maximum, and faults. */
#include "scoring/kinds/special_test.h"

#include "base/err.h"
#include "event/faults.h"
#include "event/kind.h"
#include "event/route.h"
#include "format/json_read.h"
#include "scoring/bests.h"
#include "scoring/explain_faults.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {"bogey",    "maximum", "method", "scope",
                                   "test_cap", "counts",  NULL};

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    struct special_test *own = part;
    static const char *const methods[] = {"elapsed", "over-bogey", "behind-best", NULL};
    static const char *const scopes[] = {"overall", "class", NULL};
    int choice = METHOD_ELAPSED;
    own->bogey = own->maximum = TIME_NONE;
    (void)json_get_duration(reader, object, place, "bogey", false, &own->bogey);
    (void)json_get_duration(reader, object, place, "maximum", false, &own->maximum);
    if (own->bogey != TIME_NONE && own->maximum != TIME_NONE && own->maximum < own->bogey)
        json_wrong(reader, place, "maximum", "is below the bogey");
    if (json_get_choice(reader, object, place, "method", false, methods, &choice))
        own->method = (enum special_method)choice;
    if (own->method == METHOD_OVER_BOGEY && json_object_get(object, "bogey") == NULL)
        json_wrong(reader, place, "bogey", "is missing: the method counts what is over it");
    if (json_get_choice(reader, object, place, "scope", false, scopes, &choice))
        own->scope_class = choice == 1;
    item->behind_best = own->method == METHOD_BEHIND_BEST;
}

static int lay_out(struct rules *rules, int item) {
    int err = route_add_point(rules, item, POINT_START, 0, "start", NOT_SCORED);
    return err != ERR_OK ? err
                         : route_add_point(rules, item, POINT_FINISH, 0, "finish", SCORED_AS_ITEM);
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    if (point->role == POINT_START)
        return reading->time == TIME_NONE ? "a start takes a time of day" : NULL;
    return reading->time == TIME_NONE && reading->elapsed == TIME_NONE
               ? "a finish takes a time of day or an elapsed"
               : NULL;
}

static bool elapsed(const struct score_sheet *sheet, const struct item *item,
                    const struct reading *start, const struct reading *finish,
                    struct scored_point *sp) {
    const struct special_test *own = special_test_of(item);
    sp->durations = true;
    sp->reading = finish;
    if (finish == NULL || (finish->elapsed == TIME_NONE && start == NULL)) {
        int missing = item->first_point + (finish == NULL ? 1 : 0);
        scored_point_lacks(sp, finish == NULL ? CAUSE_NO_READING : CAUSE_NO_START,
                           sheet->view->open[missing]);
        return false;
    }
    if (finish->elapsed != TIME_NONE) {
        sp->raw = time_truncate(finish->elapsed, item->rule.precision);
    } else {
        sp->base_point = item->first_point;
        sp->base_read = start->time;
        sp->base = time_truncate(start->time, item->rule.precision);
        sp->raw = time_truncate(finish->time, item->rule.precision) - sp->base;
    }
    sp->actual = sp->raw;
    sp->maximum_fault = faults_maximum(item, start);
    if (sp->maximum_fault < 0)
        sp->maximum_fault = faults_maximum(item, finish);
    if (sp->maximum_fault >= 0)
        sp->actual = own->maximum;
    if (own->bogey != TIME_NONE && sp->actual < own->bogey)
        sp->actual = own->bogey;
    if (own->maximum != TIME_NONE && sp->actual > own->maximum)
        sp->actual = own->maximum;
    return true;
}

/* What of the elapsed time is charged, as the method says. */
static void find_charged(const struct score_sheet *sheet, const struct item *item,
                         struct scored_point *sp) {
    const struct special_test *own = special_test_of(item);
    int class_index = sheet->event->entries->list[sheet->car].class_index;
    int place = item->place;
    size_t cell;
    switch (own->method) {
    case METHOD_ELAPSED:
        sp->charged_ms = sp->actual;
        break;
    case METHOD_OVER_BOGEY:
        sp->due = own->bogey;
        sp->charged_ms = sp->actual - own->bogey;
        break;
    case METHOD_BEHIND_BEST:
        cell = (size_t)place * (size_t)sheet->bests->stride +
               (size_t)(own->scope_class ? 1 + class_index : 0);
        sp->best = sheet->bests->of[cell];
        sp->best_car = sheet->bests->by[cell];
        /* A disqualified car may be faster than the best of those that count. */
        if (sp->best == TIME_NONE || sp->best >= sp->actual) {
            sp->best = sp->actual;
            sp->best_car = sheet->car;
        }
        sp->due = sp->best;
        sp->charged_ms = sp->actual - sp->best;
        break;
    }
    sp->deviation = sp->charged_ms;
}

static void score(struct score_sheet *sheet, const struct item *item) {
    struct scored_point *sp = score_sheet_scored(sheet, item, 0);
    const struct reading *start = sheet->counted[item->first_point];
    const struct reading *finish = sheet->counted[item->first_point + 1];
    if (!elapsed(sheet, item, start, finish, sp)) {
        score_sheet_assess(sheet, item, sp);
        return;
    }
    find_charged(sheet, item, sp);
    struct penalty_rule uncapped = item->rule;
    uncapped.cap[SIDE_LATE] = CAP_NONE; /* the cap is on time and faults together */
    /* A finish before the start is a wrong clock: no time is charged, and `cairn check` reports it.
     */
    sp->price = penalty_price(&uncapped, sp->charged_ms > 0 ? sp->charged_ms : 0);
    if (sp->maximum_fault < 0)
        sp->fault_penalty = faults_cost(item, start) + faults_cost(item, finish);
    sp->faulted = faults_any(start) || faults_any(finish);
    sp->uncapped = sp->price.penalty + sp->fault_penalty;
    sp->capped = sp->uncapped > item->rule.cap[SIDE_LATE];
    sp->price.penalty = sp->capped ? item->rule.cap[SIDE_LATE] : sp->uncapped;
    score_sheet_assess(sheet, item, sp);
}

/* Its held elapsed. */
static int64_t tie_time(const struct score_sheet *sheet, const struct item *item) {
    return sheet->scored[item->first_scored].actual;
}

static void explain_limits(struct textbuf *b, const struct item *item,
                           const struct scored_point *sp) {
    const struct special_test *own = special_test_of(item);
    if (sp->maximum_fault >= 0) {
        textbuf_printf(b, ", %s: the maximum ", item->faults[sp->maximum_fault].name);
        duration_write_words(b, own->maximum);
        textbuf_puts(b, ", and no other fault is added");
    } else if (sp->actual > sp->raw) {
        textbuf_puts(b, ", raised to the bogey ");
        duration_write_words(b, sp->actual);
    } else if (sp->actual < sp->raw) {
        textbuf_puts(b, ", held to the maximum ");
        duration_write_words(b, sp->actual);
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

/* What of the elapsed time is charged; nothing is written where it is all. */
static void explain_charged(struct textbuf *b, const struct explain_context *context,
                            const struct scored_point *sp) {
    const struct special_test *own = special_test_of(context->item);
    if (own->method == METHOD_OVER_BOGEY) {
        textbuf_puts(b, "; over the bogey of ");
        duration_write_words(b, own->bogey);
        textbuf_puts(b, ": ");
        duration_write_words(b, sp->charged_ms);
    } else if (own->method == METHOD_BEHIND_BEST) {
        textbuf_puts(b,
                     own->scope_class ? "; behind the best of the class, " : "; behind the best, ");
        explain_span(b, sp->best);
        if (sp->best_car == context->sheet->car)
            textbuf_puts(b, " (its own): ");
        else
            textbuf_printf(b, " (car %d): ", context->event->entries->list[sp->best_car].number);
        duration_write_words(b, sp->charged_ms);
    }
    textbuf_puts(b, "; ");
}

static void explain_time_cost(struct textbuf *b, const struct penalty_rule *rule,
                              const struct price *price) {
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
        textbuf_printf(b, "%d fail%s for time", price->fails, price->fails == 1 ? "" : "s");
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

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    const struct item *item = context->item;
    if (sp->reading == NULL)
        return;
    if (sp->raw == TIME_NONE) {
        textbuf_puts(b, "Finished ");
        time_write_short(b, sp->reading->time);
        textbuf_puts(b, ", but there is no start to measure from. ");
        return;
    }
    explain_elapsed(b, sp);
    explain_limits(b, item, sp);
    explain_charged(b, context, sp);
    explain_time_cost(b, &item->rule, &sp->price);
    if (sp->maximum_fault < 0) {
        (void)explain_told_faults(b, context, item->first_point, " + ");
        (void)explain_told_faults(b, context, item->first_point + 1, " + ");
    }
    if (item->rule.fails[SIDE_LATE] == 0 || sp->uncapped > 0) {
        textbuf_puts(b, " = ");
        explain_penalty(b, sp->uncapped);
    }
    if (sp->capped) {
        textbuf_puts(b, ", held to the cap of ");
        explain_penalty(b, item->rule.cap[SIDE_LATE]);
    }
    textbuf_puts(b, ". ");
}

const struct kind kind_special_test = {
    .name = "special-test",
    .words = "special test",
    .is_test = true,
    .may_hide = true,
    .faults = FAULTS_OF_ATTEMPT,
    .keys = keys,
    .own_size = sizeof(struct special_test),
    .read = read,
    .lay_out = lay_out,
    .refusal = refusal,
    .score = score,
    .elapsed = elapsed,
    .tie_time = tie_time,
    .explain = explain,
};
