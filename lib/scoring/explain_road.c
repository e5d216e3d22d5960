/* SPDX-License-Identifier: MIT */
#include "scoring/explain_road.h"

void explain_road_due(struct textbuf *b, const struct explain_context *context,
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
        textbuf_printf(b, " late carried from %s",
                       rules->items[rules->points[sp->base_point].item].id);
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

static bool is_cumulative(const struct scoring *scoring) {
    return scoring->lateness_cumulative && !scoring->scheduled;
}

static const struct passing *passing_of(const struct explain_context *context) {
    return &context->sheet->passings[context->item->place];
}

/* ": 7 min late, with 9 min before it 16 min since the start of the day, more than ". */
static void explain_sum(struct textbuf *b, const struct explain_context *context, int64_t late) {
    const struct passing *passing = passing_of(context);
    textbuf_puts(b, ": ");
    if (late > 0 && late < passing->late_sum) {
        duration_write_words(b, late);
        textbuf_puts(b, " late, with ");
        duration_write_words(b, passing->late_sum - late);
        textbuf_puts(b, " before it ");
    }
    duration_write_words(b, passing->late_sum);
    textbuf_printf(b, " late in all since %s, more than ",
                   passing->late_since < 0 ? "the start of the day"
                                           : context->event->rules->items[passing->late_since].id);
}

void explain_road_beyond(struct textbuf *b, const struct explain_context *context,
                         const struct scored_point *sp) {
    const struct scoring *scoring = &context->event->rules->scoring;
    if (is_cumulative(scoring)) {
        explain_sum(b, context, road_lateness(sp));
    } else {
        textbuf_puts(b, ": later than scheduled ");
        time_write_short(b, sp->scheduled);
        if (!scoring->scheduled)
            explain_scheduled(b, sp);
        textbuf_puts(b, " by more than ");
    }
    duration_write_words(b, scoring->max_lateness);
}

void explain_road_soon(struct textbuf *b, const struct explain_context *context,
                       const struct scored_point *sp) {
    const struct passing *passing = passing_of(context);
    struct scored_point soon = *sp;
    soon.deviation = -passing->lacking;
    if (sp->deviation > 0)
        soon.price = passing->soon;
    explain_left(b, context, sp, "the start of the day", "left");
    textbuf_puts(b, ", at least ");
    duration_write_words(b, context->item->road.shortest);
    textbuf_puts(b, ": ");
    explain_deviation(b, &context->item->rule, &soon, &explain_clock);
}

void explain_road_end(struct textbuf *b, const struct explain_context *context) {
    const struct scored_point *end = &context->sheet->ends[context->item->place];
    const struct scoring *scoring = &context->event->rules->scoring;
    if (end->reading == NULL)
        return;
    textbuf_puts(b, "On the road: ");
    explain_road_due(b, context, end);
    textbuf_puts(b, "Counted there as ");
    time_write_short(b, end->actual);
    if (scoring->scheduled && end->actual > end->scheduled) {
        textbuf_puts(b, ", ");
        duration_write_words(b, end->actual - end->scheduled);
        textbuf_puts(b, " late carried on");
    } else if (road_lateness(end) > 0) {
        textbuf_puts(b, ", ");
        duration_write_words(b, road_lateness(end));
        textbuf_puts(b, " late");
    }
    textbuf_puts(b, ". ");
}

bool explain_road_is_held(const struct explain_context *context, const struct scored_point *sp) {
    return context->event->rules->scoring.max_lateness_holds && sp->reading != NULL &&
           passing_of(context)->held_since >= 0;
}

void explain_road_hold(struct textbuf *b, const struct explain_context *context) {
    const struct rules *rules = context->event->rules;
    textbuf_printf(b, "Since %s more than ", rules->items[passing_of(context)->held_since].id);
    duration_write_words(b, rules->scoring.max_lateness);
    textbuf_printf(b, " late%s: missed, ", is_cumulative(&rules->scoring) ? " in all" : "");
}
