/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <limits.h>
#include <string.h>

#include "api/event_object.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "event/schedule.h"
#include "format/json_write.h"
#include "http/request.h"
#include "system/hard_limits.h"

static unsigned write_paper(struct request *r, struct textbuf *b, const struct sent_document *paper,
                            const char *media_type) {
    textbuf_add(b, paper->text, paper->len);
    etag_of_document(paper, r->tag);
    r->media_type = media_type;
    return MHD_HTTP_OK;
}

unsigned api_rules(struct request *r, struct textbuf *b) {
    return write_paper(r, b, &r->snapshot->set->documents->rules, "application/json");
}

unsigned api_entries(struct request *r, struct textbuf *b) {
    return write_paper(r, b, &r->snapshot->set->documents->entries,
                       "text/csv; charset=utf-8; header=present");
}

/* The fields that were given, and the columns that nobody knows, as members. */
static void write_fields(struct textbuf *b, const char *const *names, const char *const *fields,
                         size_t count, const struct extra *extras) {
    for (size_t i = 0; i < count; i++) {
        if (*fields[i] != '\0')
            json_member_text(b, names[i], fields[i]);
    }
    extra_write_json(b, extras);
}

unsigned api_decisions(struct request *r, struct textbuf *b) {
    const struct decision_list *decisions = &r->snapshot->event.decisions;
    results_object_open(r, b);
    json_member_array(b, "decisions");
    for (int i = 0; i < decisions->count; i++) {
        const struct decision *d = decisions->list[i].decision;
        json_line(b);
        json_open_object(b);
        json_member_int(b, "number", i + 1);
        json_member_bool(b, "holds", decisions->list[i].holds);
        /* A derived id is told too: a revoke has to name it. */
        const char *fields[DECISION_FIELD_COUNT];
        memcpy(fields, d->text.field, sizeof fields);
        fields[DECISION_ID] = d->id;
        write_fields(b, decision_field_names, fields, DECISION_FIELD_COUNT, d->text.extras);
        json_close_object(b);
    }
    json_close_array(b);
    json_close_document(b);
    etag_of_decisions(decisions->count, r->tag);
    return MHD_HTTP_OK;
}

/* Which readings count, looked up once for a car at a point and not once for each reading: a list
 * of as many places as there are cars times points, empty at first. */
struct counted {
    const struct event *event;
    const struct reading **list;
    bool *known;
};

static bool counted_begin(struct counted *c, struct request *r) {
    const struct event *event = &r->snapshot->event;
    size_t cells = (size_t)event->entries->count * (size_t)event->rules->point_count + 1;
    *c = (struct counted){event, request_array(r, cells, sizeof *c->list),
                          request_array(r, cells, sizeof *c->known)};
    return c->list != NULL && c->known != NULL;
}

static bool is_counted(struct counted *c, const struct reading *reading) {
    const struct event *event = c->event;
    if (reading->aside != ASIDE_NOT)
        return false;
    size_t cell = (size_t)reading->car * (size_t)event->rules->point_count + (size_t)reading->point;
    if (!c->known[cell]) {
        c->list[cell] = readings_counted(event->readings, reading->car, reading->point, NULL);
        c->known[cell] = true;
    }
    return c->list[cell] == reading;
}

static void write_reading(struct textbuf *b, struct counted *counted, int index) {
    const struct event *event = counted->event;
    const struct reading *reading = readings_view_at(event->readings, index);
    const char *fields[READING_FIELD_COUNT];
    memcpy(fields, reading->text.field, sizeof fields);
    fields[READING_ID] = reading->id;
    json_line(b);
    json_open_object(b);
    json_member_int(b, "number", index + 1);
    json_member_bool(b, "counts", is_counted(counted, reading));
    json_member_bool(b, "replaced", reading_is_replaced(event->readings, reading));
    write_fields(b, reading_field_names, fields, READING_FIELD_COUNT, reading->text.extras);
    json_close_object(b);
}

/* What a list of readings is asked for; -1 for all. */
struct readings_wanted {
    int point;
    int car;
    int64_t after; /* behind the reading of that number */
};

/* Returns 0, or the status of what is wrong with the question. */
static unsigned read_wanted(struct request *r, struct readings_wanted *out) {
    const struct event *event = &r->snapshot->event;
    const char *point = request_query(r, "point");
    const char *car = request_query(r, "car");
    const char *after = request_query(r, "after");
    *out = (struct readings_wanted){-1, -1, 0};
    if (point != NULL) {
        out->point = strmap_get(&event->rules->point_by_id, point);
        if (out->point < 0)
            return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no point “%s”.", point);
    }
    if (car != NULL) {
        int64_t number = 0;
        if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) == ERR_OK)
            out->car = entries_find(event->entries, number);
        if (out->car < 0)
            return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no car “%s”.", car);
    }
    if (after != NULL && decimal_parse_whole(after, 0, INT_MAX, &out->after) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“after” is the number of a reading.");
    return 0;
}

