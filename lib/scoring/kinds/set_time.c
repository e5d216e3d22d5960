/* SPDX-License-Identifier: MIT */
/* Set-time tests: pads to be reached in a given time. */
#include "base/arena.h"
#include "base/problem.h"
#include "event/kind.h"
#include "format/json_read.h"
#include "scoring/kinds/checks_and_pads.h"

static const char *const keys[] = {"measured", "targets", "lost",   "start",  "start_after",
                                   "test_cap", "counts",  "finish", "target", NULL};

/* A pad: its target, or an object with it and a penalty rule of its own. */
static void read_pad(const struct json_reader *reader, const json_t *value,
                     const struct json_place *place, int n, size_t count, struct item *item,
                     int64_t *target) {
    static const char *const pad_keys[] = {"target", "penalty", NULL};
    if (!json_is_object(value)) {
        (void)json_value_duration(reader, value, place, NULL, target);
        return;
    }
    (void)json_known_keys(reader, value, place, pad_keys, NULL);
    (void)json_get_duration(reader, value, place, "target", true, target);
    checks_and_pads_read_rule(reader, value, place, n, count, item);
}

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    static const char *const losses[] = {"next-too", NULL};
    struct checks_and_pads *timed = part;
    const json_t *list;
    int choice;
    checks_and_pads_read(reader, object, place, true, item, timed);
    timed->loses_next = json_get_choice(reader, object, place, "lost", false, losses, &choice);
    if (timed->loses_next && !timed->from_previous)
        json_wrong(reader, place, "lost",
                   "goes with “measured”: “previous” only: measured from the start, no pad needs "
                   "another");
    if (!json_get_array(reader, object, place, "targets", true, &list))
        return;
    struct json_place here = {.up = place, .key = "targets"};
    size_t count = json_array_size(list);
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "targets", "must hold 1 to %d targets", PARTS_MAX);
        return;
    }
    timed->ideals = arena_array(reader->arena, count + 1, sizeof *timed->ideals);
    if (timed->ideals == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        int64_t target = 0;
        timed->ideals[i + 1] = timed->ideals[i];
        if (checks_and_pads_is_off(reader, value, (int)i + 1, count, item))
            continue;
        read_pad(reader, value, &at, (int)i + 1, count, item, &target);
        if (timed->from_previous)
            timed->ideals[i + 1] += target;
        else
            timed->ideals[i + 1] = target;
        if (!timed->from_previous && i > 0 && target <= timed->ideals[i])
            json_wrong(reader, &at, NULL, "is measured from the start: it must grow");
    }
    timed->count = (int)count;
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    if (point->role == POINT_START)
        return reading->time == TIME_NONE ? "a start takes a time of day" : NULL;
    return reading->time == TIME_NONE && reading->elapsed == TIME_NONE
               ? "a pad takes a time of day or an elapsed"
               : NULL;
}

/* A pad that was read, and is lost with the one before it. */
static void explain_lost(struct textbuf *b, const struct explain_context *context,
                         const struct scored_point *sp) {
    const struct item *item = context->item;
    int n = 1 + context->scored - item->first_scored;
    int before = checks_and_pads_lost_before(context->sheet, item, n);
    if (sp->durations) {
        textbuf_puts(b, "Measured ");
        explain_duration(b, sp->reading->elapsed, sp->actual);
    } else {
        textbuf_puts(b, "Passed ");
        explain_reading(b, sp->reading->time, sp->actual);
    }
    textbuf_printf(b, ", but %s before it was not read, which loses this one too. ",
                   explain_point_id(context, item->first_point + before));
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    if (sp->reading == NULL)
        return;
    if (sp->cause == CAUSE_LOST_BEFORE) {
        explain_lost(b, context, sp);
        return;
    }
    if (sp->durations) {
        textbuf_puts(b, "Target ");
        duration_write_words(b, sp->ideal);
    } else if (sp->base == TIME_NONE) {
        textbuf_puts(b, "Passed ");
        time_write_short(b, sp->reading->time);
        textbuf_puts(b, ", but there is no start to measure from. ");
        return;
    } else {
        checks_and_pads_explain_base(b, context, sp);
        textbuf_puts(b, ", target ");
        duration_write_words(b, sp->ideal);
    }
    checks_and_pads_explain_rest(b, context, sp);
}

const struct kind kind_set_time = {
    .name = "set-time",
    .words = "set-time test",
    .is_test = true,
    .may_hide = true,
    .keys = keys,
    .own_size = sizeof(struct checks_and_pads),
    .read = read,
    .lay_out = checks_and_pads_lay_out,
    .refusal = refusal,
    .score = checks_and_pads_score,
    .explain = explain,
};
