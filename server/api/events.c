/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/arguments.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
#include "format/csv.h"
#include "format/json_write.h"
#include "http/request.h"
#include "http/server.h"
#include "office/start_list.h"
#include "output/output.h"
#include "store/keys.h"
#include "system/assets.h"
#include "system/data_dir.h"
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

static void write_start(struct textbuf *b, const struct event *event, int day, int car, bool csv) {
    int64_t time = rulings_start(event, day, car);
    if (!csv) {
        start_write_json(b, event, car, time);
        return;
    }
    textbuf_printf(b, "%d,%d,", day + 1, event->entries->list[car].number);
    time_write(b, time, 0);
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
    if (csv)
        textbuf_puts(b, "day,car,time\r\n");
    else
        textbuf_printf(
            b, "{\"event\":\"%s\",\"revision\":%lld,\"day\":%d,\"date\":\"%s\",\"starts\":[",
            event->rules->slug, (long long)r->results->revision, day + 1,
            event->rules->days[day].date);
    for (int i = 0; i < count; i++) {
        if (!csv)
            textbuf_puts(b, i > 0 ? ",\n" : "\n");
        write_start(b, event, day, cars[i], csv);
    }
    if (!csv)
        textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

static void write_event_line(struct textbuf *b, struct served_event *served) {
    struct snapshot *s = snapshot_acquire(&served->slot);
    if (s == NULL)
        return;
    const struct rules *rules = s->event.rules;
    textbuf_printf(b, "{\"slug\":\"%s\",\"name\":", rules->slug);
    json_write_text(b, rules->name);
    textbuf_printf(b,
                   ",\"status\":\"%s\",\"revision\":%lld,\"first_day\":\"%s\",\"last_day\":\"%s\"}",
                   view_status(s->public_results.view), (long long)s->public_results.revision,
                   rules->days[0].date, rules->days[rules->day_count - 1].date);
    snapshot_release(s);
}

unsigned api_events(struct request *r, struct textbuf *b) {
    struct write_queue *queue = server_write_queue(r->server);
    textbuf_puts(b, "{\"events\":[");
    for (int i = 0; i < write_queue_count(queue); i++) {
        textbuf_puts(b, i > 0 ? ",\n" : "\n");
        write_event_line(b, write_queue_at(queue, i));
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

static void write_item(struct textbuf *b, const struct item *item) {
    textbuf_puts(b, "{\"id\":");
    json_write_text(b, item->id);
    textbuf_printf(b, ",\"kind\":\"%s\",\"day\":%d,\"name\":", kind_name(item->kind),
                   item->day + 1);
    json_write_text(b, item->name);
    if (item->distance >= 0) {
        textbuf_puts(b, ",\"distance\":\"");
        decimal_write(b, item->distance);
        textbuf_putc(b, '"');
    }
    textbuf_putc(b, '}');
}

static void write_facts(struct request *r, struct textbuf *b, const struct rules *rules) {
    struct textbuf *name = request_text(r);
    for (int d = 0; d < rules->day_count; d++)
        textbuf_printf(b, "%s{\"day\":%d,\"date\":\"%s\"}", d > 0 ? "," : "", d + 1,
                       rules->days[d].date);
    textbuf_puts(b, "],\"classes\":[");
    for (int c = 0; c < rules_class_count(rules); c++) {
        textbuf_reset(name);
        rules_class_name(rules, c, name);
        textbuf_printf(b, "%s{\"id\":\"", c > 0 ? "," : "");
        rules_class_id(rules, c, b);
        textbuf_puts(b, "\",\"name\":");
        json_write_text(b, textbuf_text(name));
        textbuf_putc(b, '}');
    }
    textbuf_puts(b, "],\"categories\":[");
    for (int c = 0; c < rules->category_count; c++) {
        textbuf_printf(b, "%s{\"id\":\"%s\",\"name\":", c > 0 ? "," : "", rules->categories[c].id);
        json_write_text(b, rules->categories[c].name);
        textbuf_putc(b, '}');
    }
}

/* The key of the last seal: what `cairn verify` is to be told. */
static void write_signer(struct textbuf *b, const struct noticeboard *board) {
    char hex[2 * SEAL_KEY_LEN + 1];
    for (size_t i = board->count; i > 0; i--) {
        if (board->list[i - 1].content == NULL)
            continue;
        (void)sodium_bin2hex(hex, sizeof hex, board->list[i - 1].seal.signer, SEAL_KEY_LEN);
        textbuf_printf(b, "],\"signer\":\"%s\"", hex);
        return;
    }
    textbuf_puts(b, "],\"signer\":null");
}

unsigned api_event(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    const struct rules *rules = event->rules;
    const char *sep = "";
    textbuf_printf(b, "{\"event\":\"%s\",\"name\":", rules->slug);
    json_write_text(b, rules->name);
    textbuf_printf(b, ",\"status\":\"%s\",\"revision\":%lld,\"changed\":\"",
                   view_status(r->results->view), (long long)r->results->revision);
    write_instant(b, r->results->changed_ms);
    textbuf_printf(b, "\",\"timezone\":\"%s\",\"unit\":\"%s\",\"cars\":%d,\"days\":[",
                   rules->timezone, rules->miles ? "mi" : "km", event->entries->count);
    write_facts(r, b, rules);
    write_signer(b, r->snapshot->notices);
    textbuf_puts(b, ",\"route\":[");
    for (int i = 0; i < rules->item_count; i++) {
        if (request_hides(r, i))
            continue;
        textbuf_puts(b, sep);
        textbuf_putc(b, '\n');
        write_item(b, &rules->items[i]);
        sep = ",";
    }
    textbuf_puts(b, "]}\n");
    return MHD_HTTP_OK;
}

unsigned api_openapi(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_find("schema/openapi.yaml");
    r->media_type = asset->media_type;
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    return MHD_HTTP_OK;
}
