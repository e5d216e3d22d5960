/* SPDX-License-Identifier: MIT */
/* Set-time tests: pads to be reached in a given time. */
#include "base/arena.h"
#include "base/problem.h"
#include "event/kind.h"
#include "format/json_read.h"
#include "scoring/kinds/checks_and_pads.h"

static const char *const keys[] = {"measured", "targets", "start",  "start_after", "test_cap",
                                   "counts",   "finish",  "target", NULL};

struct set_time {
    struct checks_and_pads timed; /* the first member: see checks_and_pads_of */
    int64_t *targets;             /* of each pad, as written */
};

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    struct set_time *own = part;
    struct checks_and_pads *timed = &own->timed;
    const json_t *list;
    checks_and_pads_read(reader, object, place, true, item, timed);
    if (!json_get_array(reader, object, place, "targets", true, &list))
        return;
    struct json_place here = {.up = place, .key = "targets"};
    size_t count = json_array_size(list);
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "targets", "must hold 1 to %d targets", PARTS_MAX);
        return;
    }
    own->targets = arena_array(reader->arena, count, sizeof *own->targets);
    timed->ideals = arena_array(reader->arena, count + 1, sizeof *timed->ideals);
    if (own->targets == NULL || timed->ideals == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        (void)json_value_duration(reader, json_array_get(list, i), &at, NULL, &own->targets[i]);
        timed->ideals[i + 1] =
            timed->from_previous ? timed->ideals[i] + own->targets[i] : own->targets[i];
        if (!timed->from_previous && i > 0 && own->targets[i] <= own->targets[i - 1])
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

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    if (sp->reading == NULL)
        return;
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
    .own_size = sizeof(struct set_time),
    .read = read,
    .lay_out = checks_and_pads_lay_out,
    .refusal = refusal,
    .score = checks_and_pads_score,
    .explain = explain,
};
