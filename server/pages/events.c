/* SPDX-License-Identifier: MIT */
/* The list of events, an event's own page with its route, and addresses as QR codes. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "api/arguments.h"
#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
#include "format/json_write.h"
#include "http/server.h"
#include "http/static_page.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
#include "system/assets.h"
#include "system/html.h"
#include "system/qr.h"

unsigned page_asset(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_served_find(r->args[1]);
    if (asset == NULL || strcmp(r->args[0], server_assets(r->server) + 3) != 0)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    r->media_type = asset->media_type;
    return MHD_HTTP_OK;
}

unsigned page_board_worker(struct request *r, struct textbuf *b) {
    const struct asset *asset = asset_find("web/board/service-worker.js");
    textbuf_add(b, asset->bytes, (size_t)(asset->end - asset->bytes));
    r->media_type = asset->media_type;
    return MHD_HTTP_OK;
}

static void write_event_line(struct page *p, const struct snapshot *s) {
    const struct rules *rules = s->event.rules;
    char address[96];
    bool named = request_names_language(p->r);
    (void)snprintf(address, sizeof address, "/%s/%s%s", rules->slug, named ? "?lang=" : "",
                   named ? lang_code(p->lang) : "");
    textbuf_puts(&p->m, "<li><a ");
    (void)page_link(p, "href", address);
    textbuf_puts(&p->m, ">");
    html_text(&p->m, rules->name);
    textbuf_puts(&p->m, "</a> <span>");
    const char *last = rules->days[rules->day_count - 1].date;
    if (rules->day_count > 1)
        textbuf_printf(&p->m, "%s – %s, ", rules->days[0].date, last);
    else
        textbuf_printf(&p->m, "%s, ", last);
    say_count(p, "cars", s->event.entries->count, NULL);
    textbuf_puts(&p->m, ", ");
    say(p, view_status(s->public_results.view));
    textbuf_puts(&p->m, "</span></li>\n");
}

unsigned page_events(struct request *r, struct textbuf *b) {
    struct write_queue *queue = server_write_queue(r->server);
    struct page p;
    page_begin(&p, r, NULL);
    textbuf_puts(&p.m, "<h1>");
    say(&p, "events");
    textbuf_puts(&p.m, "</h1>\n<ul class=\"events\">\n");
    for (int i = 0; i < write_queue_count(queue); i++) {
        struct snapshot *s = snapshot_acquire(&write_queue_at(queue, i)->slot);
        if (s == NULL)
            continue;
        write_event_line(&p, s);
        snapshot_release(s);
    }
    textbuf_puts(&p.m, "</ul>\n");
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "events")});
}

/* What search engines take for the event's facts. */
static void write_data(const struct page *p, struct textbuf *b) {
    const struct rules *rules = p->rules;
    json_open_object(b);
    json_member_text(b, "@context", "https://schema.org");
    json_member_text(b, "@type", "SportsEvent");
    json_member_text(b, "name", rules->name);
    json_member_text(b, "startDate", rules->days[0].date);
    json_member_text(b, "endDate", rules->days[rules->day_count - 1].date);
    json_member_text(b, "sport", word(LANG_EN, "sport"));
    json_member_text(b, "eventStatus", "https://schema.org/EventScheduled");
    json_close_object(b);
}

static void write_days(struct page *p) {
    const struct rules *rules = p->rules;
    textbuf_puts(&p->m, "<h2 id=\"starts\">");
    say(p, "starts");
    textbuf_puts(&p->m, "</h2>\n<ul>\n");
    for (int d = 0; d < rules->day_count; d++) {
        char number[16];
        (void)snprintf(number, sizeof number, "%d", d + 1);
        textbuf_puts(&p->m, "<li><a ");
        page_href(p, "starts/%d", d + 1);
        textbuf_puts(&p->m, ">");
        say_with(p, "starts-of", number, rules->days[d].date, NULL);
        textbuf_puts(&p->m, "</a></li>\n");
    }
    textbuf_puts(&p->m, "</ul>\n");
}

static const struct item *item_of(const struct table_row *row) {
    return row->of;
}

static void write_point(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\">");
    put_item(p, item_of(row), true);
    textbuf_puts(&p->m, "</th>");
}

static void write_kind(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<td>");
    say(p, kind_name(item_of(row)->kind));
    textbuf_puts(&p->m, "</td>");
}

