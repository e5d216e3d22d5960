/* SPDX-License-Identifier: MIT */
/* Special tests: an elapsed time between bogey and maximum, and faults. */
#include "base/err.h"
#include "event/faults.h"
#include "event/kind.h"
#include "event/route.h"
#include "format/json_read.h"
#include "scoring/explain.h"
#include "scoring/kinds/special_test.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {"bogey",  "maximum",  "method", "scope",
                                   "faults", "test_cap", NULL};

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
    faults_read(reader, object, place, true, item);
}

static int lay_out(struct rules *rules, int item) {
    int err = route_add_point(rules, item, ROLE_START, 0, "start", NOT_SCORED);
    return err != ERR_OK ? err
                         : route_add_point(rules, item, ROLE_FINISH, 0, "finish", SCORED_AS_ITEM);
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    if (point->role == ROLE_START)
        return reading->time == TIME_NONE ? "a start takes a time of day" : NULL;
    return reading->time == TIME_NONE && reading->elapsed == TIME_NONE
               ? "a finish takes a time of day or an elapsed"
               : NULL;
}

static bool elapsed(const struct score_sheet *sheet, const struct item *item,
                    const struct reading *start, const struct reading *finish,
                    struct scored_point *w) {
    const struct special_test *own = special_test_of(item);
    w->durations = true;
    w->reading = finish;
    if (finish == NULL || (finish->elapsed == TIME_NONE && start == NULL)) {
        int missing = item->first_point + (finish == NULL ? 1 : 0);
        scored_point_lacks(w, finish == NULL ? CAUSE_NO_READING : CAUSE_NO_START,
                           sheet->view->open[missing]);
        return false;
    }
    if (finish->elapsed != TIME_NONE) {
        w->raw = time_truncate(finish->elapsed, item->rule.precision);
    } else {
        w->base_point = item->first_point;
        w->base_read = start->time;
        w->base = time_truncate(start->time, item->rule.precision);
        w->raw = time_truncate(finish->time, item->rule.precision) - w->base;
    }
    w->actual = w->raw;
    w->maximum_fault = faults_maximum(item, start);
    if (w->maximum_fault < 0)
        w->maximum_fault = faults_maximum(item, finish);
    if (w->maximum_fault >= 0)
        w->actual = own->maximum;
    if (own->bogey != TIME_NONE && w->actual < own->bogey)
        w->actual = own->bogey;
    if (own->maximum != TIME_NONE && w->actual > own->maximum)
        w->actual = own->maximum;
    return true;
}

/* What of the elapsed time is charged, as the method says. */
static void find_charged(const struct score_sheet *sheet, const struct item *item,
                         struct scored_point *w) {
    const struct special_test *own = special_test_of(item);
    int class_index = sheet->event->entries->list[sheet->car].class_index;
    int place = (int)(item - sheet->event->rules->items);
    size_t cell;
    switch (own->method) {
    case METHOD_ELAPSED:
        w->charged_ms = w->actual;
        break;
    case METHOD_OVER_BOGEY:
        w->due = own->bogey;
        w->charged_ms = w->actual - own->bogey;
        break;
    case METHOD_BEHIND_BEST:
        cell = (size_t)place * (size_t)sheet->bests->stride +
               (size_t)(own->scope_class ? 1 + class_index : 0);
        w->best = sheet->bests->of[cell];
        w->best_car = sheet->bests->by[cell];
        /* A disqualified car may be faster than the best of those that count. */
        if (w->best == TIME_NONE || w->best >= w->actual) {
            w->best = w->actual;
            w->best_car = sheet->car;
        }
        w->due = w->best;
        w->charged_ms = w->actual - w->best;
        break;
    }
    w->deviation = w->charged_ms;
}

