/* SPDX-License-Identifier: MIT */
/* Regularity sections: hidden checks against an ideal time from a table of speeds. */
#include "scoring/kinds/regularity.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/kind.h"
#include "format/json_read.h"

static const char *const keys[] = {"measured", "speeds", "checks", "ideals", "start", "start_after",
                                   "test_cap", "counts", "finish", "target", NULL};

enum { MS_PER_HOUR = 3600000 };

static void read_speeds(const struct json_reader *reader, const json_t *object,
                        const struct json_place *place, struct regularity *own) {
    static const char *const speed_keys[] = {"from", "speed", NULL};
    const json_t *list;
    if (!json_get_array(reader, object, place, "speeds", false, &list))
        return;
    struct json_place here = {.up = place, .key = "speeds"};
    size_t count = json_array_size(list);
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "speeds", "must hold 1 to %d speeds", PARTS_MAX);
        return;
    }
    own->speeds = arena_array(reader->arena, count, sizeof *own->speeds);
    if (own->speeds == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        struct speed *speed = &own->speeds[i];
        speed->speed = 1000;
        if (!json_known_keys(reader, value, &at, speed_keys, NULL))
            continue;
        (void)json_get_decimal(reader, value, &at, "speed", true, 1, 1000000, &speed->speed);
        if (!json_get_decimal(reader, value, &at, "from", true, 0, 100000000, &speed->from))
            continue;
        if (i == 0 && speed->from != 0)
            json_wrong(reader, &at, "from", "the first speed must be from 0");
        if (i > 0 && speed->from <= own->speeds[i - 1].from)
            json_wrong(reader, &at, "from", "must be further than the speed before");
    }
    own->speed_count = (int)count;
}

static void read_checks(const struct json_reader *reader, const json_t *object,
                        const struct json_place *place, struct item *item, struct regularity *own) {
    static const char *const check_keys[] = {"at", "ideal", "penalty", NULL};
    const json_t *list;
    if (!json_get_array(reader, object, place, "checks", true, &list))
        return;
    struct json_place here = {.up = place, .key = "checks"};
    size_t count = json_array_size(list);
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "checks", "must hold 1 to %d checks", PARTS_MAX);
        return;
    }
    own->checks = arena_array(reader->arena, count, sizeof *own->checks);
    if (own->checks == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    int64_t last = 0;
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        struct check *check = &own->checks[i];
        *check = (struct check){-1, TIME_NONE};
        if (checks_and_pads_is_off(reader, value, (int)i + 1, count, item) ||
            !json_known_keys(reader, value, &at, check_keys, NULL))
            continue;
        bool given = json_get_duration(reader, value, &at, "ideal", false, &check->ideal);
        if (json_get_decimal(reader, value, &at, "at", !given, 1, 100000000, &check->at)) {
            if (check->at <= last)
                json_wrong(reader, &at, "at", "must be further than the check before");
            last = check->at;
        }
        if (!given && json_object_get(object, "speeds") == NULL)
            json_wrong(reader, &at, "ideal", "is missing: the test has no “speeds”");
        checks_and_pads_read_rule(reader, value, &at, (int)i + 1, count, item);
    }
    own->timed.count = (int)count;
}

/* The ideal time at a distance from the start: one term for each speed, and the sum rounded (or
 * cut) once. Distances and speeds are both in thousandths, so that their ratio is in hours. */
