/* SPDX-License-Identifier: MIT */
/* The desks as the office sees them. */
#include "api/api.h"

#include <stdlib.h>
#include <string.h>

#include "api/event_object.h"
#include "base/err.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "live/desk_gaps.h"
#include "live/desk_reports.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

static void write_gap(struct textbuf *b, int64_t from, int64_t to) {
    json_open_array(b);
    json_write_int(b, from);
    json_write_int(b, to);
    json_close_array(b);
}

/* Numbers that the server does not hold, up to the last that the desk gave out. */
static void write_gaps(struct textbuf *b, const struct desk_reading *sent, size_t count,
                       int64_t last) {
    int64_t next = 1;
    json_member_array(b, "gaps");
    for (size_t i = 0; i < count; i++) {
        if (sent[i].seq > next)
            write_gap(b, next, sent[i].seq - 1);
        if (sent[i].seq >= next)
            next = sent[i].seq + 1;
    }
    if (next <= last)
        write_gap(b, next, last);
    json_close_array(b);
}

static void write_points(struct textbuf *b, const struct event *event,
                         const struct desk_reading *sent, size_t count) {
    json_member_array(b, "points");
    for (int p = 0; p < event->rules->point_count; p++) {
        for (size_t i = 0; i < count; i++) {
            if (readings_view_at(event->readings, sent[i].index)->point != p)
                continue;
            json_write_text(b, event->rules->points[p].id);
            break;
        }
    }
    json_close_array(b);
}

static void write_report(struct textbuf *b, const struct desk_report *report) {
    if (report == NULL) {
        json_member_null(b, "report");
        return;
    }
    json_member_object(b, "report");
    json_member_instant(b, "received", report->received_ms);
    json_member_int(b, "last_seq", report->last_seq);
    json_member_int(b, "unsent", report->unsent);
    json_member_int(b, "refused", report->refused);
    json_member_int(b, "blanks", report->blanks);
    json_member_int(b, "offset_ms", report->offset_ms);
    json_member_int(b, "uncertainty_ms", report->uncertainty_ms);
    json_member_text(b, "clock", desk_clock_word(report->clock));
    json_member_text(b, "version", report->version);
    json_close_object(b);
}

static const char *label_of(const struct request *r, int64_t key_id) {
    const struct keyring *ring = r->snapshot->keys;
    for (size_t i = 0; i < ring->count; i++) {
        if (ring->keys[i].id == key_id)
            return ring->keys[i].label;
    }
    return "";
}

/* One desk: what it sent (perhaps nothing) and what it told last (perhaps nothing). */
static void write_desk(struct textbuf *b, const struct request *r, const struct desk_reading *sent,
                       size_t count, const struct desk_report *report) {
    const struct event *event = &r->snapshot->event;
    const struct reading *latest =
        count == 0 ? NULL : readings_view_at(event->readings, sent[count - 1].index);
    int64_t first = 0;
    int64_t last = count == 0 ? 0 : sent[count - 1].seq;
    int taken = 0;
    int flagged = 0;
    for (size_t i = 0; i < count; i++) {
        bool again = i > 0 && sent[i].seq == sent[i - 1].seq;
        if (first == 0)
            first = sent[i].seq;
        taken += sent[i].seq > 0 && !again;
        flagged +=
            *reading_extra(readings_view_at(event->readings, sent[i].index), "flags") != '\0';
    }
    if (report != NULL && report->last_seq > last)
        last = report->last_seq;
    json_open_object(b);
    json_member_text(b, "desk", report != NULL ? report->desk : sent->desk);
    json_member_text(b, "by",
                     latest != NULL   ? latest->text.field[READING_BY]
                     : report != NULL ? report->by
                                      : "");
    json_member_text(b, "label", report == NULL ? "" : label_of(r, report->key_id));
    write_points(b, event, sent, count);
    json_member_int(b, "first", first);
    json_member_int(b, "last", last);
    json_member_int(b, "taken", taken);
    write_gaps(b, sent, count, last);
    json_member_text(b, "last_at", latest == NULL ? "" : latest->text.field[READING_AT]);
    json_member_int(b, "flagged", flagged);
    write_report(b, report);
    json_close_object(b);
}

unsigned api_desks(struct request *r, struct textbuf *b) {
    size_t count = 0;
    struct desk_reading *sent = desk_readings_find(&r->snapshot->event, &count);
    struct desk_report *reports = request_array(r, LIMIT_DESKS, sizeof *reports);
    if (sent == NULL || !request_owns(r, sent, free) || reports == NULL)
        return request_no_memory(r);
    size_t report_count = desk_reports_list(server_desk_reports(r->server), r->served, reports);
    size_t at = 0;
    size_t reported = 0;
    event_object_open(r, b);
    json_member_array(b, "desks");
    /* Both lists are in order of desk. */
    while (at < count || reported < report_count) {
        int order = at == count                ? 1
                    : reported == report_count ? -1
                                               : strcmp(sent[at].desk, reports[reported].desk);
        size_t end = at;
        while (order <= 0 && end < count && strcmp(sent[end].desk, sent[at].desk) == 0)
            end++;
        json_line(b);
        write_desk(b, r, &sent[at], end - at, order >= 0 ? &reports[reported] : NULL);
        at = end;
        reported += order >= 0;
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* Words with spaces between them, as a list. */
static void write_flags(struct textbuf *b, const char *words) {
    json_member_array(b, "flags");
    while (*(words += strspn(words, " ")) != '\0') {
        size_t len = strcspn(words, " ");
        size_t from = json_open_text(b);
        textbuf_add(b, words, len);
        json_close_text(b, from);
        words += len;
    }
    json_close_array(b);
}

static void write_flagged(struct textbuf *b, const struct event *event,
                          const struct reading *reading, const char *flags) {
    const char *const *field = reading->text.field;
    json_open_object(b);
    json_member_text(b, "reading", reading->id);
    json_member_text(b, "point", field[READING_POINT]);
    json_member_int(b, "car", event->entries->list[reading->car].number);
    json_member_text(b, "time", field[READING_TIME]);
    json_member_text(b, "elapsed", field[READING_ELAPSED]);
    json_member_text(b, "faults", field[READING_FAULTS]);
    json_member_text(b, "desk", reading_extra(reading, "desk"));
    json_member_text(b, "seq", reading_extra(reading, "seq"));
    json_member_text(b, "by", field[READING_BY]);
    json_member_text(b, "at", field[READING_AT]);
    write_flags(b, flags);
    json_member_text(b, "note", reading_extra(reading, "note"));
    json_member_bool(b, "replaced", reading_is_replaced(event->readings, reading));
    json_close_object(b);
}

unsigned api_flags(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    event_object_open(r, b);
    json_member_array(b, "flags");
    for (int i = event->readings.count - 1; i >= 0; i--) {
        const struct reading *reading = readings_view_at(event->readings, i);
        const char *flags = reading_extra(reading, "flags");
        if (*flags == '\0')
            continue;
        json_line(b);
        write_flagged(b, event, reading, flags);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}