unsigned api_readings(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    struct readings_wanted wanted;
    struct counted counted;
    unsigned status = read_wanted(r, &wanted);
    if (status != 0)
        return status;
    if (!counted_begin(&counted, r))
        return request_no_memory(r);
    results_object_open(r, b);
    json_member_array(b, "readings");
    int written = 0;
    int last = 0;
    int more = 0;
    for (int i = (int)wanted.after; i < event->readings.count; i++) {
        const struct reading *reading = readings_view_at(event->readings, i);
        if ((wanted.point >= 0 && reading->point != wanted.point) ||
            (wanted.car >= 0 && reading->car != wanted.car))
            continue;
        if (written == LIMIT_READINGS_PAGE) {
            more++;
            continue;
        }
        write_reading(b, &counted, i);
        written++;
        last = i + 1;
    }
    json_close_array(b);
    json_member_int(b, "more", more);
    json_member_positive(b, "next", more > 0 ? last : 0);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* How a point stands. */
struct tally_of_point {
    int expected; /* cars that are not out */
    int seen;
    int missing; /* read further on, or the point is closed */
    int doubtful;
    int64_t last; /* latest time of day read, TIME_NONE */
};

static void count_car(struct tally_of_point *points, const struct event *event,
                      const struct score_sheet *sheet, int car, bool disqualified) {
    for (int p = 0; p < event->rules->point_count; p++) {
        struct tally_of_point *t = &points[p];
        bool conflict = false;
        const struct reading *reading = readings_counted(event->readings, car, p, &conflict);
        /* Read where its route does not pass: a doubt, and no car that was expected. */
        if (!car_point_is_on(event, car, p)) {
            t->doubtful += reading != NULL;
            continue;
        }
        bool absent = score_sheet_absent(sheet, car, p);
        bool out = disqualified || absent;
        t->doubtful += conflict || (reading != NULL && absent);
        if (reading != NULL) {
            t->seen++;
            if (reading->time != TIME_NONE && reading->time > t->last)
                t->last = reading->time;
        } else if (!out && (sheet->through > p || event->rulings->closed[p])) {
            t->missing++;
        }
        t->expected += reading != NULL || !out;
    }
}

/* A point that is read only where somebody means to (a departure; the start of a test whose device
 * tells elapsed times): nothing is missing where no car was read. */
static bool is_unused(const struct point *point, const struct tally_of_point *t) {
    return point->role == POINT_DEPARTURE || (point->scored < 0 && t->seen == 0);
}

static void write_point(struct textbuf *b, const struct event *event, int p,
                        const struct tally_of_point *t) {
    const struct point *point = &event->rules->points[p];
    const struct item *item = &event->rules->items[point->item];
    json_line(b);
    json_open_object(b);
    json_member_text(b, "point", point->id);
    json_member_text(b, "item", item->id);
    json_member_text(b, "kind", kind_name(item->kind));
    json_member_text(b, "name", item->name);
    json_member_int(b, "day", item->day + 1);
    json_member_int(b, "expected", t->expected);
    json_member_int(b, "seen", t->seen);
    json_member_int(b, "missing", is_unused(point, t) ? 0 : t->missing);
    json_member_int(b, "doubtful", t->doubtful);
    json_member_bool(b, "closed", event->rulings->closed[p]);
    json_member_time(b, "last", t->last, 0);
    json_close_object(b);
}

unsigned api_points(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    const struct scores *scores = r->results->scores;
    int count = event->rules->point_count;
    struct tally_of_point *points = request_array(r, (size_t)count + 1, sizeof *points);
    int err = points == NULL ? ERR_NOMEM : ERR_OK;
    for (int p = 0; err == ERR_OK && p < count; p++)
        points[p].last = TIME_NONE;
    for (int car = 0; err == ERR_OK && car < event->entries->count; car++) {
        struct score_sheet sheet = {0};
        err = scores_sheet(scores, car, &sheet);
        if (err == ERR_OK)
            count_car(points, event, &sheet, car, scores->cars[car].status == STATUS_DISQUALIFIED);
        score_sheet_clear(&sheet);
    }
    if (err != ERR_OK)
        return request_no_memory(r);
    results_object_open(r, b);
    json_member_array(b, "points");
    for (int p = 0; p < count; p++)
        write_point(b, event, p, &points[p]);
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* The next item on the road's schedule behind the last point that the car was read at, NULL where
 * there is none or the car is out there. */
static const struct item *next_on_road(const struct score_sheet *sheet, const struct event *event,
                                       int car) {
    for (int i = 0; i < event->rules->item_count; i++) {
        const struct item *item = car_item(event, car, i);
        if (item != NULL && item->road.on && schedule_point(item) > sheet->through &&
            !score_sheet_absent(sheet, car, schedule_point(item)))
            return item;
    }
    return NULL;
}

static void write_on_road(struct textbuf *b, const struct event *event, const struct scores *scores,
                          const struct score_sheet *sheet, int car) {
    const struct rules *rules = event->rules;
    int through = sheet->through;
    bool read = through >= 0;
    const struct reading *last = read ? sheet->counted[through] : NULL;
    const struct item *next = next_on_road(sheet, event, car);
    json_line(b);
    json_open_object(b);
    json_member_int(b, "car", event->entries->list[car].number);
    json_member_text(b, "status", status_word(scores->cars[car].status));
    json_member_text_or_null(b, "last", read ? rules->points[through].id : NULL);
    json_member_positive(b, "last_day",
                         read ? rules->items[rules->points[through].item].day + 1 : 0);
    json_member_time(b, "last_time", last == NULL ? TIME_NONE : last->time, 0);
    json_member_text_or_null(b, "next",
                             next == NULL ? NULL : rules->points[schedule_point(next)].id);
    json_member_positive(b, "next_day", next == NULL ? 0 : next->day + 1);
    json_member_time(b, "due", next == NULL ? TIME_NONE : road_due(sheet, next), 0);
    json_close_object(b);
}

unsigned api_road(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    results_object_open(r, b);
    json_member_text(b, "timezone", event->rules->timezone);
    json_member_array(b, "cars");
    int err = ERR_OK;
    for (int car = 0; err == ERR_OK && car < event->entries->count; car++) {
        struct score_sheet sheet = {0};
        err = scores_sheet(r->results->scores, car, &sheet);
        if (err == ERR_OK)
            write_on_road(b, event, r->results->scores, &sheet, car);
        score_sheet_clear(&sheet);
    }
    json_close_array(b);
    json_close_document(b);
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}
