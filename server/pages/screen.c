/* SPDX-License-Identifier: MIT */
/* The big screen of a hotel lobby: the board in large letters, whose pages turn by themselves.
 * Without a script it is one long page. */
#include "pages/board_view.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/table.h"
#include "pages/templates.h"

struct screen_content {
    struct markup state;
    struct markup standings;
};

static const struct template_hole screen_holes[] = {TEMPLATE_HOLE(struct screen_content, state),
                                                    TEMPLATE_HOLE(struct screen_content, standings),
                                                    {0}};

struct template screen_template = {.file = "web/board/templates/screen.html",
                                   .holes = screen_holes};

static void write_place(struct page *p, const struct table_row *row) {
    const struct standing *of = row->of;
    cell_place(p, of->position, of->equal);
}

static void write_penalty(struct page *p, const struct table_row *row) {
    const struct standing *of = row->of;
    cell_penalty(p, of->penalty);
}

static void write_to_leader(struct page *p, const struct table_row *row) {
    const struct standing *of = row->of;
    cell_gap(p, of->behind_leader, true);
}

static void put_caption(struct page *p, const void *of) {
    const struct board_view *board = of;
    if (board->after >= 0)
        say_with(p, "screen-after", p->rules->items[board->after].id, NULL, NULL);
    else
        say(p, "overall-standings");
}

static void put_standings(struct page *p, const void *of) {
    static const struct table_cell cells[] = {{"place", .write = write_place},
                                              {"car", .write = cell_plate},
                                              {"crew", .write = cell_crew},
                                              {"era", .write = cell_class},
                                              {"penalty", .write = write_penalty},
                                              {"to-leader", .write = write_to_leader},
                                              {.key = NULL}};
    struct table t;
    const struct board_view *board = of;
    table_begin(&t, p, "large", "large", caption_markup((struct markup){put_caption, board}),
                cells);
    const struct standings_group *g = board->st->groups;
    for (int i = 0; board->st->group_count > 0 && i < g->placed_count; i++) {
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, g->placed[i].car, &g->placed[i]);
    }
    table_end(p);
}

unsigned page_screen(struct request *r, struct textbuf *b) {
    struct board_view board;
    struct page p;
    unsigned status = board_view_open(r, &board);
    if (status != 0)
        return status;
    page_begin(&p, r, board.s.view);
    const struct screen_content content = {.state = page_state_line(),
                                           .standings = {put_standings, &board}};
    template_write(&p, &screen_template, &content);
    return page_finish(
        &p, b,
        &(struct page_frame){.title = said(&p, "screen"), .script = "screen.js", .screen = true});
}
