/* SPDX-License-Identifier: MIT */
/* What stands in the running text of pages: words, crews, cars, figures, times. */
#include <stdio.h>
#include <string.h>

#include "base/decimal.h"
#include "event/shown.h"
#include "pages/page.h"
#include "system/html.h"
#include "system/system_clock.h"

const char *said(const struct page *p, const char *key) {
    return word(p->lang, key);
}

const char *said_of(struct page *p, const char *prefix, const char *name) {
    return said(p, page_text(p, "%s-%s", prefix, name));
}

void say(struct page *p, const char *key) {
    html_text(&p->m, said(p, key));
}

void say_with(struct page *p, const char *key, const char *a, const char *b, const char *c) {
    const char *args[] = {a, b, c};
    int count = c != NULL ? 3 : b != NULL ? 2 : 1;
    words_put(&p->m, said(p, key), args, count);
}

void say_count(struct page *p, const char *key, int64_t n, const char *a) {
    char number[24];
    (void)snprintf(number, sizeof number, "%lld", (long long)n);
    const char *args[] = {number, a};
    words_put(&p->m, word_for(p->lang, key, n), args, a != NULL ? 2 : 1);
}

void moment_write(struct textbuf *b, int64_t ms) {
    char day[sizeof "2027-05-20"];
    char time[sizeof "10:11:12"];
    size_t before = b->len;
    textbuf_puts(b, "<time datetime=\"");
    size_t from = b->len;
    write_instant(b, ms);
    if (b->failed)
        return;
    if (b->len == from) { /* beyond what can be written */
        b->len = before;
        b->bytes[before] = '\0';
        return;
    }
    (void)snprintf(day, sizeof day, "%s", b->bytes + from);
    (void)snprintf(time, sizeof time, "%s", b->bytes + from + sizeof day);
    textbuf_printf(b, "\">%s %s UTC</time>", day, time);
}

void words_penalty(struct textbuf *b, const struct page *p, int64_t penalty) {
    size_t from = b->len;
    if (!p->rules->scoring.shown_as_time) {
        words_decimal(b, p->lang, penalty);
        return;
    }
    shown_write_time(b, penalty);
    words_point(b, p->lang, from);
}

void put_penalty(struct page *p, int64_t penalty) {
    words_penalty(&p->m, p, penalty);
}

void put_time(struct page *p, int64_t ms, int64_t unit) {
    size_t from = p->m.len;
    time_write(&p->m, ms, unit_decimals(unit));
    words_point(&p->m, p->lang, from);
}

void put_gap(struct page *p, struct gap gap) {
    if (gap.fails == 0)
        put_penalty(p, gap.penalty);
    else
        say_count(p, "fails", gap.fails, NULL);
}

static void write_crew(struct page *p, const void *of) {
    const struct entry *e = of;
    textbuf_puts(&p->m, "<bdi>");
    html_text(&p->m, e->driver);
    textbuf_puts(&p->m, "</bdi>");
    if (*e->navigator != '\0') {
        textbuf_puts(&p->m, " / <bdi>");
        html_text(&p->m, e->navigator);
        textbuf_puts(&p->m, "</bdi>");
    }
}

void put_crew(struct page *p, int car) {
    write_crew(p, &p->event->entries->list[car]);
}

struct markup crew_markup(const struct entry *entry) {
    return (struct markup){write_crew, entry};
}

static void write_penalty(struct page *p, const void *of) {
    put_penalty(p, *(const int64_t *)of);
}

struct markup penalty_markup(const int64_t *penalty) {
    return (struct markup){write_penalty, penalty};
}

static void write_gap(struct page *p, const void *of) {
    put_gap(p, *(const struct gap *)of);
}

struct markup gap_markup(const struct gap *gap) {
    return (struct markup){write_gap, gap};
}

static void write_html(struct page *p, const void *of) {
    const struct textbuf *html = of;
    textbuf_add(&p->m, html->bytes, html->len);
    p->m.failed = p->m.failed || html->failed;
}

struct markup html_markup(const struct textbuf *html) {
    return (struct markup){write_html, html};
}

void put_vehicle(struct page *p, int car) {
    const struct entry *e = &p->event->entries->list[car];
    html_text(&p->m, e->make);
    if (*e->make != '\0' && *e->model != '\0')
        textbuf_putc(&p->m, ' ');
    html_text(&p->m, e->model);
}

void put_class(struct page *p, int car) {
    rules_class_id(p->rules, p->event->entries->list[car].class_index, &p->m);
}

void put_plate(struct page *p, int car) {
    textbuf_printf(&p->m, "<span class=\"no\">%d</span>", p->event->entries->list[car].number);
}

void put_item(struct page *p, const struct item *item, bool link) {
    if (link && item->test >= 0) {
        textbuf_puts(&p->m, "<a ");
        page_href(p, "tests/%s", item->id);
        textbuf_putc(&p->m, '>');
    }
    html_text(&p->m, item->id);
    textbuf_putc(&p->m, ' ');
    html_text(&p->m, item->name);
    if (link && item->test >= 0)
        textbuf_puts(&p->m, "</a>");
}

void put_moment(struct page *p, int64_t ms) {
    moment_write(&p->m, ms);
}
