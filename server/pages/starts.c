/* SPDX-License-Identifier: MIT */
/* The start list of a day. */
#include <stdio.h>

#include "api/arguments.h"
#include "base/err.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"

static void write_days(struct page *p, int day) {
    if (p->rules->day_count == 1)
        return;
    textbuf_puts(&p->m, "<nav class=\"choices\" aria-label=\"");
    say(p, "days");
    textbuf_puts(&p->m, "\">");
    for (int d = 0; d < p->rules->day_count; d++) {
        char number[16];
        (void)snprintf(number, sizeof number, "%d", d + 1);
        textbuf_puts(&p->m, "<a ");
        page_href(p, "starts/%d", d + 1);
        textbuf_printf(&p->m, "%s>", d == day ? " aria-current=\"page\"" : "");
        say_with(p, "day", number, NULL, NULL);
        textbuf_puts(&p->m, "</a> ");
    }
    textbuf_puts(&p->m, "</nav>\n");
}

static void write_start(struct page *p, const struct table_row *row) {
    const int *day = row->of;
    cell_time(p, rulings_start(p->event, *day, row->car), UNIT_SECOND);
}

static void write_starts(struct page *p, int day, const char *caption, const int *cars, int count) {
    static const struct table_cell cells[] = {{"start", .write = write_start},
                                              {"car", .write = cell_plate},
                                              {"crew", .write = cell_crew},
                                              {"era", .write = cell_class},
                                              {.key = NULL}};
    struct table t;
    table_begin(&t, p, "starts", "starts", caption, cells);
    for (int i = 0; i < count; i++) {
        textbuf_printf(&p->m, "<tr id=\"n%d\">", p->event->entries->list[cars[i]].number);
        table_cells(&t, cars[i], &day);
    }
    table_end(p);
}

unsigned page_starts(struct request *r, struct textbuf *b) {
    const struct event *event = &r->snapshot->event;
    struct page p;
    char title[128];
    char number[16];
    char downloads[32];
    int *cars = NULL;
    int count = 0;
    int day = -1;
    unsigned status = request_day(r, &day);
    if (status != 0)
        return status;
    page_begin(&p, r, r->results->view);
    if (request_starters(r, day, &cars, &count) != ERR_OK)
        return page_give_up(&p);
    (void)snprintf(number, sizeof number, "%d", day + 1);
    (void)snprintf(title, sizeof title, "%s %s", said(&p, "start-list"), number);
    (void)snprintf(downloads, sizeof downloads, "starts/%d", day + 1);
    textbuf_puts(&p.m, "<h1>");
    say_with(&p, "starts-of", number, event->rules->days[day].date, NULL);
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    write_days(&p, day);
    struct textbuf *caption = request_text(r);
    const char *args[] = {number, event->rules->days[day].date};
    words_put(caption, said(&p, "starts-of"), args, 2);
    write_starts(&p, day, textbuf_text(caption), cars, count);
    return page_finish(&p, b,
                       &(struct page_frame){
                           .title = title, .here = "starts", .downloads = downloads, .csv = true});
}
