/* SPDX-License-Identifier: MIT */
#include "live/desk_list.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "format/extra.h"
#include "system/hard_limits.h"

enum { SEQ_MAX = 1000000 };

static int by_desk_and_seq(const void *a, const void *b) {
    const struct desk_reading *x = a;
    const struct desk_reading *y = b;
    int order = strcmp(x->desk, y->desk);
    if (order == 0)
        order = (x->seq > y->seq) - (x->seq < y->seq);
    return order != 0 ? order : x->index - y->index;
}

static void find_readings(const struct event *event, struct desk_list *list) {
    for (int i = 0; i < event->readings.count; i++) {
        const struct extra *extras = readings_view_at(event->readings, i)->text.extras;
        const char *desk = extra_value(extras, "desk");
        int64_t seq = 0;
        if (!desk_id_is_good(desk))
            continue;
        (void)decimal_parse_whole(extra_value(extras, "seq"), 1, SEQ_MAX, &seq);
        list->readings[list->reading_count++] = (struct desk_reading){desk, seq, i};
    }
    qsort(list->readings, list->reading_count, sizeof *list->readings, by_desk_and_seq);
}

int desk_list_make(const struct event *event, const struct served_event *served,
                   struct desk_reports *reports, struct desk_list *out) {
    *out = (struct desk_list){0};
    out->readings = calloc((size_t)event->readings.count + 1, sizeof *out->readings);
    out->reports = calloc(LIMIT_DESKS, sizeof *out->reports);
    if (out->readings == NULL || out->reports == NULL)
        return ERR_NOMEM;
    find_readings(event, out);
    out->report_count = desk_reports_list(reports, served, out->reports);
    return ERR_OK;
}

void desk_list_clear(struct desk_list *list) {
    free(list->readings);
    free(list->reports);
    *list = (struct desk_list){0};
}

static void count_numbers(struct desk *desk) {
    for (size_t i = 0; i < desk->reading_count; i++) {
        int64_t seq = desk->readings[i].seq;
        desk->here += seq > 0 && seq != desk->last; /* one that came twice stands side by side */
        if (desk->first == 0)
            desk->first = seq;
        desk->last = seq;
    }
    if (desk->report != NULL && desk->report->last_seq > desk->last)
        desk->last = desk->report->last_seq;
}

bool desk_list_next(struct desk_list *list, struct desk *out) {
    const struct desk_reading *readings = &list->readings[list->next_reading];
    const struct desk_report *report = &list->reports[list->next_report];
    size_t left = list->reading_count - list->next_reading;
    bool reported = list->next_report < list->report_count;
    if (left == 0 && !reported)
        return false;
    /* Both lists are in order of desk: the next one stands first in one of them, or in both. */
    int order = left == 0 ? 1 : !reported ? -1 : strcmp(readings->desk, report->desk);
    *out = (struct desk){.id = order <= 0 ? readings->desk : report->desk,
                         .readings = readings,
                         .report = order >= 0 ? report : NULL};
    while (out->reading_count < left && strcmp(readings[out->reading_count].desk, out->id) == 0)
        out->reading_count++;
    list->next_reading += out->reading_count;
    list->next_report += order >= 0;
    count_numbers(out);
    return true;
}

int desk_list_gaps(const struct event *event, const struct served_event *served,
                   struct desk_reports *reports, struct desk_gaps *out) {
    struct desk_list list;
    struct desk desk;
    *out = (struct desk_gaps){0};
    int err = desk_list_make(event, served, reports, &list);
    while (err == ERR_OK && desk_list_next(&list, &desk)) {
        out->desks++;
        out->with_gaps += desk.last > desk.here;
        out->missing += desk.last - desk.here;
    }
    desk_list_clear(&list);
    return err;
}
