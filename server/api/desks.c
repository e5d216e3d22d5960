/* SPDX-License-Identifier: MIT */
/* The desks as the office sees them. */
#include "api/api.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "live/desk_gaps.h"
#include "live/desk_reports.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

static void write_gap(struct textbuf *b, const char **sep, int64_t from, int64_t to) {
    textbuf_printf(b, "%s[%lld,%lld]", *sep, (long long)from, (long long)to);
    *sep = ",";
}

/* Numbers that the server does not hold, up to the last that the desk gave out. */
static void write_gaps(struct textbuf *b, const struct desk_reading *sent, size_t count,
                       int64_t last) {
    const char *sep = "";
    int64_t next = 1;
    textbuf_puts(b, ",\"gaps\":[");
    for (size_t i = 0; i < count; i++) {
        if (sent[i].seq > next)
            write_gap(b, &sep, next, sent[i].seq - 1);
        if (sent[i].seq >= next)
            next = sent[i].seq + 1;
    }
    if (next <= last)
        write_gap(b, &sep, next, last);
    textbuf_putc(b, ']');
}

static void write_points(struct textbuf *b, const struct event *event,
                         const struct desk_reading *sent, size_t count) {
    const char *sep = "";
    textbuf_puts(b, ",\"points\":[");
    for (int p = 0; p < event->rules->point_count; p++) {
        for (size_t i = 0; i < count; i++) {
            if (readings_view_at(event->readings, sent[i].index)->point != p)
                continue;
            textbuf_puts(b, sep);
            json_write_text(b, event->rules->points[p].id);
            sep = ",";
            break;
        }
    }
    textbuf_putc(b, ']');
}

static void write_report(struct textbuf *b, const struct desk_report *report) {
    textbuf_puts(b, ",\"report\":");
    if (report == NULL) {
        textbuf_puts(b, "null");
        return;
    }
    textbuf_puts(b, "{\"received\":\"");
    write_instant(b, report->received_ms);
    textbuf_printf(b,
                   "\",\"last_seq\":%lld,\"unsent\":%lld,\"refused\":%lld,\"blanks\":%lld,"
                   "\"offset_ms\":%lld,\"uncertainty_ms\":%lld,\"clock\":\"%s\",\"version\":",
                   (long long)report->last_seq, (long long)report->unsent,
                   (long long)report->refused, (long long)report->blanks,
                   (long long)report->offset_ms, (long long)report->uncertainty_ms,
                   desk_clock_word(report->clock));
    json_write_text(b, report->version);
    textbuf_putc(b, '}');
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
    textbuf_printf(b, "{\"desk\":\"%s\",\"by\":", report != NULL ? report->desk : sent->desk);
    json_write_text(b, latest != NULL   ? latest->text.field[READING_BY]
                       : report != NULL ? report->by
                                        : "");
    textbuf_puts(b, ",\"label\":");
    json_write_text(b, report == NULL ? "" : label_of(r, report->key_id));
    write_points(b, event, sent, count);
    textbuf_printf(b, ",\"first\":%lld,\"last\":%lld,\"taken\":%d", (long long)first,
                   (long long)last, taken);
    write_gaps(b, sent, count, last);
    textbuf_puts(b, ",\"last_at\":");
    json_write_text(b, latest == NULL ? "" : latest->text.field[READING_AT]);
    textbuf_printf(b, ",\"flagged\":%d", flagged);
    write_report(b, report);
    textbuf_putc(b, '}');
}

unsigned api_desks(struct request *r, struct textbuf *b) {
    size_t count = 0;
    struct desk_reading *sent = desk_readings_find(&r->snapshot->event, &count);
    struct desk_report *reports = request_array(r, LIMIT_DESKS, sizeof *reports);
    if (sent == NULL || !request_owns(r, sent, free) || reports == NULL)
        return request_no_memory(r);
    size_t report_count = desk_reports_list(server_desk_reports(r->server), r->served, reports);
    const char *sep = "";
    size_t at = 0;
    size_t reported = 0;
    textbuf_printf(b, "{\"event\":\"%s\",\"desks\":[", r->snapshot->event.rules->slug);
    /* Both lists are in order of desk. */
    while (at < count || reported < report_count) {
        int order = at == count                ? 1
                    : reported == report_count ? -1
                                               : strcmp(sent[at].desk, reports[reported].desk);
        size_t end = at;
        while (order <= 0 && end < count && strcmp(sent[end].desk, sent[at].desk) == 0)
            end++;
        textbuf_printf(b, "%s\n", sep);
        write_desk(b, r, &sent[at], end - at, order >= 0 ? &reports[reported] : NULL);
        sep = ",";
        at = end;
        reported += order >= 0;
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

/* Words with spaces between them, as a list. */
static void write_words(struct textbuf *b, const char *words, struct textbuf *word) {
    textbuf_putc(b, '[');
    for (const char *sep = ""; *(words += strspn(words, " ")) != '\0'; sep = ",") {
        size_t len = strcspn(words, " ");
        textbuf_reset(word);
        textbuf_add(word, words, len);
        textbuf_puts(b, sep);
        json_write_text(b, textbuf_text(word));
        words += len;
    }
    textbuf_putc(b, ']');
}

static void write_field(struct textbuf *b, const char *name, const char *value) {
    textbuf_printf(b, ",\"%s\":", name);
    json_write_text(b, value);
}

unsigned api_flags(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    struct textbuf *word = request_text(r);
    const char *sep = "";
    textbuf_printf(b, "{\"event\":\"%s\",\"flags\":[", event->rules->slug);
    for (int i = event->readings.count - 1; i >= 0; i--) {
        const struct reading *reading = readings_view_at(event->readings, i);
        const char *flags = reading_extra(reading, "flags");
        if (*flags == '\0')
            continue;
        textbuf_printf(b, "%s\n{\"reading\":", sep);
        json_write_text(b, reading->id);
        write_field(b, "point", reading->text.field[READING_POINT]);
        textbuf_printf(b, ",\"car\":%d", event->entries->list[reading->car].number);
        write_field(b, "time", reading->text.field[READING_TIME]);
        write_field(b, "elapsed", reading->text.field[READING_ELAPSED]);
        write_field(b, "faults", reading->text.field[READING_FAULTS]);
        write_field(b, "desk", reading_extra(reading, "desk"));
        write_field(b, "seq", reading_extra(reading, "seq"));
        write_field(b, "by", reading->text.field[READING_BY]);
        write_field(b, "at", reading->text.field[READING_AT]);
        textbuf_puts(b, ",\"flags\":");
        write_words(b, flags, word);
        write_field(b, "note", reading_extra(reading, "note"));
        textbuf_printf(b, ",\"replaced\":%s}",
                       reading_is_replaced(event->readings, reading) ? "true" : "false");
        sep = ",";
    }
    textbuf_puts(b, "]}\n");
    b->failed = b->failed || word->failed;
    return MHD_HTTP_OK;
}
