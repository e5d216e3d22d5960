/* SPDX-License-Identifier: MIT */
/* The board: standings in every grouping, with find, filter and the pinned cars' place. */
#include <stdio.h>

#include "pages/board_form.h"
#include "pages/board_table.h"
#include "pages/board_view.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/since.h"
#include "system/html.h"

/* Titles by grouping: keys of words. */
static const char *const titles[BY_COUNT] = {"standings", "by-class", "by-category",
                                             "by-group",  "by-day",   "by-test"};

/* Writes what stands in something else into a text of its own: between two of these calls the page
 * and the text have changed places. */
static void exchange(struct page *p, struct textbuf *text) {
    struct textbuf kept = p->m;
    p->m = *text;
    *text = kept;
    p->m.failed = p->m.failed || text->failed;
}

/* "Era C-1, Vintage up to 1500". */
static void put_era(struct page *p, int class_index) {
    struct textbuf *name = request_text(p->r);
    say(p, "era");
    textbuf_putc(&p->m, ' ');
    rules_class_id(p->rules, class_index, &p->m);
    rules_class_name(p->rules, class_index, name);
    textbuf_puts(&p->m, ", ");
    html_text(&p->m, textbuf_text(name));
}

struct group {
    enum standings_by by;
    const struct standings_group *g;
};

/* The era; "Day 2"; "R4 Sorrel Common". */
static void put_group(struct page *p, const void *of) {
    const struct group *group = of;
    const struct standings_group *g = group->g;
    char day[16];
    switch (group->by) {
    case BY_CLASS:
        put_era(p, g->index);
        break;
    case BY_CATEGORY:
        html_text(&p->m, p->rules->categories[g->index].name);
        break;
    case BY_GROUP:
        html_text(&p->m, p->rules->groups[g->index].name);
        break;
    case BY_DAY:
        (void)snprintf(day, sizeof day, "%d", g->index + 1);
        say_with(p, "day", day, NULL, NULL);
        break;
    case BY_TEST:
        put_item(p, &p->rules->items[g->index], true);
        break;
    case BY_OVERALL:
    case BY_TEAM: /* has no groups */
    case BY_COUNT:
        say(p, "overall-standings");
        break;
    }
}

static void write_groups(struct page *p, const struct board_view *board) {
    for (int i = 0; i < board->st->group_count; i++) {
        const struct group group = {board->st->by, &board->st->groups[i]};
        board_table_write(p, board, group.g, caption_markup((struct markup){put_group, &group}));
    }
}

/* After which test, and that there is a live view. */
static void write_after(struct page *p, const struct board_view *board) {
    char through[48];
    char running[48];
    struct textbuf *name = request_text(p->r);
    (void)snprintf(through, sizeof through, "<span id=\"through\">%d</span>", board->done);
    (void)snprintf(running, sizeof running, "<span id=\"running\">%d</span>", board->running);
    exchange(p, name);
    put_item(p, &p->rules->items[board->after], true);
    exchange(p, name);
    say_with(p, board->settled ? "view-settled" : "view-after", textbuf_text(name), through,
             running);
    textbuf_puts(&p->m, " <a ");
    page_href(p, "?by=%s&view=live", by_word(board->st->by));
    textbuf_puts(&p->m, ">");
    say(p, "to-live");
    textbuf_puts(&p->m, "</a>");
}

/* What is being compared with what, in words, with the other view one tap away. */
static void write_view(struct page *p, const struct board_view *board) {
    enum standings_by by = board->st->by;
    textbuf_puts(&p->m, "<p class=\"view\" id=\"view\">");
    if (board->after >= 0) {
        write_after(p, board);
    } else if (board->item >= 0 && by != BY_TEST) {
        say(p, "view-live");
        textbuf_puts(&p->m, " <a ");
        page_href(p, "?by=%s", by_word(by));
        textbuf_puts(&p->m, ">");
        say(p, "to-settled");
        textbuf_puts(&p->m, "</a>");
    } else {
        say(p, "view-all");
    }
    textbuf_puts(&p->m, "</p>\n");
}

/* What the script needs on the page; without it none of this is seen. */
static void write_script_parts(struct page *p) {
    textbuf_puts(&p->m, "<button type=\"button\" id=\"held\" hidden data-one=\"");
    say(p, "held.one");
    textbuf_puts(&p->m, "\" data-other=\"");
    say(p, "held.other");
    textbuf_puts(&p->m, "\"></button>\n<p role=\"status\" id=\"status\" class=\"quiet\"");
    static const char *const told[] = {"moved-up",  "moved-down", "offline", "online",
                                       "none-fits", "checked",    NULL};
    for (int i = 0; told[i] != NULL; i++) {
        textbuf_printf(&p->m, " data-%s=\"", told[i]);
        say(p, told[i]);
        textbuf_putc(&p->m, '"');
    }
    textbuf_puts(&p->m, "></p>\n<section id=\"pins\" class=\"pins\" hidden aria-label=\"");
    say(p, "pinned");
    textbuf_puts(&p->m, "\"><div class=\"scroll\"><table class=\"board\"><caption>");
    say(p, "pinned");
    textbuf_puts(&p->m, "</caption><tbody></tbody></table></div>");
    if (!page_is_copy(p)) {
        textbuf_puts(&p->m, "<p><a id=\"rivals\" ");
        page_href(p, "compare");
        textbuf_putc(&p->m, '>');
        say(p, "compare-pinned");
        textbuf_puts(&p->m, "</a></p>");
    }
    textbuf_puts(&p->m, "</section>\n");
}

