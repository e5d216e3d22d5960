/* SPDX-License-Identifier: MIT */
#include "pages/board_table.h"

#include <stdlib.h>
#include <string.h>

#include "event/car_search.h"
#include "format/json_write.h"
#include "pages/table.h"
#include "system/html.h"

/* What a row of a car is of, besides the car. */
struct board_row {
    const struct board_view *board;
    const struct standings_group *group;
    const struct standing *standing;
    bool known; /* its penalty is a result */
    bool pending;
};

bool board_table_is_ranking(enum standings_by by) {
    return by == BY_OVERALL || by == BY_CLASS || by == BY_CATEGORY || by == BY_GROUP;
}

const char *board_table_teams_key(const struct page *p) {
    return p->rules->scoring.teams_by_club ? "clubs" : "teams";
}

static bool fits(const struct page *p, int car) {
    const char *typed = request_query(p->r, "q");
    return typed == NULL || car_search_fits(&p->event->entries->list[car], typed);
}

static int count_fitting(const struct page *p, const struct standing *rows, int count) {
    int fitting = 0;
    for (int i = 0; i < count; i++)
        fitting += fits(p, rows[i].car);
    return fitting;
}

int board_table_count(const struct page *p, const struct standings *st) {
    int count = 0;
    for (int i = 0; i < st->group_count; i++) {
        const struct standings_group *g = &st->groups[i];
        count += count_fitting(p, g->placed, g->placed_count);
        count += count_fitting(p, g->unplaced, g->unplaced_count);
        count += count_fitting(p, g->pending, g->pending_count);
    }
    return count;
}

/* ---- what a car's columns say ---- */

static const struct board_row *board_row(const struct table_row *row) {
    return row->of;
}

static const struct standing *standing_of(const struct table_row *row) {
    return board_row(row)->standing;
}

static const struct standings *standings_of(const struct table_row *row) {
    return board_row(row)->board->st;
}

static const struct car_score *score_of(const struct table_row *row) {
    return &standings_of(row)->scores->cars[row->car];
}

static void write_place(struct page *p, const struct table_row *row) {
    cell_place(p, standing_of(row)->position, standing_of(row)->equal);
}

static void tell_equal(struct page *p, const struct table_row *row) {
    json_write_int(&p->m, standing_of(row)->equal);
}

static int change_of(const struct table_row *row) {
    return board_view_change(board_row(row)->board, board_row(row)->group, standing_of(row));
}

/* The change in signs, and behind the table's heading in words: "+2" is two places won. */
static void write_change(struct page *p, const struct table_row *row) {
    int change = change_of(row);
    textbuf_puts(&p->m, "<td>");
    if (change != 0) {
        textbuf_puts(&p->m, change > 0 ? "▲" : "▼");
        textbuf_int(&p->m, abs(change));
    }
    textbuf_puts(&p->m, "</td>");
}

static void tell_change(struct page *p, const struct table_row *row) {
    json_write_int(&p->m, change_of(row));
}

static void tell_car(struct page *p, const struct table_row *row) {
    json_write_int(&p->m, p->event->entries->list[row->car].number);
}

static void write_penalty(struct page *p, const struct table_row *row) {
    cell_known(p, standing_of(row)->penalty, board_row(row)->known);
}

static void tell_penalty(struct page *p, const struct table_row *row) {
    json_write_decimal(&p->m, standing_of(row)->penalty);
}

/* A gap in fails, in words; else nothing, and the page works it out from the penalties. */
static void tell_gap(struct page *p, struct gap gap) {
    size_t from = json_open_text(&p->m);
    if (gap.fails != 0)
        put_gap(p, gap);
    json_close_text(&p->m, from);
}

static void write_to_leader(struct page *p, const struct table_row *row) {
    cell_gap(p, standing_of(row)->behind_leader, board_row(row)->known);
}

static void tell_to_leader(struct page *p, const struct table_row *row) {
    tell_gap(p, standing_of(row)->behind_leader);
}

static void write_to_ahead(struct page *p, const struct table_row *row) {
    cell_gap(p, standing_of(row)->behind_next, board_row(row)->known);
}

