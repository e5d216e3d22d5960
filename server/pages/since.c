/* SPDX-License-Identifier: MIT */
#include "pages/since.h"

#include <stddef.h>

#include "format/json_write.h"

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

/* The facts beside the rows. */
struct facts {
    int tests;                 /* so many nearly all cars have done */
    const char *last;          /* of them; "" where there is none */
    struct textbuf *cancelled; /* ids of what counts for nobody, a blank between them */
};

static void count_tests(const struct page *p, const struct board_view *board, struct facts *facts) {
    const struct view *view = p->r->results->view;
    for (int i = 0; i < p->rules->item_count; i++) {
        if (p->rules->items[i].test < 0 || view->hidden[i] ||
            (i > board->item && !view->all_closed))
            continue;
        facts->tests++;
        facts->last = p->rules->items[i].id;
    }
}

static void put_id(struct textbuf *b, const char *id) {
    textbuf_puts(b, b->len > 0 ? " " : "");
    textbuf_puts(b, id);
}

static void list_cancelled(const struct page *p, const struct board_view *board,
                           struct textbuf *b) {
    const struct rulings *rulings = p->event->rulings;
    for (int i = 0; i < p->rules->item_count; i++) {
        const struct item *item = &p->rules->items[i];
        if (!board->s.view->visible[i])
            continue;
        if (rulings->cancelled_item[i] != NULL) {
            put_id(b, item->id);
            continue;
        }
        for (int n = item->first_point; n < item->first_point + item->point_count; n++) {
            if (rulings->cancelled_point[n] != NULL)
                put_id(b, p->rules->points[n].id);
        }
    }
}

static struct facts facts_of(struct page *p, const struct board_view *board) {
    struct facts facts = {0, "", request_text(p->r)};
    count_tests(p, board, &facts);
    list_cancelled(p, board, facts.cancelled);
    p->m.failed = p->m.failed || facts.cancelled->failed;
    return facts;
}

void since_write_attributes(struct page *p, const struct board_view *board) {
    struct facts facts = facts_of(p, board);
    textbuf_printf(&p->m, " data-tests=\"%d %s\"", facts.tests, facts.last);
    if (facts.cancelled->len > 0)
        textbuf_printf(&p->m, " data-cancelled=\"%s\"", facts.cancelled->bytes);
}

void since_tell(struct page *p, const struct board_view *board) {
    struct facts facts = facts_of(p, board);
    json_member_int(&p->m, "tests", facts.tests);
    json_member_text(&p->m, "last", facts.last);
    json_member_text(&p->m, "cancelled", textbuf_text(facts.cancelled));
}
