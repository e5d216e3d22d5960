/* SPDX-License-Identifier: MIT */
/* A desk's own requests. What it is told of the event is what its key may see: its own points, and
 * of the others only what the public sees. */
#include "api/api.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "api/arguments.h"
#include "api/bodies.h"
#include "api/event_object.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/utf8.h"
#include "event/entry_words.h"
#include "event/kind.h"
#include "format/json_read.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "live/desk_reports.h"
#include "scoring/kinds/time_control.h"
#include "store/keys.h"
#include "system/system_clock.h"

static bool covers(const struct request *r, int point) {
    return r->role == ROLE_ORGANISER ||
           key_covers(r->snapshot->keys->keys[r->key].points, r->snapshot->event.rules, point);
}

unsigned api_clock(struct request *r, struct textbuf *b) {
    struct timespec now;
    struct tm parts;
    char text[32] = "";
    (void)r;
    (void)clock_gettime(CLOCK_REALTIME, &now);
    if (gmtime_r(&now.tv_sec, &parts) != NULL)
        (void)strftime(text, sizeof text, "%Y-%m-%dT%H:%M:%S", &parts);
    int ms = (int)(now.tv_nsec / 1000000);
    json_open_object(b);
    json_key(b, "now");
    size_t from = json_open_text(b);
    textbuf_printf(b, "%s.%03dZ", text, ms);
    json_close_text(b, from);
    json_member_int(b, "ms", (int64_t)now.tv_sec * 1000 + ms);
    json_close_document(b);
    return MHD_HTTP_OK;
}

static const char *part_word(enum point_role role, enum kind_id kind) {
    switch (role) {
    case ROLE_ARRIVAL:
        return "arrival";
    case ROLE_DEPARTURE:
        return "departure";
    case ROLE_PASSAGE:
        return "passage";
    case ROLE_START:
        return "start";
    case ROLE_CHECK:
        return kind == KIND_SET_TIME ? "pad" : "check";
    case ROLE_FINISH:
        return "finish";
    case ROLE_LAP:
        return "lap";
    case ROLE_NOMINATED:
        return "nominated";
    }
    return "";
}

/* Which sorts of reading the point takes, found by asking its kind. */
static void write_takes(struct textbuf *b, const struct item *item, const struct point *point) {
    static const struct {
        const char *word;
        bool time, elapsed;
    } sorts[] = {{"time", true, false}, {"elapsed", false, true}, {"sighting", false, false}};
    json_member_array(b, "takes");
    for (size_t i = 0; i < sizeof sorts / sizeof sorts[0]; i++) {
        const struct reading tried = {.time = sorts[i].time ? 0 : TIME_NONE,
                                      .elapsed = sorts[i].elapsed ? 1000 : TIME_NONE};
        bool bare = !sorts[i].time && !sorts[i].elapsed;
        const struct kind *kind = kind_of(item->kind);
        /* A reading without any time serves a passage control alone. */
        if ((bare && item->kind != KIND_PASSAGE_CONTROL) ||
            (kind->refusal != NULL && kind->refusal(item, point, &tried) != NULL))
            continue;
        json_write_text(b, sorts[i].word);
    }
    json_close_array(b);
}

static void write_point(struct textbuf *b, const struct request *r, int index) {
    const struct rules *rules = r->snapshot->event.rules;
    const struct point *point = &rules->points[index];
    const struct item *item = &rules->items[point->item];
    json_open_object(b);
    json_member_text(b, "id", point->id);
    json_member_text(b, "item", item->id);
    json_member_text(b, "kind", kind_name(item->kind));
    json_member_text(b, "part", part_word(point->role, item->kind));
    json_member_int(b, "number", point->number);
    json_member_text(b, "name", item->name);
    json_member_int(b, "day", item->day + 1);
    json_member_text(b, "precision", unit_name(item->rule.precision));
    write_takes(b, item, point);
    json_member_array(b, "faults");
    for (int i = 0; i < item->fault_count; i++)
        json_write_text(b, item->faults[i].name);
    json_close_array(b);
    json_member_bool(b, "open", !r->snapshot->event.rulings->closed[index]);
    json_close_object(b);
}

static void write_days(struct textbuf *b, const struct rules *rules) {
    json_member_array(b, "days");
    for (int d = 0; d < rules->day_count; d++) {
        json_open_object(b);
        json_member_int(b, "day", d + 1);
        json_member_text(b, "date", rules->days[d].date);
        json_close_object(b);
    }
    json_close_array(b);
}