static void tell_to_ahead(struct page *p, const struct table_row *row) {
    tell_gap(p, standing_of(row)->behind_next);
}

static void write_fails(struct page *p, const struct table_row *row) {
    cell_fails(p, standing_of(row)->fails);
}

/* The place in the car's era; in a table of one era its place overall. */
static int other_place(const struct table_row *row) {
    const struct car_score *score = score_of(row);
    return standings_of(row)->by == BY_CLASS ? score->position : score->class_position;
}

static void write_era(struct page *p, const struct table_row *row) {
    int place = other_place(row);
    textbuf_puts(&p->m, "<td>");
    if (standings_of(row)->by != BY_CLASS) {
        put_class(p, row->car);
        textbuf_putc(&p->m, ' ');
    }
    if (place > 0)
        textbuf_int(&p->m, place);
    textbuf_puts(&p->m, "</td>");
}

static void tell_era(struct page *p, const struct table_row *row) {
    json_write_int(&p->m, other_place(row));
}

static void put_separator(struct page *p, bool *begun) {
    textbuf_puts(&p->m, *begun ? ", " : "");
    *begun = true;
}

/* Where it is, and what is to be known before the row is believed. */
static void put_note(struct page *p, const struct table_row *row) {
    const struct car_score *score = score_of(row);
    int fails = standing_of(row)->fails;
    enum standings_by by = standings_of(row)->by;
    bool begun = false;
    if (fails > 0 && by != BY_TEST && by != BY_DAY) {
        put_separator(p, &begun);
        say_count(p, "fails", fails, NULL);
    }
    if (score->status == STATUS_FINISHED) {
        put_separator(p, &begun);
        say(p, "finished");
    } else if (score->through >= 0) {
        put_separator(p, &begun);
        textbuf_puts(&p->m, p->rules->points[score->through].id);
    }
    if (score->awaiting > 0) {
        put_separator(p, &begun);
        say_count(p, "awaiting", score->awaiting, NULL);
    }
    if (score->doubtful > 0) {
        put_separator(p, &begun);
        say_count(p, "doubtful", score->doubtful, NULL);
    }
}

static int rulings_of(struct page *p, const struct table_row *row) {
    return card_rulings(p, standings_of(row)->scores, row->car);
}

/* Most that have a decision or correction have one, which needs no figure. */
static void write_note(struct page *p, const struct table_row *row) {
    int rulings = board_table_is_ranking(standings_of(row)->by) ? rulings_of(p, row) : 0;
    textbuf_puts(&p->m, rulings > 0 ? "<td data-r" : "<td");
    if (rulings > 1)
        textbuf_printf(&p->m, "=\"%d\"", rulings);
    textbuf_putc(&p->m, '>');
    put_note(p, row);
    textbuf_puts(&p->m, "</td>");
}

static void tell_note(struct page *p, const struct table_row *row) {
    size_t from = json_open_text(&p->m);
    put_note(p, row);
    json_close_text(&p->m, from);
}

static void tell_rulings(struct page *p, const struct table_row *row) {
    json_write_int(&p->m, rulings_of(p, row));
}

/* Why a car has no place. */
static void write_why(struct page *p, const struct table_row *row) {
    enum car_status status = score_of(row)->status;
    textbuf_puts(&p->m, "<td>");
    if (board_row(row)->pending)
        say(p, "still-awaited");
    else if (!status_is_placed(status))
        say(p, status_word(status));
    else
        say(p, standings_of(row)->by == BY_TEST ? "absent-from-test" : "outside");
    textbuf_puts(&p->m, "</td>");
}

/* ---- tables ---- */

/* In the order in which figures are told. */
static const struct table_cell ranking_cells[] = {
    {"car", cell_plate, NULL, "car", tell_car},
    {"place", write_place, NULL, "equal", tell_equal},
    {"change", write_change, NULL, "change", tell_change},
    {"crew", cell_crew, NULL, NULL, NULL},
    {"penalty", write_penalty, NULL, "penalty", tell_penalty},
    {"to-leader", write_to_leader, NULL, "leader", tell_to_leader},
    {"to-ahead", write_to_ahead, NULL, "next", tell_to_ahead},
    {"era", write_era, NULL, "place", tell_era},
    {"note", write_note, NULL, "note", tell_note},
    {.key = NULL}};
