/* SPDX-License-Identifier: MIT */
/* The board: standings in every grouping, with find, filter and the pinned cars' place. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "pages/board_view.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "pages/since.h"
#include "event/car_search.h"
#include "system/html.h"
#include "system/system_clock.h"

/* Titles by grouping: keys of words. */
static const char *const titles[BY_COUNT] = {"standings", "by-class", "by-category",
                                             "by-day",    "by-test",  "by-team"};

static bool is_ranking(enum standings_by by) {
    return by == BY_OVERALL || by == BY_CLASS || by == BY_CATEGORY;
}

static bool fits(const struct page *p, int car) {
    const char *typed = request_query(p->r, "q");
    return typed == NULL || car_search_fits(&p->event->entries->list[car], typed);
}

/* A row can be jumped to by its car, where the car stands on the page once. */
static void row_begin(struct page *p, const struct standings *st, int car) {
    if (st->group_count == 1 || is_ranking(st->by))
        textbuf_printf(&p->m, "<tr id=\"n%d\">", p->event->entries->list[car].number);
    else
        textbuf_puts(&p->m, "<tr>");
}

static void put_position(struct page *p, const struct standing *row) {
    textbuf_printf(&p->m, "%s%d", row->equal ? "=" : "", row->position);
}

/* The change in signs, and behind the table's heading in words: "+2" is two places won. */
static void put_change(struct page *p, int change) {
    if (change != 0)
        textbuf_printf(&p->m, "%s%d", change > 0 ? "▲" : "▼", abs(change));
}

/* Era, with the car's place in it; in a table of one era its place overall. */
static void put_other_place(struct page *p, const struct standings *st, int car) {
    const struct car_score *score = &st->scores->cars[car];
    int place = st->by == BY_CLASS ? score->position : score->class_position;
    if (st->by != BY_CLASS) {
        put_class(p, car);
        textbuf_putc(&p->m, ' ');
    }
    if (place > 0)
        textbuf_int(&p->m, place);
}

/* Where it is, and what is to be known before the row is believed. */
static void put_note(struct page *p, const struct standings *st, const struct standing *row) {
    const struct car_score *score = &st->scores->cars[row->car];
    const char *sep = "";
    if (row->fails > 0 && st->by != BY_TEST && st->by != BY_DAY) {
        say_count(p, "fails", row->fails, NULL);
        sep = ", ";
    }
    if (score->status == STATUS_FINISHED) {
        textbuf_puts(&p->m, sep);
        say(p, "finished");
        sep = ", ";
    } else if (score->through >= 0) {
        textbuf_printf(&p->m, "%s%s", sep, p->rules->points[score->through].id);
        sep = ", ";
    }
    if (score->awaiting > 0) {
        textbuf_puts(&p->m, sep);
        say_count(p, "awaiting", score->awaiting, NULL);
        sep = ", ";
    }
    if (score->doubtful > 0) {
        textbuf_puts(&p->m, sep);
        say_count(p, "doubtful", score->doubtful, NULL);
    }
}

static void write_row(struct page *p, const struct board_view *board,
                      const struct standings_group *g, const struct standing *row) {
    const struct standings *st = board->st;
    bool known = standings_known(st, g, row->car);
    int rulings = is_ranking(st->by) ? card_rulings(p, st->scores, row->car) : 0;
    row_begin(p, st, row->car);
    textbuf_puts(&p->m, "<td>");
    put_position(p, row);
    textbuf_puts(&p->m, "</td>");
    if (is_ranking(st->by)) {
        textbuf_puts(&p->m, "<td>");
        put_change(p, board_view_change(board, row));
        textbuf_puts(&p->m, "</td>");
    }
    cells_car(p, row->car);
    cell_known(p, row->penalty, known);
    cell_gap(p, row->behind_leader, known);
    cell_gap(p, row->behind_next, known);
    if (is_ranking(st->by)) {
        textbuf_puts(&p->m, "<td>");
        put_other_place(p, st, row->car);
        textbuf_puts(&p->m, "</td>");
    } else {
        cell_number(p, row->fails);
    }
    textbuf_puts(&p->m, "<td");
    /* Most that have a decision or correction have one, which needs no figure. */
    if (rulings == 1)
        textbuf_puts(&p->m, " data-r");
    else if (rulings > 1)
        textbuf_printf(&p->m, " data-r=\"%d\"", rulings);
    textbuf_putc(&p->m, '>');
    put_note(p, st, row);
    textbuf_puts(&p->m, "</td></tr>\n");
}

