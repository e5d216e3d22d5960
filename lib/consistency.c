/* SPDX-License-Identifier: MIT */
/* Consistency tests: laps to be repeated. */
#include <stdio.h>

#include "err.h"
#include "explain.h"
#include "faults.h"
#include "kind.h"
#include "sheet.h"

static const char *const keys[] = {"laps", "reference", "faults", "test_cap", NULL};

static void read(const struct json_reader *reader, const json_t *object,
                 const struct json_place *place, struct item *item) {
    static const char *const references[] = {"first", "mean", "nominated", NULL};
    int choice = REFERENCE_FIRST;
    int64_t laps;
    if (json_get_choice(reader, object, place, "reference", false, references, &choice))
        item->reference = (enum reference)choice;
    if (json_get_whole(reader, object, place, "laps", true,
                       item->reference == REFERENCE_NOMINATED ? 1 : 2, PARTS_MAX, &laps))
        item->laps = (int)laps;
    faults_read(reader, object, place, false, item);
}

static int lay_out(struct rules *rules, int item) {
    enum reference reference = rules->items[item].reference;
    int err = ERR_OK;
    if (reference == REFERENCE_NOMINATED)
        err = route_add_point(rules, item, ROLE_NOMINATED, 0, "nominated", false);
    if (err == ERR_OK)
        err = route_add_point(rules, item, ROLE_START, 0, "start", false);
    for (int n = 1; err == ERR_OK && n <= rules->items[item].laps; n++) {
        char suffix[16];
        (void)snprintf(suffix, sizeof suffix, "%d", n);
        err = route_add_point(rules, item, ROLE_LAP, n, suffix,
                              n > 1 || reference != REFERENCE_FIRST);
    }
    return err;
}

static const char *refusal(const struct item *item, const struct point *point,
                           const struct reading *reading) {
    (void)item;
    switch (point->role) {
    case ROLE_NOMINATED:
        return reading->elapsed == TIME_NONE ? "a nominated time is given as elapsed" : NULL;
    case ROLE_START:
        return reading->time == TIME_NONE ? "a start takes a time of day" : NULL;
    default:
        return reading->time == TIME_NONE && reading->elapsed == TIME_NONE
                   ? "a lap takes a time of day or an elapsed"
                   : NULL;
    }
}

/* The reading point of lap `n`; lap 0 is the start. */
static int lap_point(const struct item *item, int n) {
    return item->first_point + (item->reference == REFERENCE_NOMINATED) + n;
}

/* A lap's time, TIME_NONE where it was not read or lacks the lap before. */
static int64_t lap_time(const struct sheet *sheet, const struct item *item, int n) {
    const struct reading *to = sheet->counted[lap_point(item, n)];
    const struct reading *from = sheet->counted[lap_point(item, n - 1)];
    enum time_unit unit = item->rule.precision;
    if (to == NULL)
        return TIME_NONE;
    if (to->elapsed != TIME_NONE)
        return time_truncate(to->elapsed, unit);
    if (from == NULL || from->time == TIME_NONE)
        return TIME_NONE;
    return time_truncate(to->time, unit) - time_truncate(from->time, unit);
}

/* What all laps are compared with; `may_come` tells whether a missing one still can. */
static int64_t reference_time(const struct sheet *sheet, const struct item *item, bool *may_come) {
    int64_t sum = 0;
    int64_t count = 0;
    *may_come = false;
    switch (item->reference) {
    case REFERENCE_FIRST: {
        const struct reading *lap = sheet->counted[lap_point(item, 1)];
        *may_come = sheet->view->open[lap_point(item, lap == NULL ? 1 : 0)];
        return lap_time(sheet, item, 1);
    }
    case REFERENCE_NOMINATED: {
        const struct reading *nominated = sheet->counted[item->first_point];
        *may_come = sheet->view->open[item->first_point];
        return nominated == NULL ? TIME_NONE
                                 : time_truncate(nominated->elapsed, item->rule.precision);
    }
    case REFERENCE_MEAN:
        break;
    }
    for (int n = 1; n <= item->laps; n++) {
        int64_t time = lap_time(sheet, item, n);
        if (time != TIME_NONE) {
            sum += time;
            count++;
        }
    }
    if (count == 0)
        return TIME_NONE;
    /* Laps may be negative where clocks were wrong; the mean is still taken down. */
    int64_t mean = sum / count - (sum % count < 0 ? 1 : 0);
    return time_truncate(mean, item->rule.precision);
}

