/* SPDX-License-Identifier: MIT */
/* Consistency tests: laps to be repeated. */
#include "scoring/kinds/consistency.h"

#include <stdio.h>

#include "base/err.h"
#include "event/kind.h"
#include "event/route.h"
#include "format/json_read.h"
#include "scoring/explain.h"
#include "scoring/score_sheet.h"

static const char *const keys[] = {"laps", "reference", "test_cap", "counts", NULL};

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item, void *part) {
    struct consistency *own = part;
    (void)item;
    static const char *const references[] = {"first", "mean", "nominated", NULL};
    int choice = REFERENCE_FIRST;
    int64_t laps;
    if (json_get_choice(reader, object, place, "reference", false, references, &choice))
        own->reference = (enum reference)choice;
    if (json_get_whole(reader, object, place, "laps", true,
                       own->reference == REFERENCE_NOMINATED ? 1 : 2, PARTS_MAX, &laps))
        own->laps = (int)laps;
}

static int lay_out(struct rules *rules, int item) {
    enum reference reference = consistency_of(&rules->items[item])->reference;
    int err = ERR_OK;
    if (reference == REFERENCE_NOMINATED)
        err = route_add_point(rules, item, POINT_NOMINATED, 0, "nominated", NOT_SCORED);
    if (err == ERR_OK)
        err = route_add_point(rules, item, POINT_START, 0, "start", NOT_SCORED);
    for (int n = 1; err == ERR_OK && n <= consistency_of(&rules->items[item])->laps; n++) {
        char suffix[16];
        (void)snprintf(suffix, sizeof suffix, "%d", n);
        err = route_add_point(rules, item, POINT_LAP, n, suffix,
                              n > 1 || reference != REFERENCE_FIRST ? SCORED_AS_POINT : NOT_SCORED);
    }
    return err;
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    switch (point->role) {
    case POINT_NOMINATED:
        return reading->elapsed == TIME_NONE ? "a nominated time is given as elapsed" : NULL;
    case POINT_START:
        return reading->time == TIME_NONE ? "a start takes a time of day" : NULL;
    default:
        return reading->time == TIME_NONE && reading->elapsed == TIME_NONE
                   ? "a lap takes a time of day or an elapsed"
                   : NULL;
    }
}

/* The reading point of lap `n`; lap 0 is the start. */
static int lap_point(const struct item *item, int n) {
    return item->first_point + (consistency_of(item)->reference == REFERENCE_NOMINATED) + n;
}

/* A lap's time, TIME_NONE where the lap was not read, or not the one before it. */
static int64_t lap_time(const struct score_sheet *sheet, const struct item *item, int n) {
    const struct reading *to = sheet->counted[lap_point(item, n)];
    const struct reading *from = sheet->counted[lap_point(item, n - 1)];
    int64_t unit = item->rule.precision;
    if (to == NULL)
        return TIME_NONE;
    if (to->elapsed != TIME_NONE)
        return time_truncate(to->elapsed, unit);
    if (from == NULL || from->time == TIME_NONE)
        return TIME_NONE;
    return time_truncate(to->time, unit) - time_truncate(from->time, unit);
}

/* What all laps are compared with. */
struct lap_reference {
    int64_t time;  /* TIME_NONE where there is none */
    bool may_come; /* where it is missing: it can still be read */
    int64_t sum;   /* mean: of the laps read */
    int64_t count; /* mean: how many */
};

static struct lap_reference mean_of(const struct score_sheet *sheet, const struct item *item) {
    struct lap_reference mean = {.time = TIME_NONE};
    for (int n = 1; n <= consistency_of(item)->laps; n++) {
        int64_t time = lap_time(sheet, item, n);
        if (time != TIME_NONE) {
            mean.sum += time;
            mean.count++;
        }
    }
    if (mean.count == 0)
        return mean;
    /* Laps may be negative where clocks were wrong; the mean is rounded down all the same. */
    int64_t whole = mean.sum / mean.count - (mean.sum % mean.count < 0 ? 1 : 0);
    mean.time = time_truncate(whole, item->rule.precision);
    return mean;
}

static struct lap_reference reference_of(const struct score_sheet *sheet, const struct item *item) {
    struct lap_reference reference = {.time = TIME_NONE};
    const struct reading *reading;
    switch (consistency_of(item)->reference) {
    case REFERENCE_FIRST:
        reading = sheet->counted[lap_point(item, 1)];
        reference.may_come = sheet->view->open[lap_point(item, reading == NULL ? 1 : 0)];
        reference.time = lap_time(sheet, item, 1);
        return reference;
    case REFERENCE_NOMINATED:
        reading = sheet->counted[item->first_point];
        reference.may_come = sheet->view->open[item->first_point];
        if (reading != NULL)
            reference.time = time_truncate(reading->elapsed, item->rule.precision);
        return reference;
    default:
        return mean_of(sheet, item);
    }
}

