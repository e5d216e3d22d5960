/* SPDX-License-Identifier: MIT */
#include "live/desk_reports.h"

#include <pthread.h>
#include <stdlib.h>
#include <string.h>

#include "system/hard_limits.h"

struct desk_reports {
    pthread_mutex_t lock;
    size_t count;
    struct desk_report list[LIMIT_DESKS];
};

struct desk_reports *desk_reports_new(void) {
    struct desk_reports *reports = calloc(1, sizeof *reports);
    if (reports != NULL)
        (void)pthread_mutex_init(&reports->lock, NULL);
    return reports;
}

void desk_reports_free(struct desk_reports *reports) {
    if (reports == NULL)
        return;
    (void)pthread_mutex_destroy(&reports->lock);
    free(reports);
}

void desk_reports_put(struct desk_reports *reports, const struct desk_report *report) {
    (void)pthread_mutex_lock(&reports->lock);
    struct desk_report *place = NULL;
    struct desk_report *oldest = reports->list;
    for (size_t i = 0; i < reports->count && place == NULL; i++) {
        struct desk_report *r = &reports->list[i];
        if (r->served == report->served && strcmp(r->desk, report->desk) == 0)
            place = r;
        if (r->received_ms < oldest->received_ms)
            oldest = r;
    }
    if (place == NULL)
        place = reports->count < LIMIT_DESKS ? &reports->list[reports->count++] : oldest;
    *place = *report;
    (void)pthread_mutex_unlock(&reports->lock);
}

static int by_desk(const void *a, const void *b) {
    const struct desk_report *x = a;
    const struct desk_report *y = b;
    return strcmp(x->desk, y->desk);
}

size_t desk_reports_list(struct desk_reports *reports, const struct served_event *served,
                         struct desk_report *out) {
    size_t count = 0;
    (void)pthread_mutex_lock(&reports->lock);
    for (size_t i = 0; i < reports->count; i++) {
        if (reports->list[i].served == served)
            out[count++] = reports->list[i];
    }
    (void)pthread_mutex_unlock(&reports->lock);
    qsort(out, count, sizeof *out, by_desk);
    return count;
}

bool desk_id_is_good(const char *id) {
    return strlen(id) == DESK_ID_LEN && strspn(id, "0123456789abcdef") == DESK_ID_LEN;
}

const char *const desk_clock_words[] = {"unverified", "doubtful", "good", "wrong", NULL};

const char *desk_clock_word(enum desk_clock clock) {
    return desk_clock_words[clock];
}