static void judge(const struct sheet *sheet, const struct item *item, int n, int64_t reference,
                  bool reference_may_come, struct working *w) {
    w->reading = sheet->counted[lap_point(item, n)];
    w->durations = true;
    if (w->reading == NULL) {
        w->lack = LACK_READING;
        w->outcome = sheet->view->open[lap_point(item, n)] ? OUTCOME_AWAITING : OUTCOME_MISSED;
        return;
    }
    w->actual = lap_time(sheet, item, n);
    if (w->actual == TIME_NONE) {
        w->lack = LACK_NEIGHBOUR;
        w->outcome = sheet->view->open[lap_point(item, n - 1)] ? OUTCOME_AWAITING : OUTCOME_MISSED;
        return;
    }
    if (w->reading->elapsed == TIME_NONE) {
        w->base_point = lap_point(item, n - 1);
        w->base_read = sheet->counted[w->base_point]->time;
        w->base = time_truncate(w->base_read, item->rule.precision);
    }
    if (reference == TIME_NONE) {
        w->lack = LACK_REFERENCE;
        w->outcome = reference_may_come ? OUTCOME_AWAITING : OUTCOME_MISSED;
        return;
    }
    w->ideal = reference;
    w->due = reference;
    w->deviation = w->actual - reference;
    if (item->rule.late_limit != TIME_NONE && w->deviation > item->rule.late_limit) {
        w->outcome = OUTCOME_MISSED;
        w->lack = LACK_LATE_LIMIT;
    } else {
        w->price = penalty_price(&item->rule, w->deviation);
    }
}

static void score(struct sheet *sheet, const struct item *item) {
    bool may_come;
    int64_t reference = reference_time(sheet, item, &may_come);
    int first = item->reference == REFERENCE_FIRST ? 2 : 1;
    for (int n = first; n <= item->laps; n++) {
        struct working *w = sheet_working(sheet, item, n - first);
        judge(sheet, item, n, reference, may_come, w);
        sheet_settle(sheet, item, w);
    }
    if (item->fault_count == 0)
        return;
    int64_t *sum = &sheet->fault_sums[item - sheet->event->rules->items];
    for (int p = item->first_point; p < item->first_point + item->point_count; p++) {
        const struct reading *reading = sheet->counted[p];
        if (reading != NULL && reading->fault_count > 0 && !sheet_point_ruled(sheet, p))
            *sum += faults_cost(item, reading);
    }
}

static void explain(struct textbuf *b, const struct story *story, const struct working *w) {
    const struct item *item = story->item;
    static const char *const references[] = {"the first lap", "the mean of the laps read",
                                             "the nominated time"};
    if (w->reading == NULL)
        return;
    if (w->actual == TIME_NONE) {
        textbuf_puts(b, "Passed ");
        time_write_short(b, w->reading->time);
        textbuf_puts(b, ", but the passage before has no time of day. ");
        return;
    }
    if (w->base != TIME_NONE) {
        textbuf_puts(b, "From ");
        explain_reading(b, w->base_read, w->base);
        textbuf_puts(b, " to ");
        explain_reading(b, w->reading->time, w->base + w->actual);
        textbuf_puts(b, ": lap ");
        duration_write_words(b, w->actual);
    } else {
        textbuf_puts(b, "Lap measured ");
        explain_duration(b, w->reading->elapsed, w->actual);
    }
    if (w->lack == LACK_REFERENCE) {
        textbuf_printf(b, ", but there is no reference (%s). ", references[item->reference]);
        return;
    }
    textbuf_printf(b, ", reference (%s", references[item->reference]);
    if (item->reference == REFERENCE_MEAN)
        textbuf_printf(b, ", cut to the %s", unit_name(item->rule.precision));
    textbuf_puts(b, ") ");
    duration_write_words(b, w->ideal);
    textbuf_puts(b, ": ");
    if (w->lack == LACK_LATE_LIMIT) {
        duration_write_words(b, w->deviation);
        textbuf_puts(b, " slower is beyond the limit of ");
        duration_write_words(b, item->rule.late_limit);
    } else {
        explain_price(b, &item->rule, w);
    }
    textbuf_puts(b, ". ");
}

const struct kind kind_consistency = {
    .name = "consistency",
    .words = "consistency test",
    .is_test = true,
    .may_hide = true,
    .keys = keys,
    .read = read,
    .lay_out = lay_out,
    .refusal = refusal,
    .score = score,
    .explain = explain,
};
