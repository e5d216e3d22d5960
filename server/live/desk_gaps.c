/* SPDX-License-Identifier: MIT */
#include "live/desk_gaps.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "system/hard_limits.h"

enum { SEQ_MAX = 1000000 };

const char *reading_extra(const struct reading *reading, const char *name) {
    for (const struct extra *e = reading->text.extras; e != NULL; e = e->next) {
        if (strcmp(e->name, name) == 0)
            return e->value;
    }
    return "";
}

static int by_desk_and_seq(const void *a, const void *b) {
    const struct desk_reading *x = a;
    const struct desk_reading *y = b;
    int order = strcmp(x->desk, y->desk);
    if (order == 0)
        order = (x->seq > y->seq) - (x->seq < y->seq);
    return order != 0 ? order : x->index - y->index;
}

struct desk_reading *desk_readings_find(const struct event *event, size_t *count) {
    struct desk_reading *list = calloc((size_t)event->readings.count + 1, sizeof *list);
    *count = 0;
    for (int i = 0; list != NULL && i < event->readings.count; i++) {
        const struct reading *reading = readings_view_at(event->readings, i);
        const char *desk = reading_extra(reading, "desk");
        int64_t seq = 0;
        if (!desk_id_is_good(desk))
            continue;
        (void)decimal_parse_whole(reading_extra(reading, "seq"), 1, SEQ_MAX, &seq);
        list[(*count)++] = (struct desk_reading){desk, seq, i};
    }
    if (list != NULL)
        qsort(list, *count, sizeof *list, by_desk_and_seq);
    return list;
}

/* One desk: numbers up to the last that it gave out, less those that are here. */
static void count_desk(struct desk_gaps *gaps, const struct desk_reading *sent, size_t count,
                       int64_t reported) {
    int64_t here = 0;
    int64_t last = reported;
    for (size_t i = 0; i < count; i++) {
        here += sent[i].seq > 0 && (i == 0 || sent[i].seq != sent[i - 1].seq);
        if (sent[i].seq > last)
            last = sent[i].seq;
    }
    gaps->desks++;
    gaps->with_gaps += last > here;
    gaps->missing += last - here;
}

int desk_gaps_make(const struct event *event, const struct served_event *served,
                   struct desk_reports *reports, struct desk_gaps *out) {
    size_t count = 0;
    size_t at = 0;
    size_t reported = 0;
    struct desk_reading *sent = desk_readings_find(event, &count);
    struct desk_report *list = calloc(LIMIT_DESKS, sizeof *list);
    size_t report_count = list == NULL ? 0 : desk_reports_list(reports, served, list);
    int err = sent == NULL || list == NULL ? ERR_NOMEM : ERR_OK;
    *out = (struct desk_gaps){0};
    /* Both lists are in order of desk. */
    while (err == ERR_OK && (at < count || reported < report_count)) {
        int order = at == count                ? 1
                    : reported == report_count ? -1
                                               : strcmp(sent[at].desk, list[reported].desk);
        size_t end = at;
        while (order <= 0 && end < count && strcmp(sent[end].desk, sent[at].desk) == 0)
            end++;
        count_desk(out, sent + at, end - at, order >= 0 ? list[reported].last_seq : 0);
        at = end;
        reported += order >= 0;
    }
    free(sent);
    free(list);
    return err;
}
