/* SPDX-License-Identifier: MIT */
#include "scoring/kinds/checks_and_pads.h"

#include <stdio.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/kind.h"
#include "event/route.h"
#include "event/schedule.h"
#include "format/json_read.h"

void checks_and_pads_read(const struct json_reader *reader, const json_t *object,
                          const struct json_place *place, bool previous, struct item *item,
                          struct checks_and_pads *out) {
    static const char *const froms[] = {"start", "previous", NULL};
    static const char *const starts[] = {"reading", "control", NULL};
    int choice;
    out->from_previous = previous;
    if (json_get_choice(reader, object, place, "measured", false, froms, &choice))
        out->from_previous = choice == 1;
    bool told = json_object_get(object, "start") != NULL;
    if (json_get_choice(reader, object, place, "start", false, starts, &choice)) {
        out->start_control = choice == 1;
        told = false;
    }
    if (json_get_duration(reader, object, place, "start_after", false, &out->start_after) &&
        !out->start_control && !told)
        json_wrong(reader, place, "start_after", "goes with “start”: “control” only");
    schedule_read_finish(reader, object, place, &item->road);
}

void checks_and_pads_read_rule(const struct json_reader *reader, const json_t *object,
                               const struct json_place *place, int n, size_t count,
                               struct item *item) {
    const json_t *penalty = json_object_get(object, "penalty");
    struct json_place at = {.up = place, .key = "penalty"};
    if (penalty == NULL)
        return;
    if (item->point_rules == NULL) {
        item->point_rules = arena_array(reader->arena, count, sizeof *item->point_rules);
        if (item->point_rules == NULL) {
            reader->problems->out_of_memory = true;
            return;
        }
        for (size_t i = 0; i < count; i++)
            item->point_rules[i] = item->rule;
    }
    item->point_rules[n - 1].own = true;
    penalty_rule_read(reader, penalty, &at, &item->point_rules[n - 1]);
    penalty_refuse_maximum(reader, &at, &item->point_rules[n - 1]);
    penalty_rule_complete(reader, penalty, &at, &item->point_rules[n - 1]);
}

bool checks_and_pads_is_off(const struct json_reader *reader, const json_t *value, int n,
                            size_t count, struct item *item) {
    if (!json_is_null(value) || item->base == NULL)
        return false;
    if (item->off_points == NULL)
        item->off_points = arena_array(reader->arena, count + 1, sizeof *item->off_points);
    if (item->off_points == NULL)
        reader->problems->out_of_memory = true;
    else
        item->off_points[n] = true;
    return true;
}

int checks_and_pads_lay_out(struct rules *rules, int item) {
    int err = route_add_point(rules, item, POINT_START, 0, "start", NOT_SCORED);
    for (int n = 1; err == ERR_OK && n <= checks_and_pads_of(&rules->items[item])->count; n++) {
        char suffix[16];
        (void)snprintf(suffix, sizeof suffix, "%d", n);
        err = route_add_point(rules, item, POINT_CHECK, n, suffix, SCORED_AS_POINT);
    }
    return err;
}

/* Where a point is measured from. */
struct base {
    int point; /* reading point; the start's for a start that follows from the control */
    bool from_control;
    int64_t read; /* TIME_NONE: there is nothing to measure from */
    int64_t time;
    int number; /* 0 the start, else of the check */
};

static bool is_off(const struct item *item, int n) {
    return item->off_points != NULL && item->off_points[n];
}

/* When a test that starts from the control before is to be started; TIME_NONE where nothing can be
 * told. */
static int64_t start_from_control(const struct score_sheet *sheet, const struct item *item) {
    const struct checks_and_pads *own = checks_and_pads_of(item);
    if (!own->start_control || !sheet->road.preceding_read)
        return TIME_NONE;
    return sheet->road.departure.time + own->start_after +
           rulings_allowance(sheet->event->rulings, sheet->car, item->first_point);
}