/* As the rules have it; the value is for a script that knows both units. */
static void write_distance(struct page *p, const struct table_row *row) {
    struct textbuf *text = request_text(p->r);
    textbuf_puts(&p->m, "<td>");
    if (item_of(row)->distance >= 0) {
        decimal_write_short(text, item_of(row)->distance);
        textbuf_printf(&p->m, "<data value=\"%s\">", textbuf_text(text));
        words_figure(&p->m, p->lang, textbuf_text(text));
        textbuf_puts(&p->m, "</data>");
    }
    textbuf_puts(&p->m, "</td>");
}

static bool has_distance(const struct page *p) {
    for (int i = 0; i < p->rules->item_count; i++) {
        if (p->rules->items[i].distance >= 0 && !p->view->hidden[i])
            return true;
    }
    return false;
}

/* The choice of the unit, for a script; without one the event's own is what there is. */
static void write_units(struct page *p) {
    bool miles = p->rules->miles;
    textbuf_printf(&p->m, "<p class=\"live\" id=\"units\" hidden data-own=\"%s\" data-km=\"",
                   miles ? "mi" : "km");
    say(p, "km");
    textbuf_puts(&p->m, "\" data-mi=\"");
    say(p, "miles");
    textbuf_puts(&p->m, "\"><button type=\"button\" data-other=\"");
    say(p, miles ? "units-miles" : "units-km");
    textbuf_puts(&p->m, "\">");
    say(p, miles ? "units-km" : "units-miles");
    textbuf_puts(&p->m, "</button></p>\n");
}

static void write_route(struct page *p) {
    const struct rules *rules = p->rules;
    const struct table_cell cells[] = {
        {"point", .write = write_point},
        {"kind", .write = write_kind},
        {"distance", .write = write_distance, .words = rules->miles ? "miles" : "km"},
        {.key = NULL}};
    struct table t;
    textbuf_puts(&p->m, "<h2 id=\"tests\">");
    say(p, "route");
    textbuf_puts(&p->m, "</h2>\n<p>");
    say(p, "route-note");
    textbuf_puts(&p->m, "</p>\n");
    if (has_distance(p))
        write_units(p);
    for (int d = 0; d < rules->day_count; d++) {
        char number[16];
        struct textbuf caption = {0};
        (void)snprintf(number, sizeof number, "%d", d + 1);
        const char *args[] = {number};
        words_put(&caption, said(p, "day"), args, 1);
        textbuf_printf(&caption, ", %s", rules->days[d].date);
        table_begin(&t, p, "route", "route", textbuf_text(&caption), cells);
        for (int i = 0; i < rules->item_count; i++) {
            if (rules->items[i].day != d || p->view->hidden[i])
                continue;
            textbuf_puts(&p->m, "<tr>");
            table_cells(&t, -1, &rules->items[i]);
        }
        table_end(p);
        textbuf_clear(&caption);
    }
}

static void write_eras(struct page *p) {
    textbuf_puts(&p->m, "<h2>");
    say(p, "eras");
    textbuf_puts(&p->m, "</h2>\n<ul class=\"eras\">\n");
    for (int c = 0; c < rules_class_count(p->rules); c++) {
        struct textbuf id = {0};
        struct textbuf name = {0};
        int count = 0;
        for (int car = 0; car < p->event->entries->count; car++)
            count += p->event->entries->list[car].class_index == c;
        rules_class_id(p->rules, c, &id);
        rules_class_name(p->rules, c, &name);
        if (count > 0) {
            textbuf_puts(&p->m, "<li><a ");
            page_href(p, "?class=%s", textbuf_text(&id));
            textbuf_printf(&p->m, ">%s</a> ", textbuf_text(&id));
            html_text(&p->m, textbuf_text(&name));
            textbuf_puts(&p->m, ", ");
            say_count(p, "cars", count, NULL);
            textbuf_puts(&p->m, "</li>\n");
        }
        textbuf_clear(&id);
        textbuf_clear(&name);
    }
    textbuf_puts(&p->m, "</ul>\n");
}