static void write_placed(struct page *p, const struct board_view *board,
                         const struct standings_group *g, const char *caption) {
    const struct standings *st = board->st;
    const struct column_head ranking[] = {
        {"place", true},    {"change", true},
        {"car", true},      {"crew", false},
        {"penalty", true},  {"to-leader", true},
        {"to-ahead", true}, {st->by == BY_CLASS ? "overall" : "era", true},
        {"note", false},    {NULL, false}};
    const struct column_head plain[] = {
        {"place", true},      {"car", true},       {"crew", false},
        {"penalty", true},    {"to-leader", true}, {"to-ahead", true},
        {"fails-head", true}, {"note", false},     {NULL, false}};
    table_begin(p, is_ranking(st->by) ? "board" : "board plain", caption,
                is_ranking(st->by) ? ranking : plain);
    for (int i = 0; i < g->placed_count; i++) {
        if (fits(p, g->placed[i].car))
            write_row(p, board, g, &g->placed[i]);
    }
    table_end(p);
}

static const char *reason_of(const struct standings *st, enum car_status status, bool pending) {
    if (pending)
        return "still-awaited";
    if (!status_is_placed(status))
        return status_word(status);
    return st->by == BY_TEST ? "absent-from-test" : "outside";
}

static void write_others(struct page *p, const struct standings *st,
                         const struct standings_group *g, const struct standing *rows, int count,
                         const char *key, bool pending) {
    static const struct column_head heads[] = {{"car", true}, {"crew", false}, {"penalty", true},
                                               {"era", true}, {"why", false},  {NULL, false}};
    int shown = 0;
    for (int i = 0; i < count; i++)
        shown += fits(p, rows[i].car);
    if (shown == 0)
        return;
    struct textbuf caption = {0};
    html_text(&caption, said(p, key));
    table_begin(p, pending ? "others pending" : "others", textbuf_text(&caption), heads);
    for (int i = 0; i < count; i++) {
        if (!fits(p, rows[i].car))
            continue;
        row_begin(p, st, rows[i].car);
        cells_car(p, rows[i].car);
        cell_known(p, rows[i].penalty, standings_known(st, g, rows[i].car));
        textbuf_puts(&p->m, "<td>");
        put_class(p, rows[i].car);
        textbuf_puts(&p->m, "</td><td>");
        say(p, reason_of(st, st->scores->cars[rows[i].car].status, pending));
        textbuf_puts(&p->m, "</td></tr>\n");
    }
    table_end(p);
    textbuf_clear(&caption);
}

/* "Era C-1, Vintage up to 1500"; "Day 2"; "R4 Sorrel Common". */
static void group_caption(struct page *p, const struct standings *st,
                          const struct standings_group *g, struct textbuf *out) {
    struct textbuf kept = p->m;
    char day[16];
    p->m = (struct textbuf){0};
    switch (st->by) {
    case BY_CLASS: {
        struct textbuf name = {0};
        say(p, "era");
        textbuf_putc(&p->m, ' ');
        rules_class_id(p->rules, g->index, &p->m);
        rules_class_name(p->rules, g->index, &name);
        textbuf_puts(&p->m, ", ");
        html_text(&p->m, textbuf_text(&name));
        textbuf_clear(&name);
        break;
    }
    case BY_CATEGORY:
        html_text(&p->m, p->rules->categories[g->index].name);
        break;
    case BY_DAY:
        (void)snprintf(day, sizeof day, "%d", g->index + 1);
        say_with(p, "day", day, NULL, NULL);
        break;
    case BY_TEST:
        put_item(p, &p->rules->items[g->index], true);
        break;
    default:
        say(p, "overall-standings");
        break;
    }
    *out = p->m;
    p->m = kept;
}