static struct base start_of(const struct score_sheet *sheet, const struct item *item) {
    const struct reading *reading = sheet->counted[item->first_point];
    struct base base = {.point = item->first_point, .read = TIME_NONE, .time = TIME_NONE};
    if (reading != NULL) {
        base.read = reading->time;
    } else {
        base.read = sheet->starts[item->place];
        base.from_control = base.read != TIME_NONE;
    }
    if (base.read != TIME_NONE)
        base.time = time_truncate(base.read, item->rule.precision);
    return base;
}

/* For a point measured from the one before: the latest earlier point with a time of day. */
static struct base base_before(const struct score_sheet *sheet, const struct item *item,
                               int number) {
    for (int n = number - 1; n >= 1; n--) {
        const struct reading *reading = sheet->counted[item->first_point + n];
        if (reading != NULL && reading->time != TIME_NONE)
            return (struct base){
                .point = item->first_point + n,
                .read = reading->time,
                .time = time_truncate(reading->time, checks_and_pads_rule(item, n)->precision),
                .number = n};
    }
    return start_of(sheet, item);
}

/* Whether a reading from which the point is measured can still come. */
static bool base_may_come(const struct score_sheet *sheet, const struct item *item, int number) {
    const struct checks_and_pads *own = checks_and_pads_of(item);
    int last = own->from_previous ? number - 1 : 0;
    for (int n = 0; n <= last; n++) {
        if (!is_off(item, n) && sheet->view->open[item->first_point + n])
            return true;
    }
    return own->start_control && !sheet->road.preceding_read && sheet->road.preceding_may_come;
}

static int64_t allowances(const struct score_sheet *sheet, const struct item *item, int from,
                          int to) {
    int64_t sum = 0;
    if (sheet->rulings->count == 0)
        return 0;
    for (int n = from; n <= to; n++) {
        if (!is_off(item, n))
            sum += rulings_allowance(sheet->event->rulings, sheet->car, item->first_point + n);
    }
    return sum;
}

/* A device measured the time since the start, or since the point before: no start is needed. */
static void score_elapsed(const struct score_sheet *sheet, const struct item *item, int number,
                          struct scored_point *sp) {
    const struct checks_and_pads *own = checks_and_pads_of(item);
    const struct penalty_rule *rule = checks_and_pads_rule(item, number);
    sp->durations = true;
    sp->ideal =
        own->from_previous ? own->ideals[number] - own->ideals[number - 1] : own->ideals[number];
    sp->allowance = allowances(sheet, item, own->from_previous ? number : 1, number);
    sp->due = sp->ideal + sp->allowance;
    sp->actual = time_truncate(sp->reading->elapsed, rule->precision);
    sp->deviation = sp->actual - sp->due;
    scored_point_price(sp, rule);
}

static void score_time(const struct score_sheet *sheet, const struct item *item, int number,
                       struct scored_point *sp) {
    const struct checks_and_pads *own = checks_and_pads_of(item);
    const struct penalty_rule *rule = checks_and_pads_rule(item, number);
    struct base base =
        own->from_previous ? base_before(sheet, item, number) : start_of(sheet, item);
    sp->actual = time_truncate(sp->reading->time, rule->precision);
    if (base.read == TIME_NONE) {
        scored_point_lacks(sp, CAUSE_NO_START, base_may_come(sheet, item, number));
        return;
    }
    sp->base_point = base.point;
    sp->base_from_control = base.from_control;
    if (base.from_control) {
        sp->left_item = sheet->road.last_read;
        sp->left = sheet->road.departure;
    }
    sp->base_read = base.read;
    sp->base = base.time;
    sp->ideal = own->ideals[number] - own->ideals[base.number];
    sp->allowance = allowances(sheet, item, base.number + 1, number);
    sp->due = base.time + sp->ideal + sp->allowance;
    sp->deviation = sp->actual - sp->due;
    scored_point_price(sp, rule);
}

