/* SPDX-License-Identifier: MIT */
/* Time controls: due times in both timings, lateness carried, departures. */
#include "base/err.h"
#include "event/kind.h"
#include "event/route.h"
#include "event/schedule.h"
#include "format/json_read.h"
#include "scoring/explain_road.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {"target", "halt", "main", "shortest", "early_from", NULL};

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    (void)part;
    schedule_read_control(reader, object, place, &item->road);
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

/* How far the counted arrival is off: late against due, early against scheduled or due. */
static int64_t clock_deviation(bool early_from_due, const struct scored_point *sp) {
    if (sp->actual > sp->due || early_from_due)
        return sp->actual - sp->due;
    return sp->actual < sp->scheduled ? sp->actual - sp->scheduled : 0;
}

/* A car may be late on the clock and too soon after the control before: each is charged. */
static void add_soon(struct passing *passing, const struct item *item, struct scored_point *sp) {
    struct scored_point soon = {.deviation = -passing->lacking};
    scored_point_price(&soon, &item->rule);
    passing->late = sp->price;
    passing->soon = soon.price;
    sp->outcome = soon.outcome;
    sp->cause = soon.cause;
    sp->price.penalty += soon.price.penalty;
    if (item->rule.cap_is_one && sp->price.penalty > item->rule.cap[SIDE_LATE])
        sp->price.penalty = item->rule.cap[SIDE_LATE];
    sp->price.fails += soon.price.fails;
}

/* Where a car must take a shortest time; one that lacks nothing of it is no time too soon. Nothing
 * is lacking where it was not read at the road point before. */
static void price_with_shortest(const struct score_sheet *sheet, const struct item *item,
                                struct scored_point *sp) {
    struct passing *passing = &sheet->passings[item->place];
    const struct road *road = &sheet->road;
    int64_t lacking = road->departure.time + item->road.shortest - sp->actual;
    bool late = sp->deviation > 0;
    passing->lacking = lacking > 0 && road->preceding_read ? lacking : 0;
    if (!late && -passing->lacking < sp->deviation)
        sp->deviation = -passing->lacking;
    scored_point_price(sp, &item->rule);
    if (late && sp->outcome == OUTCOME_PRICED)
        add_soon(passing, item, sp);
}

static void price_arrival(const struct score_sheet *sheet, const struct item *item,
                          struct scored_point *sp) {
    bool early_from_due = !sheet->event->rules->scoring.scheduled || item->road.early_from_due;
    sp->deviation = clock_deviation(early_from_due, sp);
    if (item->road.shortest == TIME_NONE)
        scored_point_price(sp, &item->rule);
    else
        price_with_shortest(sheet, item, sp);
    if (sp->outcome == OUTCOME_PRICED && road_is_beyond(sheet, &sheet->road, sp)) {
        struct passing *passing = &sheet->passings[item->place];
        sp->outcome = OUTCOME_MISSED;
        sp->cause = CAUSE_MAX_LATENESS;
        passing->late_since = sheet->road.late_since;
        passing->late_sum = sheet->road.late_sum + road_lateness(sp);
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
    road_leave(sheet, &sheet->road, item, sp, sheet->counted[item->first_point + 1]);
}

/* Late and too soon: both costs, and what they come to. */
static void explain_both(struct textbuf *b, const struct explain_context *context,
                         const struct scored_point *sp) {
    const struct passing *passing = &context->sheet->passings[context->item->place];
    struct scored_point late = *sp;
    late.cause = CAUSE_NONE;
    late.price = passing->late;
    explain_deviation(b, &context->item->rule, &late, &explain_clock);
    textbuf_puts(b, "; and ");
    explain_road_soon(b, context, sp);
    int64_t sum = passing->late.penalty + passing->soon.penalty;
    if (sp->cause != CAUSE_NONE || sum == 0)
        return;
    textbuf_puts(b, "; in all ");
    explain_penalty(b, sum);
    if (sum > sp->price.penalty) {
        textbuf_puts(b, ", held to the cap of ");
        explain_penalty(b, sp->price.penalty);
    }
}

/* What the clock says, or the shortest time, or both. */
static void explain_off(struct textbuf *b, const struct explain_context *context,
                        const struct scored_point *sp) {
    int64_t lacking = context->item->road.shortest == TIME_NONE
                          ? 0
                          : context->sheet->passings[context->item->place].lacking;
    if (lacking > 0 && sp->deviation == -lacking) {
        explain_road_soon(b, context, sp);
        return;
    }
    if (lacking > 0 && sp->deviation > 0 && sp->cause != CAUSE_LATE_LIMIT) {
        explain_both(b, context, sp);
        return;
    }
    if (sp->deviation < 0 && sp->carried > 0 && context->event->rules->scoring.scheduled &&
        !context->item->road.early_from_due)
        textbuf_puts(b, "against the scheduled time ");
    explain_deviation(b, &context->item->rule, sp, &explain_clock);
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    explain_road_due(b, context, sp);
    if (sp->reading == NULL)
        return;
    textbuf_puts(b, "Arrived ");
    explain_reading(b, sp->reading->time, sp->actual);
    if (sp->cause == CAUSE_MAX_LATENESS) {
        explain_road_beyond(b, context, sp);
    } else if (sp->deviation == 0 && sp->actual != sp->due) {
        textbuf_puts(b, ": between scheduled and due, no penalty");
    } else {
        textbuf_puts(b, ": ");
        explain_off(b, context, sp);
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