void standings_write_group(struct page *p, const struct board_view *board,
                           const struct standings_group *g) {
    struct textbuf caption = {0};
    group_caption(p, board->st, g, &caption);
    write_placed(p, board, g, textbuf_text(&caption));
    textbuf_clear(&caption);
    write_others(p, board->st, g, g->pending, g->pending_count, "still-awaited", true);
    write_others(p, board->st, g, g->unplaced, g->unplaced_count, "without-place", false);
}

static void write_teams(struct page *p, const struct standings *st) {
    static const struct column_head heads[] = {{"place", true},      {"team", false},
                                               {"penalty", true},    {"fails-head", true},
                                               {"cars-head", false}, {NULL, false}};
    const struct entries *entries = st->scores->event->entries;
    table_begin(p, "teams", said(p, "by-team"), heads);
    for (int i = 0; i < st->team_count; i++) {
        const struct team_standing *t = &st->teams[i];
        textbuf_puts(&p->m, "<tr><td>");
        if (i < st->teams_placed)
            textbuf_printf(&p->m, "%s%d", t->equal ? "=" : "", t->position);
        else
            textbuf_puts(&p->m, "–");
        textbuf_puts(&p->m, "</td><th scope=\"row\">");
        html_text(&p->m, entries->teams[t->team]);
        textbuf_puts(&p->m, "</th>");
        cell_penalty(p, t->penalty);
        cell_number(p, t->fails);
        textbuf_puts(&p->m, "<td>");
        for (int c = 0; c < t->car_count; c++) {
            int number = entries->list[t->cars[c]].number;
            textbuf_puts(&p->m, c > 0 ? ", <a " : "<a ");
            page_href(p, "cars/%d", number);
            textbuf_printf(&p->m, ">%d</a>", number);
        }
        textbuf_puts(&p->m, "</td></tr>\n");
    }
    table_end(p);
}

/* Hidden fields with the choices that a form keeps. */
static void keep_choices(struct page *p, const char *const *names) {
    for (; *names != NULL; names++) {
        const char *value = request_query(p->r, *names);
        if (value == NULL)
            continue;
        textbuf_printf(&p->m, "<input type=\"hidden\" name=\"%s\" value=\"", *names);
        html_text(&p->m, value);
        textbuf_puts(&p->m, "\">");
    }
}

/* What is being compared with what, in words, with the other view one tap away. */
static void write_view(struct page *p, const struct board_view *board) {
    const struct rules *rules = p->rules;
    enum standings_by by = board->st->by;
    char through[48];
    char running[48];
    (void)snprintf(through, sizeof through, "<span id=\"through\">%d</span>", board->through);
    (void)snprintf(running, sizeof running, "<span id=\"running\">%d</span>", board->running);
    textbuf_puts(&p->m, "<p class=\"view\" id=\"view\">");
    if (board->after >= 0) {
        struct textbuf kept = p->m;
        p->m = (struct textbuf){0};
        put_item(p, &rules->items[board->after], true);
        struct textbuf name = p->m;
        p->m = kept;
        say_with(p, board->settled ? "view-settled" : "view-after", textbuf_text(&name), through,
                 running);
        textbuf_clear(&name);
        textbuf_puts(&p->m, " <a ");
        page_href(p, "?by=%s&view=live", by_word(by));
        textbuf_puts(&p->m, ">");
        say(p, "to-live");
    } else if (board->item >= 0 && by != BY_TEST) {
        say(p, "view-live");
        textbuf_puts(&p->m, " <a ");
        page_href(p, "?by=%s", by_word(by));
        textbuf_puts(&p->m, ">");
        say(p, "to-settled");
    } else {
        say(p, "view-all");
        textbuf_puts(&p->m, "</p>\n");
        return;
    }
    textbuf_puts(&p->m, "</a></p>\n");
}