int checks_and_pads_lost_before(const struct score_sheet *sheet, const struct item *item, int n) {
    int before = n - 1;
    if (!checks_and_pads_of(item)->loses_next)
        return 0;
    while (before > 0 && is_off(item, before))
        before--;
    int point = item->first_point + before;
    return before == 0 || sheet->counted[point] != NULL || score_sheet_point_ruled(sheet, point)
               ? 0
               : before;
}

/* What was measured stays for the card; it costs nothing of its own. */
static void lose(const struct score_sheet *sheet, const struct item *item, int before,
                 struct scored_point *sp) {
    sp->price = (struct price){0};
    sp->deviation = TIME_NONE;
    scored_point_lacks(sp, CAUSE_LOST_BEFORE, sheet->view->open[item->first_point + before]);
}

void checks_and_pads_score(struct score_sheet *sheet, const struct item *item) {
    const struct checks_and_pads *own = checks_and_pads_of(item);
    sheet->starts[item->place] = start_from_control(sheet, item);
    for (int n = 1; n <= own->count; n++) {
        struct scored_point *sp = score_sheet_scored(sheet, item, n - 1);
        int point = item->first_point + n;
        sp->reading = sheet->counted[point];
        if (sp->reading == NULL) {
            scored_point_lacks(sp, CAUSE_NO_READING, sheet->view->open[point]);
        } else if (sp->reading->elapsed != TIME_NONE) {
            score_elapsed(sheet, item, n, sp);
        } else {
            score_time(sheet, item, n, sp);
        }
        int lost = sp->reading == NULL ? 0 : checks_and_pads_lost_before(sheet, item, n);
        if (lost > 0)
            lose(sheet, item, lost, sp);
        score_sheet_assess(sheet, item, sp);
    }
}

void checks_and_pads_explain_base(struct textbuf *b, const struct explain_context *context,
                                  const struct scored_point *sp) {
    const struct item *item = context->item;
    const struct checks_and_pads *own = checks_and_pads_of(item);
    if (sp->base_from_control) {
        const struct score_sheet *sheet = context->sheet;
        int64_t allowance =
            rulings_allowance(context->event->rulings, sheet->car, item->first_point);
        textbuf_puts(b, "Start ");
        if (sp->base == sp->base_read)
            time_write_short(b, sp->base);
        else
            explain_reading(b, sp->base_read, sp->base);
        textbuf_puts(b, ": ");
        explain_left(b, context, sp, "the start of the day", "left");
        if (own->start_after > 0) {
            textbuf_puts(b, " plus ");
            duration_write_words(b, own->start_after);
        }
        if (allowance > 0) {
            textbuf_puts(b, " plus allowance ");
            duration_write_words(b, allowance);
        }
    } else if (sp->base_point == item->first_point) {
        textbuf_puts(b, "Start ");
        explain_reading(b, sp->base_read, sp->base);
    } else {
        textbuf_printf(b, "From %s at ", explain_point_id(context, sp->base_point));
        explain_reading(b, sp->base_read, sp->base);
    }
}

void checks_and_pads_explain_rest(struct textbuf *b, const struct explain_context *context,
                                  const struct scored_point *sp) {
    if (sp->allowance > 0) {
        textbuf_puts(b, ", allowance ");
        duration_write_words(b, sp->allowance);
    }
    if (sp->durations) {
        textbuf_puts(b, ": measured ");
        explain_duration(b, sp->reading->elapsed, sp->actual);
    } else {
        textbuf_puts(b, ": due ");
        time_write_short(b, sp->due);
        textbuf_puts(b, ". Passed ");
        explain_reading(b, sp->reading->time, sp->actual);
    }
    textbuf_puts(b, ": ");
    explain_deviation(b, item_rule(context->item, context->scored), sp, &explain_clock);
    textbuf_puts(b, ". ");
}
