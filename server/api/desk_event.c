/* SPDX-License-Identifier: MIT */
/* What a desk is told of its event: its own points, and the cars. */
#include "api/api.h"

#include <time.h>

#include "api/arguments.h"
#include "api/event_object.h"
#include "event/entry_words.h"
#include "event/kind.h"
#include "format/json_write.h"
#include "http/request.h"

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
    case POINT_ARRIVAL:
        return "arrival";
    case POINT_DEPARTURE:
        return "departure";
    case POINT_PASSAGE:
        return "passage";
    case POINT_START:
        return "start";
    case POINT_CHECK:
        return kind == KIND_SET_TIME ? "pad" : "check";
    case POINT_FINISH:
        return "finish";
    case POINT_LAP:
        return "lap";
    case POINT_NOMINATED:
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
        /* A reading without any time serves a passage control alone. */
        if ((bare && item->kind != KIND_PASSAGE_CONTROL) ||
            kind_refusal(item, point, &tried) != NULL)
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
    const struct penalty_rule *rule =
        point->scored < 0 ? &item->rule : item_rule(item, point->scored);
    json_member_text(b, "precision", unit_name_within(rule->precision));
    write_takes(b, item, point);
    json_member_array(b, "faults");
    for (int i = 0; i < item->fault_count; i++)
        json_write_text(b, item->faults[i].name);
    json_close_array(b);
    json_member_bool(b, "open", !r->snapshot->event.rulings->closed[index]);
    json_close_object(b);
}

static void write_points(struct textbuf *b, const struct request *r) {
    json_member_array(b, "points");
    for (int p = 0; p < r->snapshot->event.rules->point_count; p++) {
        if (!request_covers(r, p))
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
    json_member_text(b, "unit", rules_unit(rules));
    json_member_int(b, "revision", r->results->revision);
    json_member_text(b, "role", r->role == ROLE_ORGANISER ? "organiser" : "timekeeper");
    json_member_text(b, "label", r->snapshot->keys->keys[r->key].label);
    event_list_json(r, b);
    event_days_json(b, rules);
    write_points(b, r);
    write_cars(b, event);
    json_close_document(b);
    return MHD_HTTP_OK;
}
