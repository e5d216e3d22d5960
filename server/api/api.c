/* SPDX-License-Identifier: MIT */
#include "api/api.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
#include "format/csv.h"
#include "format/json_write.h"
#include "office/start_list.h"
#include "output/output.h"
#include "store/keys.h"
#include "system/assets.h"
#include "system/system_clock.h"

static const char csv_type[] = "text/csv; charset=utf-8; header=present";

static unsigned out_of_memory(struct request *r) {
    return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
}

/* A timekeeper sees the public's event, and of what is hidden the items that are all its own. */
static void show_own_items(const struct request *r, struct view *view) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *points = r->snapshot->keys->keys[r->key].points;
    for (int i = 0; i < rules->item_count; i++) {
        if (view->hidden[i] && key_covers_item(points, rules, i)) {
            view->hidden[i] = false;
            view->visible[i] = view->request.after < 0 || i <= view->request.after;
            view->all_closed = false;
        }
    }
}

int request_scores(const struct request *r, int after, struct shown_scores *out) {
    *out = (struct shown_scores){r->results->view, r->results->scores, NULL, NULL};
    if (after < 0 && r->role != ROLE_TIMEKEEPER)
        return ERR_OK;
    struct view_request request = r->results->view->request;
    request.after = after;
    int err = view_new(&r->snapshot->event, request, &out->owned_view);
    if (err != ERR_OK)
        return err;
    out->owned_view->is_final = r->results->view->is_final;
    if (r->role == ROLE_TIMEKEEPER)
        show_own_items(r, out->owned_view);
    err = scores_new(&r->snapshot->event, out->owned_view, &out->owned);
    if (err != ERR_OK) {
        shown_scores_free(out);
        return err;
    }
    out->view = out->owned_view;
    out->scores = out->owned;
    return ERR_OK;
}

void shown_scores_free(struct shown_scores *s) {
    scores_free(s->owned);
    view_free(s->owned_view);
    *s = (struct shown_scores){0};
}

static bool is_hidden(const struct request *r, int item) {
    if (!r->results->view->hidden[item])
        return false;
    return r->role != ROLE_TIMEKEEPER ||
           !key_covers_item(r->snapshot->keys->keys[r->key].points, r->snapshot->event.rules, item);
}

unsigned request_after(struct request *r, int *after) {
    const char *point = request_query(r, "after");
    *after = -1;
    if (point == NULL)
        return 0;
    *after = view_item_of(r->snapshot->event.rules, point);
    if (*after < 0 || is_hidden(r, *after))
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no point “%s” on the route.", point);
    return 0;
}

unsigned request_car(struct request *r, int *car) {
    int64_t number = 0;
    *car = -1;
    if (decimal_parse_whole(r->args[1], 1, NUMBER_MAX, &number) == ERR_OK)
        *car = entries_find(r->snapshot->event.entries, number);
    return *car >= 0 ? 0
                     : request_fail(r, MHD_HTTP_NOT_FOUND,
                                    "There is no car “%s” in the entry list.", r->args[1]);
}

unsigned request_test(struct request *r, int *item) {
    const struct rules *rules = r->snapshot->event.rules;
    *item = strmap_get(&rules->item_by_id, r->args[1]);
    if (*item >= 0 && rules->items[*item].test >= 0 && !is_hidden(r, *item))
        return 0;
    return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no test “%s” on the route.", r->args[1]);
}

unsigned request_day(struct request *r, int *day) {
    int64_t number = 0;
    if (decimal_parse_whole(r->args[1], 1, r->snapshot->event.rules->day_count, &number) != ERR_OK)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no day “%s”.", r->args[1]);
    *day = (int)number - 1;
    return 0;
}

unsigned request_grouping(struct request *r, enum standings_by *by, int *class_index) {
    const struct rules *rules = r->snapshot->event.rules;
    const char *by_text = request_query(r, "by");
    const char *class_text = request_query(r, "class");
    *class_index = -1;
    *by = class_text != NULL ? BY_CLASS : BY_OVERALL;
    if (by_text != NULL && by_parse(by_text, by) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST,
                            "“by” is overall, class, category, day, test or team.");
    if (class_text == NULL)
        return 0;
    if (*by != BY_CLASS)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“class” goes with “by=class” only.");
    for (int i = 0; i < rules_class_count(rules) && *class_index < 0; i++) {
        struct textbuf id = {0};
        rules_class_id(rules, i, &id);
        if (strcmp(textbuf_text(&id), class_text) == 0)
            *class_index = i;
        textbuf_clear(&id);
    }
    return *class_index >= 0
               ? 0
               : request_fail(r, MHD_HTTP_NOT_FOUND, "There is no class “%s”.", class_text);
}