static void score_lap(const struct score_sheet *sheet, const struct item *item, int n,
                      const struct lap_reference *reference, struct scored_point *sp) {
    sp->reading = sheet->counted[lap_point(item, n)];
    sp->durations = true;
    if (sp->reading == NULL) {
        scored_point_lacks(sp, CAUSE_NO_READING, sheet->view->open[lap_point(item, n)]);
        return;
    }
    sp->actual = lap_time(sheet, item, n);
    if (sp->actual == TIME_NONE) {
        scored_point_lacks(sp, CAUSE_NO_NEIGHBOUR, sheet->view->open[lap_point(item, n - 1)]);
        return;
    }
    if (reference->time == TIME_NONE) {
        scored_point_lacks(sp, CAUSE_NO_REFERENCE, reference->may_come);
        return;
    }
    sp->ideal = reference->time;
    sp->due = reference->time;
    sp->deviation = sp->actual - reference->time;
    scored_point_price(sp, &item->rule);
}

static void score(struct score_sheet *sheet, const struct item *item) {
    struct lap_reference reference = reference_of(sheet, item);
    int first = consistency_of(item)->reference == REFERENCE_FIRST ? 2 : 1;
    for (int n = first; n <= consistency_of(item)->laps; n++) {
        struct scored_point *sp = score_sheet_scored(sheet, item, n - first);
        score_lap(sheet, item, n, &reference, sp);
        score_sheet_assess(sheet, item, sp);
    }
}

static int64_t tie_time(const struct score_sheet *sheet, const struct item *item) {
    return reference_of(sheet, item).time;
}

/* A lap from passage to passage, or as a device measured it; both as read and as counted. */
static void explain_lap(struct textbuf *b, const struct score_sheet *sheet, const struct item *item,
                        int n) {
    const struct reading *to = sheet->counted[lap_point(item, n)];
    const struct reading *from = sheet->counted[lap_point(item, n - 1)];
    int64_t unit = item->rule.precision;
    int64_t time = lap_time(sheet, item, n);
    if (to->elapsed != TIME_NONE) {
        textbuf_puts(b, "measured ");
        explain_duration(b, to->elapsed, time);
        return;
    }
    textbuf_puts(b, "from ");
    explain_reading(b, from->time, time_truncate(from->time, unit));
    textbuf_puts(b, " to ");
    explain_reading(b, to->time, time_truncate(to->time, unit));
    textbuf_puts(b, " = ");
    explain_span(b, time);
}

static const char *const reference_words[] = {"the first lap", "the mean of the laps read",
                                              "the nominated time"};

static void explain_reference(struct textbuf *b, const struct score_sheet *sheet,
                              const struct item *item) {
    const struct lap_reference reference = reference_of(sheet, item);
    textbuf_printf(b, "; reference: %s", reference_words[consistency_of(item)->reference]);
    switch (consistency_of(item)->reference) {
    case REFERENCE_FIRST:
        textbuf_puts(b, ", ");
        explain_lap(b, sheet, item, 1);
        break;
    case REFERENCE_NOMINATED:
        textbuf_puts(b, ", ");
        explain_duration(b, sheet->counted[item->first_point]->elapsed, reference.time);
        break;
    case REFERENCE_MEAN:
        textbuf_puts(b, ", ");
        explain_span(b, reference.sum);
        textbuf_printf(b, " ÷ %lld, cut ", (long long)reference.count);
        explain_precision(b, item->rule.precision);
        textbuf_puts(b, ": ");
        explain_span(b, reference.time);
        break;
    }
    textbuf_puts(b, ": ");
}

static void explain(struct textbuf *b, const struct explain_context *context,
                    const struct scored_point *sp) {
    const struct item *item = context->item;
    int number =
        context->event->rules->points[context->event->rules->scored[context->scored].point].number;
    if (sp->reading == NULL)
        return;
    if (sp->actual == TIME_NONE) {
        textbuf_puts(b, "Passed ");
        time_write_short(b, sp->reading->time);
        textbuf_puts(b, ", but the passage before has no time of day. ");
        return;
    }
    textbuf_puts(b, "Lap ");
    explain_lap(b, context->sheet, item, number);
    if (sp->cause == CAUSE_NO_REFERENCE) {
        textbuf_printf(b, ", but there is no reference (%s). ",
                       reference_words[consistency_of(item)->reference]);
        return;
    }
    explain_reference(b, context->sheet, item);
    explain_deviation(b, &item->rule, sp, &explain_laps);
    textbuf_puts(b, ". ");
}

const struct kind kind_consistency = {
    .name = "consistency",
    .words = "consistency test",
    .is_test = true,
    .may_hide = true,
    .faults = FAULTS_BESIDE_LAPS,
    .keys = keys,
    .own_size = sizeof(struct consistency),
    .read = read,
    .lay_out = lay_out,
    .refusal = refusal,
    .score = score,
    .tie_time = tie_time,
    .explain = explain,
};
