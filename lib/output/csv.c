/* SPDX-License-Identifier: MIT */
#include <string.h>

#include "base/err.h"
#include "event/kind.h"
#include "event/shown.h"
#include "format/csv.h"
#include "output/decision_row.h"
#include "output/output.h"
#include "scoring/explain.h"

/* Nothing where there is no such number. */
static void write_number(struct textbuf *b, int64_t number, bool there) {
    if (there)
        textbuf_int(b, number);
}

static void write_row(struct textbuf *b, const struct standings *st,
                      const struct standings_group *group, const struct standing *row,
                      const char *list) {
    const struct scores *scores = st->scores;
    const struct rules *rules = scores->event->rules;
    const struct scoring *scoring = &rules->scoring;
    const struct entry *e = &scores->event->entries->list[row->car];
    const struct car_score *score = &scores->cars[row->car];
    bool placed = strcmp(list, "standings") == 0;
    if (st->by != BY_OVERALL) {
        struct textbuf id = {0};
        output_group_id(&id, rules, st->by, group->index);
        csv_write_text(b, textbuf_text(&id));
        textbuf_putc(b, ',');
        b->failed = b->failed || id.failed;
        textbuf_clear(&id);
    }
    textbuf_printf(b, "%s,", list);
    write_number(b, row->position, placed);
    textbuf_printf(b, ",%s,%d,", placed && row->equal ? "yes" : "no", e->number);
    csv_write_text(b, e->driver);
    textbuf_putc(b, ',');
    csv_write_text(b, e->navigator);
    textbuf_putc(b, ',');
    csv_write_text(b, e->make);
    textbuf_putc(b, ',');
    csv_write_text(b, e->model);
    textbuf_printf(b, ",%d,", e->year);
    rules_class_id(rules, e->class_index, b);
    textbuf_putc(b, ',');
    write_number(b, score->class_position, score->class_position > 0);
    textbuf_printf(b, ",%d,", row->fails);
    shown_write_penalty(b, scoring, row->penalty);
    textbuf_putc(b, ',');
    if (placed && row->behind_leader.fails == 0)
        shown_write_penalty(b, scoring, row->behind_leader.penalty);
    textbuf_putc(b, ',');
    if (placed && row->behind_next.fails == 0)
        shown_write_penalty(b, scoring, row->behind_next.penalty);
    textbuf_putc(b, ',');
    write_number(b, row->behind_leader.fails, placed);
    textbuf_putc(b, ',');
    write_number(b, row->behind_next.fails, placed);
    for (int d = 0; d <= scores->view->last_day; d++) {
        textbuf_putc(b, ',');
        shown_write_penalty(b, scoring, score->day_penalty[d]);
    }
    textbuf_printf(b, ",%s,%s,%d,%d\r\n",
                   score->through >= 0 ? rules->points[score->through].id : "",
                   status_word(score->status), score->awaiting, score->doubtful);
}

static void write_teams(struct textbuf *b, const struct standings *st) {
    const struct entries *entries = st->scores->event->entries;
    const struct scoring *scoring = &st->scores->event->rules->scoring;
    textbuf_puts(b, "position,equal,team,fails,penalty,cars\r\n");
    for (int i = 0; i < st->team_count; i++) {
        const struct team_standing *team = &st->teams[i];
        write_number(b, team->position, i < st->teams_placed);
        textbuf_printf(b, ",%s,", team->equal ? "yes" : "no");
        csv_write_text(b, entries->teams[team->team]);
        textbuf_printf(b, ",%d,", team->fails);
        shown_write_penalty(b, scoring, team->penalty);
        textbuf_putc(b, ',');
        for (int c = 0; c < team->car_count; c++)
            textbuf_printf(b, "%s%d", c > 0 ? " " : "", entries->list[team->cars[c]].number);
        textbuf_puts(b, "\r\n");
    }
}