static void write_points(struct textbuf *b, const struct request *r) {
    json_member_array(b, "points");
    for (int p = 0; p < r->snapshot->event.rules->point_count; p++) {
        if (!covers(r, p))
            continue;
        json_line(b);
        write_point(b, r, p);
    }
    json_close_array(b);
}

static void write_car(struct textbuf *b, const struct event *event, int car) {
    const struct entry *e = &event->entries->list[car];
    json_open_object(b);
    json_member_int(b, "number", e->number);
    entry_crew_json(b, e);
    entry_vehicle_json(b, e);
    entry_class_json(b, event->rules, e->class_index);
    json_close_object(b);
}

static void write_cars(struct textbuf *b, const struct event *event) {
    json_member_array(b, "cars");
    for (int car = 0; car < event->entries->count; car++) {
        json_line(b);
        write_car(b, event, car);
    }
    json_close_array(b);
}

unsigned api_desk(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    const struct rules *rules = event->rules;
    event_object_open(r, b);
    json_member_text(b, "name", rules->name);
    json_member_text(b, "timezone", rules->timezone);
    json_member_text(b, "unit", rules->miles ? "mi" : "km");
    json_member_int(b, "revision", r->results->revision);
    json_member_text(b, "role", r->role == ROLE_ORGANISER ? "organiser" : "timekeeper");
    json_member_text(b, "label", r->snapshot->keys->keys[r->key].label);
    write_days(b, rules);
    write_points(b, r);
    write_cars(b, event);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* One car at the point. */
struct expectation {
    int car;
    int start;   /* its place in the start order */
    int64_t due; /* TIME_NONE where nothing can be told */
    const struct reading *reading;
    bool doubtful;
    bool out;
    bool further; /* read behind this point */
    bool before;  /* read at the control before, or there is none */
};

/* The control before the point that day which whoever asks may see; -1 where there is none. */
static int control_before(const struct rules *rules, const struct view *view, int point) {
    int item = rules->points[point].item;
    for (int i = item - 1; i >= 0 && rules->items[i].day == rules->items[item].day; i--) {
        bool control = rules->items[i].kind == KIND_TIME_CONTROL ||
                       rules->items[i].kind == KIND_PASSAGE_CONTROL;
        if (control && !view->hidden[i])
            return i;
    }
    return -1;
}

/* When the car is due at the point, as far as its sheet tells. */
static int64_t due_at(const struct score_sheet *sheet, const struct rules *rules, int index) {
    const struct point *point = &rules->points[index];
    const struct item *item = &rules->items[point->item];
    if (point->role == ROLE_DEPARTURE) {
        const struct scored_point *arrival = &sheet->scored[item->first_scored];
        return arrival->reading == NULL || arrival->actual == TIME_NONE
                   ? TIME_NONE
                   : arrival->actual + time_control_of(item)->halt;
    }
    if (point->scored < 0 || sheet->scored[point->scored].durations)
        return TIME_NONE;
    return sheet->scored[point->scored].due;
}

static int in_order(const void *a, const void *b) {
    const struct expectation *x = a;
    const struct expectation *y = b;
    int64_t from = x->due == TIME_NONE ? INT64_MAX : x->due;
    int64_t to = y->due == TIME_NONE ? INT64_MAX : y->due;
    return from != to ? (from > to) - (from < to) : x->start - y->start;
}

static void expect(struct expectation *e, const struct shown_scores *s,
                   const struct score_sheet *sheet, const struct request *r, int point,
                   int control) {
    const struct event *event = &r->snapshot->event;
    const struct rules *rules = event->rules;
    int item = rules->points[point].item;
    e->reading = readings_counted(event->readings, e->car, point, &e->doubtful);
    e->out = s->scores->cars[e->car].status == STATUS_DISQUALIFIED ||
             score_sheet_absent(sheet, e->car, point);
    e->further = sheet->through > point;
    e->due = s->view->hidden[item] ? TIME_NONE : due_at(sheet, rules, point);
    e->before = control < 0;
    for (int p = 0; control >= 0 && p < rules->items[control].point_count; p++)
        e->before = e->before || sheet->counted[rules->items[control].first_point + p] != NULL;
}

static const char *state_of(const struct expectation *e, bool closed) {
    if (e->reading != NULL)
        return "seen";
    if (e->out)
        return "out";
    return e->further || closed ? "missing" : "expected";
}

static void write_expectation(struct textbuf *b, const struct event *event,
                              const struct expectation *e, bool closed) {
    const struct reading *reading = e->reading;
    json_open_object(b);
    json_member_int(b, "car", event->entries->list[e->car].number);
    json_member_time(b, "due", e->due, 0);
    json_member_text(b, "state", state_of(e, closed));
    json_member_time(b, "time", reading == NULL ? TIME_NONE : reading->time, 0);
    json_member_time(b, "elapsed", reading == NULL ? TIME_NONE : reading->elapsed, 0);
    json_member_text(b, "faults", reading == NULL ? "" : reading->text.field[READING_FAULTS]);
    json_member_text_or_null(b, "reading", reading == NULL ? NULL : reading->id);
    json_member_bool(b, "before", e->before);
    json_member_bool(b, "doubtful", e->doubtful);
    json_close_object(b);
}

static void write_expected(struct textbuf *b, const struct request *r, int point,
                           const struct expectation *list, int count) {
    const struct event *event = &r->snapshot->event;
    bool closed = event->rulings->closed[point];
    int seen = 0;
    int out = 0;
    for (int i = 0; i < count; i++) {
        seen += list[i].reading != NULL;
        out += list[i].reading == NULL && list[i].out;
    }
    event_object_open(r, b);
    json_member_text(b, "point", event->rules->points[point].id);
    json_member_int(b, "revision", r->results->revision);
    json_member_int(b, "expected", count - out);
    json_member_int(b, "seen", seen);
    json_member_int(b, "out", out);
    json_member_array(b, "cars");
    for (int i = 0; i < count; i++) {
        json_line(b);
        write_expectation(b, event, &list[i], closed);
    }
    json_close_array(b);
    json_close_document(b);
}

unsigned api_expected(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    const char *name = request_query(r, "point");
    int point = name == NULL ? -1 : strmap_get(&event->rules->point_by_id, name);
    struct shown_scores s;
    struct score_sheet sheet = {0};
    struct expectation *list = NULL;
    int *cars = NULL;
    int count = 0;
    if (name == NULL)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "Which point? Add ?point=ID.");
    /* The same words whether the point is another's or does not exist. */
    if (point < 0 || !covers(r, point))
        return request_fail(r, MHD_HTTP_FORBIDDEN, "“%s” is not one of this key's points.", name);
    if (request_scores(r, -1, &s) != ERR_OK)
        return request_no_memory(r);
    int err = request_starters(r, event->rules->items[event->rules->points[point].item].day, &cars,
                               &count);
    list = err == ERR_OK ? request_array(r, (size_t)count + 1, sizeof *list) : NULL;
    int control = control_before(event->rules, s.view, point);
    for (int i = 0; list != NULL && err == ERR_OK && i < count; i++) {
        list[i].car = cars[i];
        list[i].start = i;
        err = scores_sheet(s.scores, cars[i], &sheet);
        if (err == ERR_OK)
            expect(&list[i], &s, &sheet, r, point, control);
        score_sheet_clear(&sheet);
    }
    if (list == NULL || err != ERR_OK)
        return request_no_memory(r);
    qsort(list, (size_t)count, sizeof *list, in_order);
    write_expected(b, r, point, list, count);
    return MHD_HTTP_OK;
}

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
        if (point < 0 || !covers(r, point))
            json_wrong(reader, &place, NULL, "is not one of this key's points");
    }
}