static int ideal_at(const struct regularity *own, int64_t precision, int64_t at, int64_t *out) {
    struct fraction terms[PARTS_MAX];
    size_t count = 0;
    for (int i = 0; i < own->speed_count && own->speeds[i].from < at; i++) {
        int64_t to =
            i + 1 < own->speed_count && own->speeds[i + 1].from < at ? own->speeds[i + 1].from : at;
        terms[count++] = (struct fraction){(to - own->speeds[i].from) * MS_PER_HOUR,
                                           own->speeds[i].speed * precision};
    }
    int err = own->ideals_down ? decimal_cut_sum(terms, count, out)
                               : decimal_round_sum(terms, count, out);
    *out *= err == ERR_OK ? precision : 1;
    return err;
}

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    struct regularity *own = part;
    struct checks_and_pads *timed = &own->timed;
    static const char *const roundings[] = {"down", NULL};
    int choice;
    size_t errors_before = reader->problems->by_level[PROBLEM_ERROR];
    checks_and_pads_read(reader, object, place, false, item, timed);
    read_speeds(reader, object, place, own);
    read_checks(reader, object, place, item, own);
    if (json_get_choice(reader, object, place, "ideals", false, roundings, &choice))
        own->ideals_down = true;
    if (reader->problems->by_level[PROBLEM_ERROR] > errors_before)
        return;
    timed->ideals = arena_array(reader->arena, (size_t)timed->count + 1, sizeof *timed->ideals);
    if (timed->ideals == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (int i = 0; i < timed->count; i++) {
        const struct check *check = &own->checks[i];
        int64_t *ideal = &timed->ideals[i + 1];
        int err = ERR_OK;
        if (item->off_points != NULL && item->off_points[i + 1])
            *ideal = timed->ideals[i];
        else if (check->ideal != TIME_NONE)
            *ideal = check->ideal;
        else
            err = ideal_at(own, checks_and_pads_rule(item, i + 1)->precision, check->at, ideal);
        if (err == ERR_NOMEM)
            reader->problems->out_of_memory = true;
    }
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    (void)point;
    return reading->time == TIME_NONE ? "a regularity takes times of day" : NULL;
}

/* The ideal time from the start, with its parts: "3.2 km at 48 + 2.17 km at 42.5 = 7 min 4 s". */
static void explain_ideal(struct textbuf *b, const struct explain_context *context, int number) {
    const struct regularity *own = regularity_of(context->item);
    const struct check *check = &own->checks[number - 1];
    const char *unit = rules_unit(context->event->rules);
    if (check->ideal != TIME_NONE) {
        textbuf_puts(b, "given ideal ");
        duration_write_words(b, check->ideal);
        return;
    }
    for (int i = 0; i < own->speed_count && own->speeds[i].from < check->at; i++) {
        int64_t to = i + 1 < own->speed_count && own->speeds[i + 1].from < check->at
                         ? own->speeds[i + 1].from
                         : check->at;
        if (i > 0)
            textbuf_puts(b, " + ");
        decimal_write_short(b, to - own->speeds[i].from);
        textbuf_printf(b, " %s at ", unit);
        decimal_write_short(b, own->speeds[i].speed);
    }
    textbuf_puts(b, " = ideal ");
    duration_write_words(b, own->timed.ideals[number]);
    textbuf_puts(b, " (");
    if (own->ideals_down)
        textbuf_puts(b, "cut ");
    explain_precision(b, checks_and_pads_rule(context->item, number)->precision);
    textbuf_putc(b, ')');
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    int point = context->event->rules->scored[context->scored].point;
    int number = context->event->rules->points[point].number;
    if (sp->reading == NULL)
        return;
    if (sp->base == TIME_NONE) {
        textbuf_puts(b, "Passed ");
        time_write_short(b, sp->reading->time);
        textbuf_puts(b, ", but there is no start to measure from. ");
        return;
    }
    checks_and_pads_explain_base(b, context, sp);
    textbuf_puts(b, "; ");
    explain_ideal(b, context, number);
    int base_number = sp->base_point == context->item->first_point
                          ? 0
                          : context->event->rules->points[sp->base_point].number;
    if (base_number > 0) {
        textbuf_puts(b, ", less ");
        duration_write_words(b, checks_and_pads_of(context->item)->ideals[base_number]);
        textbuf_printf(b, " to %s = ", explain_point_id(context, sp->base_point));
        duration_write_words(b, sp->ideal);
    }
    checks_and_pads_explain_rest(b, context, sp);
}

const struct kind kind_regularity = {
    .name = "regularity",
    .words = "regularity",
    .is_test = true,
    .may_hide = true,
    .hides = true,
    .keys = keys,
    .own_size = sizeof(struct regularity),
    .read = read,
    .lay_out = checks_and_pads_lay_out,
    .refusal = refusal,
    .score = checks_and_pads_score,
    .explain = explain,
};
