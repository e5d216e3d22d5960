/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <limits.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
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
    const char *sep = "";
    for (size_t i = 0; i < count; i++) {
        if (*fields[i] == '\0')
            continue;
        textbuf_printf(b, "%s\"%s\":", sep, names[i]);
        json_write_text(b, fields[i]);
        sep = ",";
    }
    textbuf_printf(b, "%s\"extra\":{", sep);
    for (const struct extra *e = extras; e != NULL; e = e->next) {
        textbuf_puts(b, e == extras ? "" : ",");
        json_write_text(b, e->name);
        textbuf_putc(b, ':');
        json_write_text(b, e->value);
    }
    textbuf_putc(b, '}');
}

unsigned api_decisions(struct request *r, struct textbuf *b) {
    const struct decision_list *decisions = &r->snapshot->event.decisions;
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"decisions\":[",
                   r->snapshot->event.rules->slug, (long long)r->results->revision);
    for (int i = 0; i < decisions->count; i++) {
        const struct decision *d = decisions->list[i].decision;
        textbuf_printf(b, "%s\n{\"number\":%d,\"holds\":%s,", i > 0 ? "," : "", i + 1,
                       decisions->list[i].holds ? "true" : "false");
        /* A derived id is told too: a revoke has to name it. */
        const char *fields[DECISION_FIELD_COUNT];
        memcpy(fields, d->text.field, sizeof fields);
        fields[DECISION_ID] = d->id;
        write_fields(b, decision_field_names, fields, DECISION_FIELD_COUNT, d->text.extras);
        textbuf_putc(b, '}');
    }
    textbuf_puts(b, "]}\n");
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
    size_t cell = (size_t)reading->car * (size_t)event->rules->point_count + (size_t)reading->point;
    if (!c->known[cell]) {
        c->list[cell] = readings_counted(event->readings, reading->car, reading->point, NULL);
        c->known[cell] = true;
    }
    return c->list[cell] == reading;
}

static void write_reading(struct textbuf *b, struct counted *counted, int index, bool first) {
    const struct event *event = counted->event;
    const struct reading *reading = readings_view_at(event->readings, index);
    const char *fields[READING_FIELD_COUNT];
    memcpy(fields, reading->text.field, sizeof fields);
    fields[READING_ID] = reading->id;
    textbuf_printf(b, "%s\n{\"number\":%d,\"counts\":%s,\"replaced\":%s,", first ? "" : ",",
                   index + 1, is_counted(counted, reading) ? "true" : "false",
                   reading_is_replaced(event->readings, reading) ? "true" : "false");
    write_fields(b, reading_field_names, fields, READING_FIELD_COUNT, reading->text.extras);
    textbuf_putc(b, '}');
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
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"readings\":[", event->rules->slug,
                   (long long)r->results->revision);
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
        write_reading(b, &counted, i, written++ == 0);
        last = i + 1;
    }
    textbuf_printf(b, "],\"more\":%d,\"next\":", more);
    textbuf_printf(b, more > 0 ? "%d}\n" : "null}\n", last);
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
    return point->role == ROLE_DEPARTURE || (point->scored < 0 && t->seen == 0);
}

static void write_point(struct textbuf *b, const struct event *event, int p,
                        const struct tally_of_point *t) {
    const struct point *point = &event->rules->points[p];
    const struct item *item = &event->rules->items[point->item];
    textbuf_puts(b, "{\"point\":");
    json_write_text(b, point->id);
    textbuf_puts(b, ",\"item\":");
    json_write_text(b, item->id);
    textbuf_printf(b, ",\"kind\":\"%s\",\"name\":", kind_name(item->kind));
    json_write_text(b, item->name);
    textbuf_printf(b,
                   ",\"day\":%d,\"expected\":%d,\"seen\":%d,\"missing\":%d,\"doubtful\":%d,"
                   "\"closed\":%s,\"last\":",
                   item->day + 1, t->expected, t->seen, is_unused(point, t) ? 0 : t->missing,
                   t->doubtful, event->rulings->closed[p] ? "true" : "false");
    if (t->last == TIME_NONE) {
        textbuf_puts(b, "null}");
        return;
    }
    textbuf_putc(b, '"');
    time_write(b, t->last, 0);
    textbuf_puts(b, "\"}");
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
    if (err == ERR_OK) {
        textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"points\":[", event->rules->slug,
                       (long long)r->results->revision);
        for (int p = 0; p < count; p++) {
            textbuf_puts(b, p > 0 ? ",\n" : "\n");
            write_point(b, event, p, &points[p]);
        }
        textbuf_puts(b, "]}\n");
    }
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}

static void write_time(struct textbuf *b, const char *name, int64_t time) {
    textbuf_printf(b, ",\"%s\":", name);
    if (time == TIME_NONE) {
        textbuf_puts(b, "null");
        return;
    }
    textbuf_putc(b, '"');
    time_write(b, time, 0);
    textbuf_putc(b, '"');
}

/* The next time control behind the last point that the car was read at, -1 where there is none or
 * the car is out there. */
static int next_control(const struct score_sheet *sheet, const struct rules *rules, int car) {
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->kind == KIND_TIME_CONTROL && item->first_point > sheet->through &&
            !score_sheet_absent(sheet, car, item->first_point))
            return i;
    }
    return -1;
}

static void write_on_road(struct textbuf *b, const struct event *event, const struct scores *scores,
                          const struct score_sheet *sheet, int car) {
    const struct rules *rules = event->rules;
    int through = sheet->through;
    textbuf_printf(b, "{\"car\":%d,\"status\":\"%s\",\"last\":", event->entries->list[car].number,
                   status_word(scores->cars[car].status));
    if (through < 0) {
        textbuf_puts(b, "null,\"last_day\":null,\"last_time\":null");
    } else {
        json_write_text(b, rules->points[through].id);
        textbuf_printf(b, ",\"last_day\":%d", rules->items[rules->points[through].item].day + 1);
        write_time(b, "last_time",
                   sheet->counted[through] == NULL ? TIME_NONE : sheet->counted[through]->time);
    }
    int next = next_control(sheet, rules, car);
    textbuf_puts(b, ",\"next\":");
    if (next < 0) {
        textbuf_puts(b, "null,\"next_day\":null,\"due\":null}");
        return;
    }
    json_write_text(b, rules->items[next].id);
    textbuf_printf(b, ",\"next_day\":%d", rules->items[next].day + 1);
    write_time(b, "due", sheet->scored[rules->items[next].first_scored].due);
    textbuf_putc(b, '}');
}

unsigned api_road(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    int err = ERR_OK;
    textbuf_printf(b, "{\"event\":\"%s\",\"revision\":%lld,\"timezone\":\"%s\",\"cars\":[",
                   event->rules->slug, (long long)r->results->revision, event->rules->timezone);
    for (int car = 0; err == ERR_OK && car < event->entries->count; car++) {
        struct score_sheet sheet = {0};
        err = scores_sheet(r->results->scores, car, &sheet);
        textbuf_puts(b, car > 0 ? ",\n" : "\n");
        if (err == ERR_OK)
            write_on_road(b, event, r->results->scores, &sheet, car);
        score_sheet_clear(&sheet);
    }
    textbuf_puts(b, "]}\n");
    return err == ERR_OK ? MHD_HTTP_OK : request_no_memory(r);
}
