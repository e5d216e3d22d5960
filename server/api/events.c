/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include "api/arguments.h"
#include "api/event_object.h"
#include "base/err.h"
#include "event/kind.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "office/start_list.h"
#include "output/output.h"
#include "system/assets.h"
#include "system/system_clock.h"

static struct output_head head_of(const struct request *r, const struct view *view,
                                  const char *after) {
    return (struct output_head){view_status(view), r->results->revision, after};
}

/* A table; `group` picks one, -1 for all. */
static unsigned write_table(struct request *r, struct textbuf *b, enum standings_by by, int group,
                            int after, bool csv) {
    struct shown_scores s;
    struct standings *st = NULL;
    int err = request_scores(r, after, &s);
    if (err == ERR_OK)
        err = request_standings(r, s.scores, by, group, &st);
    if (err != ERR_OK)
        return request_no_standings(r, by, err);
    struct output_head head = head_of(r, s.view, request_query(r, "after"));
    if (csv)
        output_standings_csv(b, st, &head);
    else
        output_standings_json(b, st, &head);
    return MHD_HTTP_OK;
}

unsigned api_standings(struct request *r, struct textbuf *b) {
    enum standings_by by = BY_OVERALL;
    int class_index = -1;
    int after = -1;
    bool csv = false;
    unsigned status = request_grouping(r, &by, &class_index);
    if (status == 0)
        status = request_after(r, &after);
    if (status == 0)
        status = request_format(r, &csv);
    return status != 0 ? status : write_table(r, b, by, class_index, after, csv);
}

unsigned api_card(struct request *r, struct textbuf *b) {
    struct shown_scores s;
    int car = -1;
    int after = -1;
    bool csv = false;
    unsigned status = request_car(r, &car);
    if (status == 0)
        status = request_after(r, &after);
    if (status == 0)
        status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (request_scores(r, after, &s) != ERR_OK)
        return request_no_memory(r);
    struct output_head head = head_of(r, s.view, request_query(r, "after"));
    if (csv)
        output_card_csv(b, s.scores, car, &head);
    else
        output_card_json(b, s.scores, car, &head);
    return MHD_HTTP_OK;
}

unsigned api_test(struct request *r, struct textbuf *b) {
    int item = -1;
    bool csv = false;
    unsigned status = request_test(r, &item);
    if (status == 0)
        status = request_format(r, &csv);
    return status != 0 ? status : write_table(r, b, BY_TEST, item, -1, csv);
}

static void write_start_csv(struct textbuf *b, const struct event *event, int day, int car) {
    textbuf_printf(b, "%d,%d,", day + 1, event->entries->list[car].number);
    time_write(b, rulings_start(event, day, car), 0);
    textbuf_puts(b, "\r\n");
}

