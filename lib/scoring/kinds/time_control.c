/* SPDX-License-Identifier: MIT */
/* Time controls: due times in both timings, lateness carried, departures. */
#include "base/err.h"
#include "event/kind.h"
#include "event/route.h"
#include "format/json_read.h"
#include "scoring/explain.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {"target", "halt", "main", NULL};

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    (void)part;
    item->road.on = true;
    (void)json_get_duration(reader, object, place, "target", true, &item->road.target);
    (void)json_get_duration(reader, object, place, "halt", false, &item->road.halt);
    (void)json_get_flag(reader, object, place, "main", &item->road.main);
}

static int lay_out(struct rules *rules, int item) {
    int err = route_add_point(rules, item, POINT_ARRIVAL, 0, NULL, SCORED_AS_POINT);
    return err != ERR_OK ? err
                         : route_add_point(rules, item, POINT_DEPARTURE, 0, "out", NOT_SCORED);
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    (void)point;
    return reading->time == TIME_NONE ? "a time control takes a time of day" : NULL;
}

static void price_arrival(const struct score_sheet *sheet, const struct item *item,
                          struct scored_point *sp) {
    const struct scoring *scoring = &sheet->event->rules->scoring;
    if (!scoring->scheduled)
        sp->deviation = sp->actual - sp->due;
    else if (sp->actual < sp->scheduled)
        sp->deviation = sp->actual - sp->scheduled;
    else
        sp->deviation = sp->actual > sp->due ? sp->actual - sp->due : 0;
    if (scored_point_is_past_limit(sp, &item->rule))
        return;
    if (scoring->max_lateness != TIME_NONE && sp->actual > sp->scheduled + scoring->max_lateness) {
        sp->outcome = OUTCOME_MISSED;
        sp->cause = CAUSE_MAX_LATENESS;
    } else {
        sp->price = penalty_price(&item->rule, sp->deviation);
    }
}

static void score(struct score_sheet *sheet, const struct item *item) {
    struct scored_point *sp = score_sheet_scored(sheet, item, 0);
    road_arrive(sheet, &sheet->road, item, sp);
    if (sp->reading != NULL)
        price_arrival(sheet, item, sp);
    else
        scored_point_lacks(sp, CAUSE_NO_READING, sheet->view->open[item->first_point]);
    score_sheet_assess(sheet, item, sp);
    road_leave(&sheet->road, item, sp, sheet->counted[item->first_point + 1]);
}

static void explain_due(struct textbuf *b, const struct explain_context *context,
                        const struct scored_point *sp) {
    const struct rules *rules = context->event->rules;
    bool scheduled = rules->scoring.scheduled;
    if (scheduled) {
        textbuf_puts(b, "Start ");
        time_write_short(b, sp->base);
    } else {
        explain_left(b, context, sp, "Start", "Left");
    }
    textbuf_puts(b, ", ");
    duration_write_words(b, sp->targets);
    textbuf_puts(b, " allowed");
    if (sp->halts > 0) {
        textbuf_puts(b, ", halts ");
        duration_write_words(b, sp->halts);
    }
    if (sp->allowance > 0) {
        textbuf_puts(b, ", allowance ");
        duration_write_words(b, sp->allowance);
    }
    if (scheduled && sp->carried > 0) {
        textbuf_puts(b, ": scheduled ");
        time_write_short(b, sp->scheduled);
        textbuf_puts(b, ", ");
        duration_write_words(b, sp->carried);
        textbuf_printf(b, " late carried from %s", rules->items[sp->base_point].id);
    }
    textbuf_puts(b, ": due ");
    time_write_short(b, sp->due);
    textbuf_puts(b, ". ");
}

/* What `scheduled` is made of; written where the due time was not worked out from it. */
static void explain_scheduled(struct textbuf *b, const struct scored_point *sp) {
    textbuf_puts(b, " (start ");
    time_write_short(b, sp->day_start);
    textbuf_puts(b, " + ");
    duration_write_words(b, sp->day_targets);
    textbuf_puts(b, " allowed");
    if (sp->day_halts > 0) {
        textbuf_puts(b, " + halts ");
        duration_write_words(b, sp->day_halts);
    }
    if (sp->day_allowances > 0) {
        textbuf_puts(b, " + allowance ");
        duration_write_words(b, sp->day_allowances);
    }
    textbuf_putc(b, ')');
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    const struct scoring *scoring = &context->event->rules->scoring;
    explain_due(b, context, sp);
    if (sp->reading == NULL)
        return;
    textbuf_puts(b, "Arrived ");
    explain_reading(b, sp->reading->time, sp->actual);
    if (sp->cause == CAUSE_MAX_LATENESS) {
        textbuf_puts(b, ": later than scheduled ");
        time_write_short(b, sp->scheduled);
        if (!scoring->scheduled)
            explain_scheduled(b, sp);
        textbuf_puts(b, " by more than ");
        duration_write_words(b, scoring->max_lateness);
    } else if (sp->deviation == 0 && sp->actual != sp->due) {
        textbuf_puts(b, ": between scheduled and due, no penalty");
    } else {
        textbuf_puts(b, ": ");
        if (scoring->scheduled && sp->deviation < 0 && sp->carried > 0)
            textbuf_puts(b, "against the scheduled time ");
        explain_deviation(b, &context->item->rule, sp, &explain_clock);
    }
    textbuf_puts(b, ". ");
}

const struct kind kind_time_control = {
    .name = "time-control",
    .words = "time control",
    .keys = keys,
    .read = read,
    .lay_out = lay_out,
    .refusal = refusal,
    .score = score,
    .explain = explain,
};