unsigned page_event(struct request *r, struct textbuf *b) {
    struct page p;
    struct textbuf data = {0};
    page_begin(&p, r, r->results->view);
    const struct rules *rules = p.rules;
    textbuf_puts(&p.m, "<h1>");
    html_text(&p.m, rules->name);
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    textbuf_printf(&p.m, "<p>%s – %s, ", rules->days[0].date,
                   rules->days[rules->day_count - 1].date);
    say_count(&p, "cars", p.event->entries->count, NULL);
    textbuf_puts(&p.m, ". <a ");
    page_href(&p, "screen");
    textbuf_puts(&p.m, ">");
    say(&p, "screen");
    textbuf_puts(&p.m, "</a></p>\n");
    write_days(&p);
    write_route(&p);
    write_eras(&p);
    write_data(&p, &data);
    unsigned status =
        page_finish(&p, b,
                    &(struct page_frame){.title = said(&p, "event"),
                                         .here = "event",
                                         .script = has_distance(&p) ? "units.js" : NULL,
                                         .data = textbuf_text(&data)});
    b->failed = b->failed || data.failed;
    textbuf_clear(&data);
    return status;
}

static bool is_path(const char *path) {
    return path[strspn(path, "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789"
                             "/?=&,.-_%~")] == '\0' &&
           strstr(path, "//") == NULL;
}

/* The whole address of a page of this event; false where it has none. */
static bool write_whole_address(const struct request *r, const char *to, struct textbuf *b) {
    const char *slug = r->snapshot->event.rules->slug;
    if (!is_path(to) ||
        (r->static_page == NULL ? !request_base(r, b) : r->static_page->base == NULL))
        return false;
    if (r->static_page == NULL) {
        textbuf_printf(b, "/%s/%s", slug, to);
        return true;
    }
    struct textbuf asked = {0};
    struct textbuf file = {0};
    textbuf_printf(&asked, "/%s/%s", slug, to);
    if (request_names_language(r))
        textbuf_printf(&asked, "?lang=%s", lang_code(request_language(r)));
    bool found =
        r->static_page->find(r->static_page->context, textbuf_text(&asked), &file) && file.len > 0;
    if (found) {
        /* A host shows a folder's own page, and a shorter address makes a coarser code. */
        size_t end = file.len - (sizeof "index.html" - 1);
        textbuf_printf(b, "%s/%.*s", r->static_page->base, (int)end, file.bytes);
    }
    b->failed = b->failed || asked.failed || file.failed;
    textbuf_clear(&asked);
    textbuf_clear(&file);
    return found;
}

unsigned page_qr(struct request *r, struct textbuf *b) {
    const char *to = request_query(r, "to");
    struct page p;
    struct textbuf address = {0};
    if (to == NULL)
        to = "";
    if (!write_whole_address(r, to, &address)) {
        textbuf_clear(&address);
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "There is no such address of this event.");
    }
    page_begin(&p, r, r->results->view);
    textbuf_puts(&p.m, "<h1>");
    html_text(&p.m, p.rules->name);
    textbuf_puts(&p.m, "</h1>\n<p>");
    say(&p, "qr-how");
    textbuf_puts(&p.m, "</p>\n<figure class=\"poster\">");
    int err = qr_svg(&p.m, textbuf_text(&address));
    textbuf_puts(&p.m, "<figcaption><a href=\"");
    html_text(&p.m, textbuf_text(&address));
    textbuf_puts(&p.m, "\">");
    html_text(&p.m, textbuf_text(&address));
    textbuf_puts(&p.m, "</a></figcaption></figure>\n");
    textbuf_clear(&address);
    if (err != ERR_OK)
        return page_give_up(&p);
    return page_finish(&p, b, &(struct page_frame){.title = said(&p, "qr")});
}

void page_problem(struct request *r, struct textbuf *b, unsigned status) {
    struct page p;
    char key[24];
    (void)snprintf(key, sizeof key, "status-%u", status);
    page_begin(&p, r, r->results == NULL ? NULL : r->results->view);
    const char *title = said(&p, key);
    if (strcmp(title, key) == 0)
        title = MHD_get_reason_phrase_for(status);
    textbuf_puts(&p.m, "<h1>");
    html_text(&p.m, title);
    textbuf_puts(&p.m, "</h1>\n<p lang=\"en\">");
    html_text(&p.m, r->detail);
    textbuf_puts(&p.m, "</p>\n<p><a href=\"/\">");
    say(&p, "to-events");
    textbuf_puts(&p.m, "</a></p>\n");
    (void)page_finish(&p, b, &(struct page_frame){.title = title});
}