enum { RANKING_CELLS = sizeof ranking_cells / sizeof ranking_cells[0] };

static const struct table_cell plain_cells[] = {{"place", .write = write_place},
                                                {"car", .write = cell_plate},
                                                {"crew", .write = cell_crew},
                                                {"penalty", .write = write_penalty},
                                                {"to-leader", .write = write_to_leader},
                                                {"to-ahead", .write = write_to_ahead},
                                                {"fails", .write = write_fails},
                                                {"note", .write = write_note},
                                                {.key = NULL}};

static const struct table_cell others_cells[] = {
    {"car", .write = cell_plate}, {"crew", .write = cell_crew}, {"penalty", .write = write_penalty},
    {"era", .write = cell_class}, {"why", .write = write_why},  {.key = NULL}};

static void begin_placed(struct table *t, struct page *p, enum standings_by by,
                         struct table_caption caption) {
    struct table_cell cells[RANKING_CELLS];
    if (!board_table_is_ranking(by)) {
        table_begin(t, p, "plain", "board plain", caption, plain_cells);
        return;
    }
    memcpy(cells, ranking_cells, sizeof cells);
    for (struct table_cell *cell = cells; cell->key != NULL; cell++) {
        if (by == BY_CLASS && strcmp(cell->key, "era") == 0)
            cell->words = "overall";
    }
    table_begin(t, p, "board", "board", caption, cells);
}

/* A row can be jumped to by its car, where the car stands on the page once. A car of several groups
 * is found in its first one; its row in another has the group's place behind the number, so that
 * ids differ. */
static void begin_row(struct page *p, const struct standings *st, const struct standings_group *g,
                      int car) {
    const struct entry *entry = &p->event->entries->list[car];
    if (st->group_count > 1 && !board_table_is_ranking(st->by)) {
        textbuf_puts(&p->m, "<tr>");
        return;
    }
    textbuf_puts(&p->m, "<tr id=\"n");
    textbuf_int(&p->m, entry->number);
    if (st->by == BY_GROUP && (entry->groups & ((UINT64_C(1) << g->index) - 1)) != 0)
        textbuf_printf(&p->m, "-%d", g->index);
    textbuf_puts(&p->m, "\">");
}

static void write_rows(const struct table *t, const struct board_view *board,
                       const struct standings_group *g, const struct standing *rows, int count,
                       bool pending) {
    for (int i = 0; i < count; i++) {
        int car = rows[i].car;
        if (!fits(t->page, car))
            continue;
        bool known = standings_known(board->st, g, car);
        begin_row(t->page, board->st, g, car);
        table_cells(t, car,
                    &(struct board_row){.board = board,
                                        .group = g,
                                        .standing = &rows[i],
                                        .known = known,
                                        .pending = pending});
    }
    table_end(t->page);
}

static void write_others(struct page *p, const struct board_view *board,
                         const struct standings_group *g, bool pending) {
    const struct standing *rows = pending ? g->pending : g->unplaced;
    int count = pending ? g->pending_count : g->unplaced_count;
    struct table t;
    if (count_fitting(p, rows, count) == 0)
        return;
    table_begin(&t, p, "others", pending ? "others pending" : "others",
                caption_text(said(p, pending ? "still-awaited" : "without-place")), others_cells);
    write_rows(&t, board, g, rows, count, pending);
}

void board_table_write(struct page *p, const struct board_view *board,
                       const struct standings_group *g, struct table_caption caption) {
    struct table t;
    begin_placed(&t, p, board->st->by, caption);
    write_rows(&t, board, g, g->placed, g->placed_count, false);
    write_others(p, board, g, true);
    write_others(p, board, g, false);
}

/* ---- teams ---- */

static const struct team_standing *team_of(const struct table_row *row) {
    return row->of;
}

