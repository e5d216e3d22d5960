/* SPDX-License-Identifier: MIT */
/* Tables of a page and their cells. */
#include "pages/page.h"

void table_begin(struct page *p, const char *name, const char *caption,
                 const struct column_head *heads) {
    textbuf_printf(&p->m, "<div class=\"scroll\"><table class=\"%s\">\n<caption>%s</caption>\n",
                   name, caption);
    textbuf_puts(&p->m, "<thead><tr>");
    for (; heads->key != NULL; heads++) {
        textbuf_printf(&p->m, "<th scope=\"col\"%s>", heads->number ? " class=\"n\"" : "");
        say(p, heads->key);
        textbuf_puts(&p->m, "</th>");
    }
    textbuf_puts(&p->m, "</tr></thead>\n<tbody>\n");
}

void table_end(struct page *p) {
    textbuf_puts(&p->m, "</tbody>\n</table></div>\n");
}

void cell_number(struct page *p, int64_t number) {
    textbuf_puts(&p->m, "<td>");
    textbuf_int(&p->m, number);
    textbuf_puts(&p->m, "</td>");
}

void cell_penalty(struct page *p, int64_t penalty) {
    textbuf_puts(&p->m, "<td>");
    put_penalty(p, penalty);
    textbuf_puts(&p->m, "</td>");
}

void cell_known(struct page *p, int64_t penalty, bool known) {
    if (known)
        cell_penalty(p, penalty);
    else
        textbuf_puts(&p->m, "<td>–</td>");
}

void cell_gap(struct page *p, struct gap gap, bool known) {
    textbuf_puts(&p->m, "<td>");
    if (known)
        put_gap(p, gap);
    else
        textbuf_puts(&p->m, "–");
    textbuf_puts(&p->m, "</td>");
}

void cell_time(struct page *p, int64_t ms, enum time_unit unit) {
    textbuf_puts(&p->m, "<td>");
    if (ms != TIME_NONE)
        put_time(p, ms, unit);
    textbuf_puts(&p->m, "</td>");
}

void cells_car(struct page *p, int car) {
    textbuf_puts(&p->m, "<td>");
    put_plate(p, car);
    textbuf_puts(&p->m, "</td><th scope=\"row\"><a ");
    page_href(p, "cars/%d", p->event->entries->list[car].number);
    textbuf_putc(&p->m, '>');
    put_crew(p, car);
    textbuf_puts(&p->m, "</a><small>");
    put_vehicle(p, car);
    textbuf_printf(&p->m, ", %d</small></th>", p->event->entries->list[car].year);
}