static void write_groupings(struct page *p, enum standings_by now) {
    static const char *const keys[BY_COUNT] = {"overall", "eras",  "categories",
                                               "days",    "tests", "teams"};
    textbuf_puts(&p->m, "<nav class=\"choices\" aria-label=\"");
    say(p, "groupings");
    textbuf_puts(&p->m, "\">");
    for (int by = 0; by < BY_COUNT; by++) {
        if ((by == BY_CATEGORY && p->rules->category_count == 0) ||
            (by == BY_TEAM && p->rules->scoring.team_count == 0))
            continue;
        textbuf_puts(&p->m, "<a ");
        if (by == BY_OVERALL)
            page_href(p, "%s", "");
        else
            page_href(p, "?by=%s", by_word((enum standings_by)by));
        textbuf_printf(&p->m, "%s>", by == (int)now ? " aria-current=\"true\"" : "");
        say(p, keys[by]);
        textbuf_puts(&p->m, "</a> ");
    }
    textbuf_puts(&p->m, "</nav>\n");
}

static void write_after_choice(struct page *p, int after) {
    const struct rules *rules = p->rules;
    textbuf_puts(&p->m, "<label>");
    say(p, "stand-after");
    textbuf_puts(&p->m, " <select name=\"after\"><option value=\"\">");
    say(p, "as-usual");
    textbuf_puts(&p->m, "</option>");
    for (int i = 0; i < rules->item_count; i++) {
        if (p->r->results->view->hidden[i])
            continue;
        textbuf_printf(&p->m, "<option%s>%s</option>",
                       i == after && request_query(p->r, "after") != NULL ? " selected" : "",
                       rules->items[i].id);
    }
    textbuf_puts(&p->m, "</select></label> ");
}

static bool is_used(const struct page *p, int class_index) {
    for (int car = 0; car < p->event->entries->count; car++) {
        if (p->event->entries->list[car].class_index == class_index)
            return true;
    }
    return false;
}

static void write_era_choice(struct page *p) {
    const char *class_text = request_query(p->r, "class");
    textbuf_puts(&p->m, "<label>");
    say(p, "era");
    textbuf_puts(&p->m, " <select name=\"class\"><option value=\"\">");
    say(p, "all");
    textbuf_puts(&p->m, "</option>");
    for (int c = 0; c < rules_class_count(p->rules); c++) {
        struct textbuf id = {0};
        rules_class_id(p->rules, c, &id);
        if (is_used(p, c))
            textbuf_printf(
                &p->m, "<option%s>%s</option>",
                class_text != NULL && strcmp(class_text, textbuf_text(&id)) == 0 ? " selected" : "",
                textbuf_text(&id));
        textbuf_clear(&id);
    }
    textbuf_puts(&p->m, "</select></label> ");
}

/* How the page keeps itself up to date; without a script it does not, and these are not seen. */
static void write_buttons(struct page *p) {
    static const char *const buttons[][3] = {
        {"pause", "pause", "go-on"}, {"stream", "stream-on", "stream-off"}, {NULL, NULL, NULL}};
    textbuf_puts(&p->m, "<p class=\"live\" id=\"live\" hidden>");
    for (int i = 0; buttons[i][0] != NULL; i++) {
        textbuf_printf(&p->m, "<button type=\"button\" id=\"%s\" data-other=\"", buttons[i][0]);
        say(p, buttons[i][2]);
        textbuf_puts(&p->m, "\">");
        say(p, buttons[i][1]);
        textbuf_puts(&p->m, "</button> ");
    }
    textbuf_puts(&p->m, "</p>");
}