static void score(struct score_sheet *sheet, const struct item *item) {
    struct scored_point *w = score_sheet_scored(sheet, item, 0);
    const struct reading *start = sheet->counted[item->first_point];
    const struct reading *finish = sheet->counted[item->first_point + 1];
    if (!elapsed(sheet, item, start, finish, w)) {
        score_sheet_assess(sheet, item, w);
        return;
    }
    find_charged(sheet, item, w);
    struct penalty_rule uncapped = item->rule;
    uncapped.cap[SIDE_LATE] = CAP_NONE; /* the cap is on time and faults together */
    /* A finish before the start is a wrong clock: no time is charged, and `cairn check` reports it.
     */
    w->price = penalty_price(&uncapped, w->charged_ms > 0 ? w->charged_ms : 0);
    if (w->maximum_fault < 0)
        w->fault_penalty = faults_cost(item, start) + faults_cost(item, finish);
    w->faulted = faults_any(start) || faults_any(finish);
    w->uncapped = w->price.penalty + w->fault_penalty;
    w->capped = w->uncapped > item->rule.cap[SIDE_LATE];
    w->price.penalty = w->capped ? item->rule.cap[SIDE_LATE] : w->uncapped;
    score_sheet_assess(sheet, item, w);
}

static void explain_limits(struct textbuf *b, const struct item *item,
                           const struct scored_point *w) {
    const struct special_test *own = special_test_of(item);
    if (w->maximum_fault >= 0) {
        textbuf_printf(b, ", %s: the maximum ", item->faults[w->maximum_fault].name);
        duration_write_words(b, own->maximum);
        textbuf_puts(b, ", and no other fault is added");
    } else if (w->actual > w->raw) {
        textbuf_puts(b, ", raised to the bogey ");
        duration_write_words(b, w->actual);
    } else if (w->actual < w->raw) {
        textbuf_puts(b, ", held to the maximum ");
        duration_write_words(b, w->actual);
    }
}

static void explain_elapsed(struct textbuf *b, const struct scored_point *w) {
    if (w->base != TIME_NONE) {
        textbuf_puts(b, "Start ");
        explain_reading(b, w->base_read, w->base);
        textbuf_puts(b, ", finish ");
        explain_reading(b, w->reading->time, w->base + w->raw);
        textbuf_puts(b, w->raw < 0 ? ", before the start by " : ": ");
        duration_write_words(b, w->raw);
    } else {
        textbuf_puts(b, "Measured ");
        explain_duration(b, w->reading->elapsed, w->raw);
    }
}

/* What of the elapsed time is charged; nothing is written where it is all. */
static void explain_charged(struct textbuf *b, const struct explain_context *context,
                            const struct scored_point *w) {
    const struct special_test *own = special_test_of(context->item);
    if (own->method == METHOD_OVER_BOGEY) {
        textbuf_puts(b, "; over the bogey of ");
        duration_write_words(b, own->bogey);
        textbuf_puts(b, ": ");
        duration_write_words(b, w->charged_ms);
    } else if (own->method == METHOD_BEHIND_BEST) {
        textbuf_puts(b,
                     own->scope_class ? "; behind the best of the class, " : "; behind the best, ");
        explain_span(b, w->best);
        if (w->best_car == context->sheet->car)
            textbuf_puts(b, " (its own): ");
        else
            textbuf_printf(b, " (car %d): ", context->event->entries->list[w->best_car].number);
        duration_write_words(b, w->charged_ms);
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
    if (rule->fails[SIDE_LATE] > 0) {
        textbuf_printf(b, "%d fail%s for time", price->fails, price->fails == 1 ? "" : "s");
        return;
    }
    textbuf_printf(b, "%lld at ", (long long)price->units);
    explain_penalty(b, rule->rate[SIDE_LATE]);
    textbuf_printf(b, " a %s", unit_name(rule->per));
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *w) {
    const struct item *item = context->item;
    if (w->reading == NULL)
        return;
    if (w->raw == TIME_NONE) {
        textbuf_puts(b, "Finished ");
        time_write_short(b, w->reading->time);
        textbuf_puts(b, ", but there is no start to measure from. ");
        return;
    }
    explain_elapsed(b, w);
    explain_limits(b, item, w);
    explain_charged(b, context, w);
    explain_time_cost(b, &item->rule, &w->price);
    if (w->maximum_fault < 0) {
        (void)explain_faults(b, item, context->sheet->counted[item->first_point], " + ");
        (void)explain_faults(b, item, w->reading, " + ");
    }
    if (item->rule.fails[SIDE_LATE] == 0 || w->uncapped > 0) {
        textbuf_puts(b, " = ");
        explain_penalty(b, w->uncapped);
    }
    if (w->capped) {
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
    .keys = keys,
    .own_size = sizeof(struct special_test),
    .read = read,
    .lay_out = lay_out,
    .refusal = refusal,
    .score = score,
    .elapsed = elapsed,
    .explain = explain,
};
