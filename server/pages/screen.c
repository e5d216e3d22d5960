/* SPDX-License-Identifier: MIT */
/* The big screen of a hotel lobby: the board in large letters, whose pages turn by themselves.
 * Without a script it is one long page. */
#include "pages/board_view.h"
#include "pages/page.h"
#include "pages/pages.h"

static void write_row(struct page *p, const struct standing *row) {
    textbuf_printf(&p->m, "<tr><td>%s%d</td>", row->equal ? "=" : "", row->position);
    cells_car(p, row->car);
    textbuf_puts(&p->m, "<td>");
    put_class(p, row->car);
    textbuf_puts(&p->m, "</td>");
    cell_penalty(p, row->penalty);
    cell_gap(p, row->behind_leader, true);
    textbuf_puts(&p->m, "</tr>\n");
}

unsigned page_screen(struct request *r, struct textbuf *b) {
    static const struct column_head heads[] = {
        {"place", true},   {"car", true},       {"crew", false}, {"era", false},
        {"penalty", true}, {"to-leader", true}, {NULL, false}};
    struct board_view board;
    struct page p;
    struct textbuf caption = {0};
    unsigned status = board_view_open(r, &board);
    if (status != 0)
        return status;
    page_begin(&p, r, board.s.view);
    textbuf_puts(&p.m, "<h1>");
    say(&p, "standings");
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    textbuf_puts(&p.m, "<p class=\"live\" id=\"turn\" hidden><button type=\"button\" id=\"hold\" "
                       "data-other=\"");
    say(&p, "turn-on");
    textbuf_puts(&p.m, "\">");
    say(&p, "turn-off");
    textbuf_puts(&p.m, "</button> <output id=\"sheet\"></output></p>\n");
    if (board.after >= 0) {
        const char *args[] = {p.rules->items[board.after].id};
        words_put(&caption, said(&p, "screen-after"), args, 1);
    } else {
        const char *args[] = {""};
        words_put(&caption, said(&p, "overall-standings"), args, 1);
    }
    table_begin(&p, "large", textbuf_text(&caption), heads);
    for (int g = 0; g < board.st->group_count && g < 1; g++) {
        for (int i = 0; i < board.st->groups[g].placed_count; i++)
            write_row(&p, &board.st->groups[g].placed[i]);
    }
    table_end(&p);
    textbuf_clear(&caption);
    status = page_finish(
        &p, b,
        &(struct page_frame){.title = said(&p, "screen"), .script = "screen.js", .screen = true});
    return status;
}