/* The same choices in a copy, where no server reads a form: a link each. */
static void write_choice_links(struct page *p, enum standings_by by) {
    textbuf_puts(&p->m, "<p>");
    say(p, "era");
    textbuf_puts(&p->m, ": <a ");
    page_href(p, "?by=class");
    textbuf_putc(&p->m, '>');
    say(p, "all");
    textbuf_puts(&p->m, "</a>");
    for (int c = 0; c < rules_class_count(p->rules); c++) {
        struct textbuf id = {0};
        rules_class_id(p->rules, c, &id);
        if (is_used(p, c)) {
            textbuf_puts(&p->m, " <a ");
            page_href(p, "?class=%s", textbuf_text(&id));
            textbuf_printf(&p->m, ">%s</a>", textbuf_text(&id));
        }
        textbuf_clear(&id);
    }
    textbuf_puts(&p->m, "</p>\n<p>");
    say(p, "stand-after");
    textbuf_puts(&p->m, ": <a ");
    page_href(p, "?by=%s", by_word(by));
    textbuf_putc(&p->m, '>');
    say(p, "as-usual");
    textbuf_puts(&p->m, "</a>");
    for (int i = 0; i < p->rules->item_count; i++) {
        if (p->rules->items[i].test < 0 || p->r->results->view->hidden[i])
            continue;
        textbuf_puts(&p->m, " <a ");
        page_href(p, "?by=%s&after=%s", by_word(by), p->rules->items[i].id);
        textbuf_printf(&p->m, ">%s</a>", p->rules->items[i].id);
    }
    textbuf_puts(&p->m, "</p>\n");
}

/* In a copy a script does the finding, and links the rest. */
static void write_copy_form(struct page *p, enum standings_by by) {
    if (!is_ranking(by))
        return;
    textbuf_puts(&p->m, "<p class=\"find scripted\"><label>");
    say(p, "find");
    textbuf_puts(&p->m, " <input type=\"search\" id=\"q\" maxlength=\"40\"></label></p>\n"
                        "<details class=\"more\"><summary>");
    say(p, "more");
    textbuf_puts(&p->m, "</summary><div>");
    if (by != BY_CATEGORY)
        write_choice_links(p, by);
    write_buttons(p);
    textbuf_puts(&p->m, "</div></details>\n");
}

