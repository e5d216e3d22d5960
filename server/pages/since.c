/* SPDX-License-Identifier: MIT */
#include "pages/since.h"

#include <stddef.h>

/* A script makes the elements: each byte here is on every phone's way. */
void since_write_place(struct page *p) {
    static const char *const told[] = {"since",     "since-car",   "since-moved", "since-cost",
                                       "since-all", "since-tests", "since-none",  "since-ruled",
                                       "d-cancel",  "since-seen",  "since-list",  NULL};
    textbuf_puts(&p->m, "<div id=\"since\" hidden data-words=\"");
    for (int i = 0; told[i] != NULL; i++) {
        textbuf_puts(&p->m, i > 0 ? "|" : "");
        say(p, told[i]);
    }
    textbuf_puts(&p->m, "\"></div>\n");
}

/* How many tests nearly all cars have done, and the last of them, "" where there is none. */
static int count_done(const struct page *p, const struct board_view *board, const char **last) {
    const struct view *view = p->r->results->view;
    int count = 0;
    *last = "";
    for (int i = 0; i < p->rules->item_count; i++) {
        if (p->rules->items[i].test < 0 || view->hidden[i] ||
            (i > board->item && !view->all_closed))
            continue;
        count++;
        *last = p->rules->items[i].id;
    }
    return count;
}

/* The ids of what counts for nobody, a blank between them. */
static void put_cancelled(const struct page *p, const struct board_view *board, struct textbuf *b) {
    const struct rulings *rulings = p->event->rulings;
    for (int i = 0; i < p->rules->item_count; i++) {
        const struct item *item = &p->rules->items[i];
        if (!board->s.view->visible[i])
            continue;
        if (rulings->cancelled_item[i] != NULL) {
            textbuf_printf(b, "%s%s", b->len > 0 ? " " : "", item->id);
            continue;
        }
        for (int n = item->first_point; n < item->first_point + item->point_count; n++) {
            if (rulings->cancelled_point[n] != NULL)
                textbuf_printf(b, "%s%s", b->len > 0 ? " " : "", p->rules->points[n].id);
        }
    }
}

void since_write_attributes(struct page *p, const struct board_view *board) {
    const char *last;
    int done = count_done(p, board, &last);
    struct textbuf cancelled = {0};
    put_cancelled(p, board, &cancelled);
    textbuf_printf(&p->m, " data-tests=\"%d %s\"", done, last);
    if (cancelled.len > 0)
        textbuf_printf(&p->m, " data-cancelled=\"%s\"", textbuf_text(&cancelled));
    p->m.failed = p->m.failed || cancelled.failed;
    textbuf_clear(&cancelled);
}

void since_write_members(struct page *p, const struct board_view *board) {
    const char *last;
    int done = count_done(p, board, &last);
    struct textbuf cancelled = {0};
    put_cancelled(p, board, &cancelled);
    textbuf_printf(&p->m, ",\"tests\":%d,\"last\":\"%s\",\"cancelled\":\"%s\"", done, last,
                   textbuf_text(&cancelled));
    p->m.failed = p->m.failed || cancelled.failed;
    textbuf_clear(&cancelled);
}