void output_standings_csv(struct textbuf *b, const struct standings *st,
                          const struct output_head *head) {
    (void)head;
    if (st->by == BY_TEAM) {
        write_teams(b, st);
        return;
    }
    if (st->by != BY_OVERALL)
        textbuf_printf(b, "%s,", by_word(st->by));
    textbuf_puts(b,
                 "list,position,equal,car,driver,navigator,make,model,year,class,class_position,"
                 "fails,penalty,behind_leader,behind_next,fails_behind_leader,fails_behind_next");
    for (int d = 0; d <= st->scores->view->last_day; d++)
        textbuf_printf(b, ",day_%d", d + 1);
    textbuf_puts(b, ",through,status,awaiting,doubtful\r\n");
    for (int i = 0; i < st->group_count; i++) {
        const struct standings_group *g = &st->groups[i];
        for (int r = 0; r < g->placed_count; r++)
            write_row(b, st, g, &g->placed[r], "standings");
        for (int r = 0; r < g->unplaced_count; r++)
            write_row(b, st, g, &g->unplaced[r], "unplaced");
        for (int r = 0; r < g->pending_count; r++)
            write_row(b, st, g, &g->pending[r], "pending");
    }
}

static void write_time(struct textbuf *b, int64_t ms, int64_t unit) {
    textbuf_putc(b, ',');
    if (ms != TIME_NONE)
        time_write(b, ms, unit_decimals(unit));
}

static void write_decision_rows(struct textbuf *b, const struct scores *scores,
                                const struct score_sheet *sheet, int scored) {
    struct textbuf why = {0};
    struct decision_row row;
    for (int at = 0; decision_row_next(scores, sheet, scored, &at, &row);) {
        textbuf_printf(b, "%d,%s,%s,%d,,,,,", scores->event->entries->list[sheet->car].number,
                       row.point, row.kind, row.item->day + 1);
        shown_write_penalty(b, &scores->event->rules->scoring, row.penalty);
        textbuf_printf(b, ",%d,%s,", row.fails, state_word(row.state));
        textbuf_reset(&why);
        decision_row_explain(&why, &row);
        csv_write_text(b, textbuf_text(&why));
        textbuf_puts(b, "\r\n");
    }
    b->failed = b->failed || why.failed;
    textbuf_clear(&why);
}

void output_card_csv(struct textbuf *b, const struct scores *scores, int car,
                     const struct output_head *head) {
    const struct rules *rules = scores->event->rules;
    const struct scoring *scoring = &rules->scoring;
    struct score_sheet sheet;
    struct textbuf why = {0};
    if (scores_sheet(scores, car, &sheet) != ERR_OK) {
        b->failed = true;
        score_sheet_clear(&sheet);
        return;
    }
    (void)head;
    textbuf_puts(b,
                 "car,point,kind,day,scheduled,due,actual,deviation,penalty,fails,state,why\r\n");
    for (int i = 0; i < rules->scored_count; i++) {
        const struct scored_point *sp = &sheet.scored[i];
        if (!score_sheet_shows(&sheet, i))
            continue;
        struct explain_context context = explain_context_of(&sheet, i);
        const struct item *item = context.item;
        textbuf_printf(b, "%d,%s,%s,%d", scores->event->entries->list[car].number,
                       rules->scored[i].id, kind_name(item->kind), item->day + 1);
        int64_t precision = item_rule(item, i)->precision;
        write_time(b, sp->scheduled, precision);
        write_time(b, sp->due, precision);
        write_time(b, sp->actual, precision);
        write_time(b, sp->deviation, precision);
        textbuf_putc(b, ',');
        if (scored_point_is_known(sp))
            shown_write_penalty(b, scoring, sp->penalty);
        textbuf_printf(b, ",%d,%s,", sp->fails, state_word(sp->state));
        textbuf_reset(&why);
        explain_point(&why, &context);
        csv_write_text(b, textbuf_text(&why));
        textbuf_puts(b, "\r\n");
        write_decision_rows(b, scores, &sheet, i);
    }
    b->failed = b->failed || why.failed;
    textbuf_clear(&why);
    score_sheet_clear(&sheet);
}