static void read_report(const struct request *r, const struct json_reader *reader,
                        const json_t *root, struct desk_report *report) {
    static const char *const keys[] = {"by",      "points",  "last_seq",  "unsent",
                                       "refused", "blanks",  "offset_ms", "uncertainty_ms",
                                       "clock",   "version", NULL};
    static const char *const clocks[] = {"unverified", "doubtful", "good", NULL};
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
        (void)snprintf(report->by, sizeof report->by, "%.*s",
                       (int)utf8_fit(text, sizeof report->by - 1), text);
    if (json_get_text(reader, root, NULL, "version", false, &text))
        (void)snprintf(report->version, sizeof report->version, "%.*s",
                       (int)utf8_fit(text, sizeof report->version - 1), text);
    (void)json_get_whole(reader, root, NULL, "last_seq", true, 0, many, &report->last_seq);
    (void)json_get_whole(reader, root, NULL, "unsent", true, 0, many, &report->unsent);
    (void)json_get_whole(reader, root, NULL, "refused", true, 0, many, &report->refused);
    (void)json_get_whole(reader, root, NULL, "blanks", true, 0, many, &report->blanks);
    /* These two come from arithmetic and may have decimals; whole ms are enough to show. */
    if (json_get_decimal(reader, root, NULL, "offset_ms", false, -far, far, &report->offset_ms))
        report->offset_ms /= 1000;
    if (json_get_decimal(reader, root, NULL, "uncertainty_ms", false, 0, far,
                         &report->uncertainty_ms))
        report->uncertainty_ms /= 1000;
    if (json_get_choice(reader, root, NULL, "clock", true, clocks, &clock))
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