/* A dash where the team has no place. */
static void write_team_place(struct page *p, const struct table_row *row) {
    if (team_of(row)->position > 0)
        cell_place(p, team_of(row)->position, team_of(row)->equal);
    else
        textbuf_puts(&p->m, "<td>–</td>");
}

static void write_team(struct page *p, const struct table_row *row) {
    textbuf_puts(&p->m, "<th scope=\"row\">");
    html_text(&p->m, p->event->entries->teams[team_of(row)->team]);
    textbuf_puts(&p->m, "</th>");
}

static void write_team_penalty(struct page *p, const struct table_row *row) {
    cell_penalty(p, team_of(row)->penalty);
}

static void write_team_fails(struct page *p, const struct table_row *row) {
    cell_fails(p, team_of(row)->fails);
}

static void write_team_cars(struct page *p, const struct table_row *row) {
    const struct team_standing *team = team_of(row);
    textbuf_puts(&p->m, "<td>");
    for (int i = 0; i < team->car_count; i++) {
        int number = p->event->entries->list[team->cars[i]].number;
        textbuf_puts(&p->m, i > 0 ? ", <a " : "<a ");
        page_href(p, "cars/%d", number);
        textbuf_printf(&p->m, ">%d</a>", number);
    }
    textbuf_puts(&p->m, "</td>");
}

void board_table_write_teams(struct page *p, const struct standings *st) {
    const struct table_cell cells[] = {
        {"place", .write = write_team_place},
        {"team", .write = write_team, .words = p->rules->scoring.teams_by_club ? "club" : NULL},
        {"penalty", .write = write_team_penalty},
        {"fails", .write = write_team_fails},
        {"cars", .write = write_team_cars},
        {.key = NULL}};
    struct table t;
    table_begin(&t, p, "teams", "teams", caption_text(said(p, board_table_teams_key(p))), cells);
    for (int i = 0; i < st->team_count; i++) {
        textbuf_puts(&p->m, "<tr>");
        table_cells(&t, -1, &st->teams[i]);
    }
    table_end(p);
}

/* ---- figures ---- */

static void tell_column(struct page *p, const struct board_view *board,
                        const struct standings_group *g, const char *name, cell_writer *tell) {
    json_line(&p->m);
    json_member_array(&p->m, name);
    for (int i = 0; i < g->placed_count; i++)
        tell(p, &(struct table_row){g->placed[i].car, &(struct board_row){.board = board,
                                                                          .group = g,
                                                                          .standing = &g->placed[i],
                                                                          .known = true}});
    json_close_array(&p->m);
}

/* "22 retired" for each. */
static void tell_others(struct page *p, const struct board_view *board, const char *name,
                        const struct standing *rows, int count) {
    json_line(&p->m);
    json_member_array(&p->m, name);
    for (int i = 0; i < count; i++) {
        size_t from = json_open_text(&p->m);
        textbuf_int(&p->m, p->event->entries->list[rows[i].car].number);
        textbuf_putc(&p->m, ' ');
        textbuf_puts(&p->m, status_word(board->st->scores->cars[rows[i].car].status));
        json_close_text(&p->m, from);
    }
    json_close_array(&p->m);
}

/* In the order of the standings fails only grow. */
static bool fails_differ(const struct standings_group *g) {
    return g->placed_count > 0 && g->placed[g->placed_count - 1].behind_leader.fails != 0;
}

void board_table_tell(struct page *p, const struct board_view *board,
                      const struct standings_group *g) {
    bool gaps = fails_differ(g);
    for (const struct table_cell *cell = ranking_cells; cell->key != NULL; cell++) {
        bool is_gap = cell->tell == tell_to_leader || cell->tell == tell_to_ahead;
        if (cell->figure != NULL && (gaps || !is_gap))
            tell_column(p, board, g, cell->figure, cell->tell);
    }
    tell_column(p, board, g, "rulings", tell_rulings);
    tell_others(p, board, "pending", g->pending, g->pending_count);
    tell_others(p, board, "unplaced", g->unplaced, g->unplaced_count);
}