void standings_keep(struct standings *st, int index) {
    int kept = 0;
    for (int i = 0; i < st->group_count; i++) {
        if (st->groups[i].index == index)
            st->groups[kept++] = st->groups[i];
    }
    st->group_count = kept;
}

unsigned request_format(struct request *r, bool *csv) {
    const char *format = request_query(r, "format");
    *csv = format != NULL && strcmp(format, "csv") == 0;
    if (format != NULL && !*csv && strcmp(format, "json") != 0)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "“format” is json or csv.");
    if (*csv)
        r->media_type = csv_type;
    return 0;
}

static struct output_head head_of(const struct request *r, const struct view *view,
                                  const char *after) {
    return (struct output_head){view_status(view), r->results->revision, after};
}

/* A table; `index` picks one group, -1 for all. */
static unsigned write_table(struct request *r, struct textbuf *b, enum standings_by by, int index,
                            int after, bool csv) {
    struct shown_scores s;
    struct standings *st = NULL;
    int err = request_scores(r, after, &s);
    if (err == ERR_OK)
        err = standings_new(s.scores, by, &st);
    if (err == ERR_OK) {
        struct output_head head = head_of(r, s.view, request_query(r, "after"));
        if (index >= 0)
            standings_keep(st, index);
        if (csv)
            output_standings_csv(b, st, &head);
        else
            output_standings_json(b, st, &head);
    }
    standings_free(st);
    shown_scores_free(&s);
    if (err == ERR_UNKNOWN)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "This event has no %s.",
                            by == BY_TEAM ? "teams" : "categories");
    return err == ERR_OK ? MHD_HTTP_OK : out_of_memory(r);
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
        return out_of_memory(r);
    struct output_head head = head_of(r, s.view, request_query(r, "after"));
    if (csv)
        output_card_csv(b, s.scores, car, &head);
    else
        output_card_json(b, s.scores, car, &head);
    shown_scores_free(&s);
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

struct start {
    int car;
    int64_t time;
};

static int by_time(const void *a, const void *b) {
    const struct start *x = a;
    const struct start *y = b;
    return x->time != y->time ? (x->time > y->time) - (x->time < y->time) : x->car - y->car;
}

int starts_of_day(const struct event *event, int day, int **cars, int *count) {
    size_t room = (size_t)event->entries->count + 1;
    struct start *starts = calloc(room, sizeof *starts);
    int used = 0;
    *cars = calloc(room, sizeof **cars);
    if (starts == NULL || *cars == NULL) {
        free(starts);
        free(*cars);
        return ERR_NOMEM;
    }
    for (int car = 0; car < event->entries->count; car++) {
        if (!rulings_out_before_day(event->rulings, car, day) &&
            event->rulings->cars[car].disqualified == NULL)
            starts[used++] = (struct start){car, rulings_start(event, day, car)};
    }
    qsort(starts, (size_t)used, sizeof *starts, by_time);
    for (int i = 0; i < used; i++)
        (*cars)[i] = starts[i].car;
    *count = used;
    free(starts);
    return ERR_OK;
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
    if (starts_of_day(event, day, &cars, &count) != ERR_OK)
        return out_of_memory(r);
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
    free(cars);
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

static void write_facts(struct textbuf *b, const struct rules *rules) {
    for (int d = 0; d < rules->day_count; d++)
        textbuf_printf(b, "%s{\"day\":%d,\"date\":\"%s\"}", d > 0 ? "," : "", d + 1,
                       rules->days[d].date);
    textbuf_puts(b, "],\"classes\":[");
    for (int c = 0; c < rules_class_count(rules); c++) {
        struct textbuf name = {0};
        rules_class_name(rules, c, &name);
        textbuf_printf(b, "%s{\"id\":\"", c > 0 ? "," : "");
        rules_class_id(rules, c, b);
        textbuf_puts(b, "\",\"name\":");
        json_write_text(b, textbuf_text(&name));
        textbuf_putc(b, '}');
        textbuf_clear(&name);
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
    write_facts(b, rules);
    write_signer(b, r->snapshot->notices);
    textbuf_puts(b, ",\"route\":[");
    for (int i = 0; i < rules->item_count; i++) {
        if (is_hidden(r, i))
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