static void write_form(struct page *p, const struct board_view *board) {
    enum standings_by by = board->st->by;
    static const char *const always[] = {"lang", "view", NULL};
    static const char *const grouped[] = {"lang", "view", "by", NULL};
    textbuf_printf(&p->m, "<form action=\"/%s/\" method=\"get\" class=\"find\" role=\"search\">",
                   p->rules->slug);
    keep_choices(p, by == BY_OVERALL || by == BY_CLASS ? always : grouped);
    textbuf_puts(&p->m, "<label>");
    say(p, "find");
    textbuf_puts(&p->m, " <input type=\"search\" name=\"q\" id=\"q\" maxlength=\"40\" value=\"");
    if (request_query(p->r, "q") != NULL)
        html_text(&p->m, request_query(p->r, "q"));
    textbuf_puts(&p->m, "\"></label> <button type=\"submit\">");
    say(p, "show");
    textbuf_puts(&p->m, "</button> ");
    if (by == BY_TEST) {
        textbuf_puts(&p->m, "</form>\n");
        return;
    }
    textbuf_puts(&p->m, "<details class=\"more\"><summary>");
    say(p, "more");
    textbuf_puts(&p->m, "</summary><div>");
    if (by == BY_OVERALL || by == BY_CLASS)
        write_era_choice(p);
    write_after_choice(p, board->after);
    if (is_ranking(by))
        write_buttons(p);
    textbuf_puts(&p->m, "</div></details></form>\n");
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

static int count_fitting(const struct page *p, const struct standings *st) {
    int count = 0;
    for (int g = 0; g < st->group_count; g++) {
        const struct standings_group *group = &st->groups[g];
        for (int i = 0; i < group->placed_count; i++)
            count += fits(p, group->placed[i].car);
        for (int i = 0; i < group->unplaced_count; i++)
            count += fits(p, group->unplaced[i].car);
        for (int i = 0; i < group->pending_count; i++)
            count += fits(p, group->pending[i].car);
    }
    return count;
}

static void write_found(struct page *p, const struct standings *st) {
    struct textbuf typed = {0};
    const char *query = request_query(p->r, "q");
    if (query == NULL || st->by == BY_TEAM)
        return;
    html_text(&typed, query);
    textbuf_puts(&p->m, "<p class=\"found\">");
    if (st->group_count == 1)
        say_count(p, "found", count_fitting(p, st), textbuf_text(&typed));
    textbuf_puts(&p->m, " <a ");
    page_href(p, "?by=%s", by_word(st->by));
    textbuf_puts(&p->m, ">");
    say(p, "all-cars");
    textbuf_puts(&p->m, "</a></p>\n");
    textbuf_clear(&typed);
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

unsigned page_standings(struct request *r, struct textbuf *b) {
    struct board_view board;
    struct page p;
    struct textbuf downloads = {0};
    struct textbuf figures = {0};
    unsigned status = board_view_open(r, &board);
    if (status != 0)
        return status;
    enum standings_by by = board.st->by;
    page_begin(&p, r, board.s.view);
    textbuf_puts(&p.m, "<h1>");
    say(&p, titles[by]);
    textbuf_puts(&p.m, "</h1>\n");
    page_state(&p);
    if (is_ranking(by))
        since_write_place(&p);
    write_groupings(&p, by);
    write_view(&p, &board);
    if (page_is_copy(&p))
        write_copy_form(&p, by);
    else
        write_form(&p, &board);
    if (is_ranking(by))
        write_script_parts(&p);
    write_found(&p, board.st);
    textbuf_printf(&p.m, "<div id=\"board\" data-after=\"%s\" data-status=\"%s\"",
                   board.after >= 0 ? p.rules->items[board.after].id : "",
                   view_status(board.s.view));
    if (is_ranking(by))
        since_write_attributes(&p, &board);
    textbuf_puts(&p.m, ">\n");
    if (by == BY_TEAM)
        write_teams(&p, board.st);
    for (int i = 0; i < board.st->group_count; i++)
        standings_write_group(&p, &board, &board.st->groups[i]);
    textbuf_puts(&p.m, "</div>\n");
    if (board.before >= 0 && is_ranking(by)) {
        struct textbuf name = {0};
        html_text(&name, p.rules->items[board.before].id);
        textbuf_puts(&p.m, "<p class=\"quiet\">");
        say_with(&p, "change-since", textbuf_text(&name), NULL, NULL);
        textbuf_puts(&p.m, "</p>\n");
        textbuf_clear(&name);
    }
    write_downloads(&p, &board, &downloads);
    if (page_is_copy(&p) && is_ranking(by))
        write_figures_address(&p, &figures);
    status = page_finish(&p, b,
                         &(struct page_frame){.title = said(&p, titles[by]),
                                              .here = "standings",
                                              .script = is_ranking(by) ? "board.js" : NULL,
                                              .downloads = textbuf_text(&downloads),
                                              .csv = true,
                                              .figures = figures.len > 0 ? figures.bytes : NULL});
    b->failed = b->failed || downloads.failed || figures.failed;
    textbuf_clear(&downloads);
    textbuf_clear(&figures);
    return status;
}

/* A column of the figures: one value for each placed car. */
static void write_column(struct page *p, const struct board_view *board,
                         const struct standings_group *g, const char *name,
                         void (*put)(struct page *, const struct board_view *,
                                     const struct standing *)) {
    textbuf_printf(&p->m, ",\n\"%s\":[", name);
    for (int i = 0; i < g->placed_count; i++) {
        if (i > 0)
            textbuf_putc(&p->m, ',');
        put(p, board, &g->placed[i]);
    }
    textbuf_putc(&p->m, ']');
}

static void figure_car(struct page *p, const struct board_view *board, const struct standing *row) {
    (void)board;
    textbuf_int(&p->m, p->event->entries->list[row->car].number);
}

static void figure_equal(struct page *p, const struct board_view *board,
                         const struct standing *row) {
    (void)board;
    textbuf_int(&p->m, row->equal);
}

static void figure_change(struct page *p, const struct board_view *board,
                          const struct standing *row) {
    textbuf_int(&p->m, board_view_change(board, row));
}

static void figure_penalty(struct page *p, const struct board_view *board,
                           const struct standing *row) {
    (void)board;
    textbuf_putc(&p->m, '"');
    decimal_write(&p->m, row->penalty);
    textbuf_putc(&p->m, '"');
}

/* A gap that is no penalty, in words; else nothing, and the page works it out. */
static void put_fails_gap(struct page *p, struct gap gap) {
    textbuf_putc(&p->m, '"');
    if (gap.fails != 0)
        put_gap(p, gap);
    textbuf_putc(&p->m, '"');
}

static void figure_leader(struct page *p, const struct board_view *board,
                          const struct standing *row) {
    (void)board;
    put_fails_gap(p, row->behind_leader);
}

static void figure_next(struct page *p, const struct board_view *board,
                        const struct standing *row) {
    (void)board;
    put_fails_gap(p, row->behind_next);
}

/* In the order of the standings fails only grow. */
static bool fails_differ(const struct standings_group *g) {
    return g->placed_count > 0 && g->placed[g->placed_count - 1].behind_leader.fails != 0;
}

static void figure_place(struct page *p, const struct board_view *board,
                         const struct standing *row) {
    const struct car_score *score = &board->st->scores->cars[row->car];
    textbuf_int(&p->m, board->st->by == BY_CLASS ? score->position : score->class_position);
}

static void figure_note(struct page *p, const struct board_view *board,
                        const struct standing *row) {
    textbuf_putc(&p->m, '"');
    put_note(p, board->st, row);
    textbuf_putc(&p->m, '"');
}

static void figure_rulings(struct page *p, const struct board_view *board,
                           const struct standing *row) {
    textbuf_int(&p->m, card_rulings(p, board->st->scores, row->car));
}

static void write_others_figures(struct page *p, const char *name, const struct board_view *board,
                                 const struct standing *rows, int count) {
    textbuf_printf(&p->m, ",\n\"%s\":[", name);
    for (int i = 0; i < count; i++)
        textbuf_printf(&p->m, "%s\"%d %s\"", i > 0 ? "," : "",
                       p->event->entries->list[rows[i].car].number,
                       status_word(board->st->scores->cars[rows[i].car].status));
    textbuf_putc(&p->m, ']');
}

unsigned page_figures(struct request *r, struct textbuf *b) {
    struct board_view board;
    struct page p;
    unsigned status = board_view_open(r, &board);
    if (status != 0)
        return status;
    page_begin(&p, r, board.s.view);
    textbuf_printf(&p.m, "{\"revision\":%lld,\"changed\":\"", (long long)r->results->revision);
    write_instant(&p.m, r->results->changed_ms);
    textbuf_printf(&p.m, "\",\"status\":\"%s\",\"after\":\"%s\",\"through\":%d,\"running\":%d",
                   view_status(board.s.view),
                   board.after >= 0 ? p.rules->items[board.after].id : "", board.through,
                   board.running);
    since_write_members(&p, &board);
    if (board.st->group_count == 1) {
        const struct standings_group *g = &board.st->groups[0];
        write_column(&p, &board, g, "car", figure_car);
        write_column(&p, &board, g, "equal", figure_equal);
        write_column(&p, &board, g, "change", figure_change);
        write_column(&p, &board, g, "penalty", figure_penalty);
        if (fails_differ(g)) {
            write_column(&p, &board, g, "leader", figure_leader);
            write_column(&p, &board, g, "next", figure_next);
        }
        write_column(&p, &board, g, "place", figure_place);
        write_column(&p, &board, g, "note", figure_note);
        write_column(&p, &board, g, "rulings", figure_rulings);
        write_others_figures(&p, "pending", &board, g->pending, g->pending_count);
        write_others_figures(&p, "unplaced", &board, g->unplaced, g->unplaced_count);
    }
    textbuf_puts(&p.m, "}\n");
    textbuf_add(b, textbuf_text(&p.m), p.m.len);
    b->failed = b->failed || p.m.failed;
    textbuf_clear(&p.m);
    return MHD_HTTP_OK;
}