static void write_found(struct page *p, const struct standings *st) {
    const char *query = request_query(p->r, "q");
    if (query == NULL || st->by == BY_TEAM)
        return;
    struct textbuf *typed = request_text(p->r);
    html_text(typed, query);
    textbuf_puts(&p->m, "<p class=\"found\">");
    if (st->group_count == 1)
        say_count(p, "found", board_table_count(p, st), textbuf_text(typed));
    textbuf_puts(&p->m, " <a ");
    page_href(p, "?by=%s", by_word(st->by));
    textbuf_puts(&p->m, ">");
    say(p, "all-cars");
    textbuf_puts(&p->m, "</a></p>\n");
}

/* The address of the same figures as JSON. */
static void write_downloads(const struct page *p, const struct board_view *board,
                            struct textbuf *b) {
    textbuf_printf(b, "standings?by=%s", by_word(board->st->by));
    if (request_query(p->r, "class") != NULL) {
        textbuf_puts(b, "&class=");
        url_text(b, request_query(p->r, "class"));
    }
    if (board->after >= 0)
        textbuf_printf(b, "&after=%s", p->rules->items[board->after].id);
}

/* The address of the figures that keep this very page up to date. */
static void write_figures_address(const struct page *p, struct textbuf *b) {
    static const char *const names[] = {"by", "class", "after", "view", "lang"};
    char before = '?';
    textbuf_printf(b, "/api/v1/events/%s/board", p->rules->slug);
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        const char *value = request_query(p->r, names[i]);
        if (value == NULL)
            continue;
        textbuf_printf(b, "%c%s=", before, names[i]);
        url_text(b, value);
        before = '&';
    }
}

/* The tables, in the element that the script looks after. */
static void write_board(struct page *p, const struct board_view *board) {
    enum standings_by by = board->st->by;
    textbuf_printf(&p->m, "<div id=\"board\" data-after=\"%s\" data-status=\"%s\"",
                   board->after >= 0 ? p->rules->items[board->after].id : "",
                   view_status(board->s.view));
    if (board_table_is_ranking(by))
        since_write_attributes(p, board);
    textbuf_puts(&p->m, ">\n");
    if (by == BY_TEAM)
        board_table_write_teams(p, board->st);
    write_groups(p, board);
    textbuf_puts(&p->m, "</div>\n");
    if (board->before < 0 || !board_table_is_ranking(by))
        return;
    struct textbuf *name = request_text(p->r);
    html_text(name, p->rules->items[board->before].id);
    textbuf_puts(&p->m, "<p class=\"quiet\">");
    say_with(p, "change-since", textbuf_text(name), NULL, NULL);
    textbuf_puts(&p->m, "</p>\n");
}

unsigned page_standings(struct request *r, struct textbuf *b) {
    struct board_view board;
    struct page p;
    unsigned status = board_view_open(r, &board);
    if (status != 0)
        return status;
    enum standings_by by = board.st->by;
    bool is_ranking = board_table_is_ranking(by);
    struct textbuf *downloads = request_text(r);
    struct textbuf *figures = request_text(r);
    page_begin(&p, r, board.s.view);
    const char *title = said(&p, by == BY_TEAM ? board_table_teams_key(&p) : titles[by]);
    textbuf_puts(&p.m, "<h1>");
    html_text(&p.m, title);
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    if (is_ranking)
        since_write_place(&p);
    board_form_write_groupings(&p, by);
    write_view(&p, &board);
    board_form_write(&p, &board);
    if (is_ranking)
        write_script_parts(&p);
    write_found(&p, board.st);
    write_board(&p, &board);
    write_downloads(&p, &board, downloads);
    if (page_is_copy(&p) && is_ranking)
        write_figures_address(&p, figures);
    p.m.failed = p.m.failed || downloads->failed || figures->failed;
    return page_finish(&p, b,
                       &(struct page_frame){.title = title,
                                            .here = "standings",
                                            .script = is_ranking ? "board.js" : NULL,
                                            .downloads = textbuf_text(downloads),
                                            .csv = true,
                                            .figures = figures->len > 0 ? figures->bytes : NULL});
}
