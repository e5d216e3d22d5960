/* SPDX-License-Identifier: MIT */
/* What a desk tells of itself. */
#include "api/api.h"

#include <stdio.h>
#include <string.h>

#include "api/arguments.h"
#include "api/bodies.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/utf8.h"
#include "format/json_read.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "live/desk_reports.h"
#include "system/system_clock.h"

/* Every point of the list is one of the key's. */
static void check_points(const struct request *r, const struct json_reader *reader,
                         const json_t *points) {
    const struct rules *rules = r->snapshot->event.rules;
    for (size_t i = 0; i < json_array_size(points); i++) {
        const struct json_place list = {NULL, "points", 0};
        const struct json_place place = {&list, NULL, i};
        const char *id = NULL;
        if (!json_value_text(reader, json_array_get(points, i), &place, NULL, &id))
            continue;
        int point = strmap_get(&rules->point_by_id, id);
        if (point < 0 || !request_covers(r, point))
            json_wrong(reader, &place, NULL, "is not one of this key's points");
    }
}

/* A longer text loses its end: it is only shown to people. */
static void copy_fitting(char out[DESK_TEXT_MAX + 1], const char *text) {
    (void)snprintf(out, DESK_TEXT_MAX + 1, "%.*s", (int)utf8_fit(text, DESK_TEXT_MAX), text);
}

static void read_report(const struct request *r, const struct json_reader *reader,
                        const json_t *root, struct desk_report *report) {
    static const char *const keys[] = {"by",        "points",         "last_seq", "unsent",
                                       "refused",   "blanks",         "skew_ms",  "clock",
                                       "offset_ms", "uncertainty_ms", "version",  NULL};
    static const int64_t many = 1000000;
    static const int64_t far = INT64_C(1) << 50;
    const json_t *points = NULL;
    const char *text = NULL;
    int clock = DESK_CLOCK_UNVERIFIED;
    if (!json_known_keys(reader, root, NULL, keys, NULL))
        return;
    if (json_get_array(reader, root, NULL, "points", true, &points))
        check_points(r, reader, points);
    if (json_get_text(reader, root, NULL, "by", false, &text))
        copy_fitting(report->by, text);
    if (json_get_text(reader, root, NULL, "version", false, &text))
        copy_fitting(report->version, text);
    (void)json_get_whole(reader, root, NULL, "last_seq", true, 0, many, &report->last_seq);
    (void)json_get_whole(reader, root, NULL, "unsent", true, 0, many, &report->unsent);
    (void)json_get_whole(reader, root, NULL, "refused", true, 0, many, &report->refused);
    (void)json_get_whole(reader, root, NULL, "blanks", true, 0, many, &report->blanks);
    /* These come from arithmetic and may have decimals; whole ms are enough to show. */
    if (json_get_decimal(reader, root, NULL, "offset_ms", false, -far, far, &report->offset_ms))
        report->offset_ms /= 1000;
    if (json_get_decimal(reader, root, NULL, "uncertainty_ms", false, 0, far,
                         &report->uncertainty_ms))
        report->uncertainty_ms /= 1000;
    if (json_get_decimal(reader, root, NULL, "skew_ms", false, -far, far, &report->skew_ms))
        report->skew_ms /= 1000;
    if (json_get_choice(reader, root, NULL, "clock", true, desk_clock_words, &clock))
        report->clock = (enum desk_clock)clock;
}

unsigned act_desk_report(struct request *r, struct textbuf *b) {
    struct desk_report report = {.served = r->served, .received_ms = now_ms()};
    struct json_reader reader;
    json_t *root = NULL;
    if (!desk_id_is_good(r->args[1]))
        return request_fail(r, MHD_HTTP_NOT_FOUND, "A desk is named by %d hexadecimal digits.",
                            DESK_ID_LEN);
    memcpy(report.desk, r->args[1], sizeof report.desk);
    report.key_id = r->snapshot->keys->keys[r->key].id;
    int err = request_json(r, "report", &reader, &root);
    if (err == ERR_OK)
        read_report(r, &reader, root, &report);
    if (err == ERR_NOMEM || problems_out_of_memory(reader.problems))
        return request_no_memory(r);
    if (reader.problems->count > 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "%s: %s", reader.problems->list[0].place,
                            reader.problems->list[0].text);
    desk_reports_put(server_desk_reports(r->server), &report);
    json_open_object(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}