unsigned api_starts(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    int *cars = NULL;
    int count = 0;
    int day = 0;
    bool csv = false;
    unsigned status = request_day(r, &day);
    if (status == 0)
        status = request_format(r, &csv);
    if (status != 0)
        return status;
    if (request_starters(r, day, &cars, &count) != ERR_OK)
        return request_no_memory(r);
    if (csv) {
        textbuf_puts(b, "day,car,time\r\n");
        for (int i = 0; i < count; i++)
            write_start_csv(b, event, day, cars[i]);
        return MHD_HTTP_OK;
    }
    results_object_open(r, b);
    json_member_int(b, "day", day + 1);
    json_member_text(b, "date", event->rules->days[day].date);
    json_member_array(b, "starts");
    for (int i = 0; i < count; i++) {
        json_line(b);
        start_write_json(b, event, cars[i], rulings_start(event, day, cars[i]));
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

/* Nothing for an event that has no results yet. */
static void write_event_line(struct textbuf *b, struct served_event *served) {
    struct snapshot *s = snapshot_acquire(&served->slot);
    if (s == NULL)
        return;
    const struct rules *rules = s->event.rules;
    json_line(b);
    json_open_object(b);
    json_member_text(b, "slug", rules->slug);
    json_member_text(b, "name", rules->name);
    json_member_text(b, "status", view_status(s->public_results.view));
    json_member_int(b, "revision", s->public_results.revision);
    json_member_text(b, "first_day", rules->days[0].date);
    json_member_text(b, "last_day", rules->days[rules->day_count - 1].date);
    json_close_object(b);
    snapshot_release(s);
}

unsigned api_events(struct request *r, struct textbuf *b) {
    struct served_events *events = server_events(r->server);
    json_open_object(b);
    json_member_array(b, "events");
    for (int i = 0; i < served_events_count(events); i++)
        write_event_line(b, served_events_at(events, i));
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

static void write_item(struct textbuf *b, const struct item *item) {
    json_open_object(b);
    json_member_text(b, "id", item->id);
    json_member_text(b, "kind", kind_name(item->kind));
    json_member_int(b, "day", item->day + 1);
    json_member_text(b, "name", item->name);
    if (item->distance >= 0)
        json_member_decimal(b, "distance", item->distance);
    json_close_object(b);
}

static void write_classes(struct textbuf *b, const struct rules *rules) {
    json_member_array(b, "classes");
    for (int c = 0; c < rules_class_count(rules); c++) {
        json_open_object(b);
        json_key(b, "id");
        size_t from = json_open_text(b);
        rules_class_id(rules, c, b);
        json_close_text(b, from);
        json_key(b, "name");
        from = json_open_text(b);
        rules_class_name(rules, c, b);
        json_close_text(b, from);
        json_close_object(b);
    }
    json_close_array(b);
}

/* A member of events that have groups. */
static void write_groups(struct textbuf *b, const struct rules *rules) {
    if (rules->group_count == 0)
        return;
    json_member_array(b, "groups");
    for (int g = 0; g < rules->group_count; g++) {
        json_open_object(b);
        json_member_text(b, "id", rules->groups[g].id);
        json_member_text(b, "name", rules->groups[g].name);
        json_close_object(b);
    }
    json_close_array(b);
}

static void write_categories(struct textbuf *b, const struct rules *rules) {
    json_member_array(b, "categories");
    for (int c = 0; c < rules->category_count; c++) {
        json_open_object(b);
        json_member_text(b, "id", rules->categories[c].id);
        json_member_text(b, "name", rules->categories[c].name);
        json_close_object(b);
    }
    json_close_array(b);
}

/* The key of the last seal: what `cairn verify` is to be told. */
static void write_signer(struct textbuf *b, const struct noticeboard *board) {
    for (size_t i = board->count; i > 0; i--) {
        if (board->list[i - 1].content == NULL)
            continue;
        json_member_hex(b, "signer", board->list[i - 1].seal.signer, SEAL_KEY_LEN);
        return;
    }
    json_member_null(b, "signer");
}

unsigned api_event(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    const struct rules *rules = event->rules;
    event_object_open(r, b);
    json_member_text(b, "name", rules->name);
    json_member_text(b, "status", view_status(r->results->view));
    json_member_int(b, "revision", r->results->revision);
    json_member_instant(b, "changed", r->results->changed_ms);
    json_member_text(b, "timezone", rules->timezone);
    json_member_text(b, "unit", rules_unit(rules));
    if (rules->scoring.shown_as_time)
        json_member_text(b, "shown", "time");
    json_member_int(b, "cars", event->entries->count);
    event_days_json(b, rules);
    write_classes(b, rules);
    write_categories(b, rules);
    write_groups(b, rules);
    write_signer(b, r->snapshot->notices);
    json_member_array(b, "route");
    for (int i = 0; i < rules->item_count; i++) {
        if (request_hides(r, i))
            continue;
        json_line(b);
        write_item(b, &rules->items[i]);
    }
    json_close_array(b);
    json_close_document(b);
    return MHD_HTTP_OK;
}

unsigned api_openapi(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_find("schema/openapi.yaml");
    r->media_type = asset->media_type;
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    return MHD_HTTP_OK;
}
