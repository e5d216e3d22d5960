/* SPDX-License-Identifier: MIT */
/* The desks as the office sees them. */
#include "api/api.h"

#include "api/event_object.h"
#include "base/err.h"
#include "format/extra.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "live/desk_list.h"
#include "system/system_clock.h"

static void write_gap(struct textbuf *b, int64_t from, int64_t to) {
    json_open_array(b);
    json_write_int(b, from);
    json_write_int(b, to);
    json_close_array(b);
}

/* Numbers that the server does not hold, up to the last that the desk gave out. */
static void write_gaps(struct textbuf *b, const struct desk *desk) {
    int64_t next = 1;
    json_member_array(b, "gaps");
    for (size_t i = 0; i < desk->reading_count; i++) {
        int64_t seq = desk->readings[i].seq;
        if (seq > next)
            write_gap(b, next, seq - 1);
        if (seq >= next)
            next = seq + 1;
    }
    if (next <= desk->last)
        write_gap(b, next, desk->last);
    json_close_array(b);
}

static bool has_read_at(const struct event *event, const struct desk *desk, int point) {
    for (size_t i = 0; i < desk->reading_count; i++) {
        if (readings_view_at(event->readings, desk->readings[i].index)->point == point)
            return true;
    }
    return false;
}

static void write_points(struct textbuf *b, const struct event *event, const struct desk *desk) {
    json_member_array(b, "points");
    for (int p = 0; p < event->rules->point_count; p++) {
        if (has_read_at(event, desk, p))
            json_write_text(b, event->rules->points[p].id);
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
    json_member_int(b, "skew_ms", report->skew_ms);
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

static int count_flagged(const struct event *event, const struct desk *desk) {
    int flagged = 0;
    for (size_t i = 0; i < desk->reading_count; i++) {
        const struct reading *reading = readings_view_at(event->readings, desk->readings[i].index);
        flagged += *extra_value(reading->text.extras, "flags") != '\0';
    }
    return flagged;
}

/* Who sat there last, and when: the latest reading tells it, else the report. */
static void write_desk(struct textbuf *b, const struct request *r, const struct desk *desk) {
    const struct event *event = &r->snapshot->event;
    const struct desk_report *report = desk->report;
    const char *by = report == NULL ? "" : report->by;
    const char *last_at = "";
    if (desk->reading_count > 0) {
        const struct desk_reading *last = &desk->readings[desk->reading_count - 1];
        const struct reading *latest = readings_view_at(event->readings, last->index);
        by = latest->text.field[READING_BY];
        last_at = latest->text.field[READING_AT];
    }
    json_open_object(b);
    json_member_text(b, "desk", desk->id);
    json_member_text(b, "by", by);
    json_member_text(b, "label", report == NULL ? "" : label_of(r, report->key_id));
    write_points(b, event, desk);
    json_member_int(b, "first", desk->first);
    json_member_int(b, "last", desk->last);
    json_member_int(b, "taken", desk->here);
    write_gaps(b, desk);
    json_member_text(b, "last_at", last_at);
    json_member_int(b, "flagged", count_flagged(event, desk));
    write_report(b, report);
    json_close_object(b);
}

static void clear_list(void *list) {
    desk_list_clear(list);
}

unsigned api_desks(struct request *r, struct textbuf *b) {
    struct desk_list *list = request_value(r, sizeof *list, clear_list);
    struct desk desk;
    if (list == NULL || desk_list_make(&r->snapshot->event, r->served,
                                       server_desk_reports(r->server), list) != ERR_OK)
        return request_no_memory(r);
    event_object_open(r, b);
    json_member_array(b, "desks");
    while (desk_list_next(list, &desk)) {
        json_line(b);
        write_desk(b, r, &desk);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}
