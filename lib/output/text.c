/* SPDX-License-Identifier: MIT */
/* Standings and cards as plain text, for a terminal or a notice board. */
#include <string.h>

#include "base/err.h"
#include "base/utf8.h"
#include "event/entry_words.h"
#include "event/kind.h"
#include "event/shown.h"
#include "format/text_table.h"
#include "output/decision_row.h"
#include "output/output.h"
#include "scoring/explain.h"
#include "scoring/totals.h"

static bool costs_fails(const struct penalty_rule *rule) {
    return rule->missed_fails > 0 || rule->fails[SIDE_EARLY] > 0 || rule->fails[SIDE_LATE] > 0;
}

static const struct scoring *scoring_of(const struct scores *scores) {
    return &scores->event->rules->scoring;
}

/* True where there is a column for fails. Beside a penalty as time they are words. Only items that
 * are shown are looked at: a column for the fails of a hidden one would give it away. */
static bool has_fails(const struct scores *scores) {
    const struct rules *rules = scores->event->rules;
    if (rules->scoring.shown_as_time)
        return false;
    for (int car = 0; car < scores->event->entries->count; car++) {
        if (scores->cars[car].tally[BASIS_CORRECTED].fails > 0)
            return true;
    }
    for (int i = 0; i < rules->item_count; i++) {
        if (scores->view->hidden[i])
            continue;
        const struct item *item = &rules->items[i];
        for (int n = 0; n < item->scored_count; n++) {
            if (costs_fails(item_rule(item, item->first_scored + n)))
                return true;
        }
    }
    return false;
}

/* Those of a test that counts for ties alone are in no total. They grow along the list. */
static bool group_has_fails(const struct scoring *scoring, const struct standings_group *group) {
    return !scoring->shown_as_time && group->placed_count > 0 &&
           group->placed[group->placed_count - 1].fails > 0;
}

/* The car's own cells, alike in every list. */
static void car_cells(struct text_table *table, const struct scores *scores, int car,
                      struct textbuf *cell) {
    const struct entry *e = &scores->event->entries->list[car];
    textbuf_int(cell, e->number);
    text_table_cell(table, cell);
    entry_crew_words(cell, e);
    text_table_cell(table, cell);
    entry_vehicle_words(cell, e);
    text_table_cell(table, cell);
    textbuf_int(cell, e->year);
    text_table_cell(table, cell);
    rules_class_id(scores->event->rules, e->class_index, cell);
    text_table_cell(table, cell);
}

static void write_notes(struct textbuf *b, const struct car_score *score) {
    const char *gap = "";
    if (score->awaiting > 0) {
        textbuf_printf(b, "%d awaited", score->awaiting);
        gap = ", ";
    }
    if (score->doubtful > 0)
        textbuf_printf(b, "%s%d doubtful", gap, score->doubtful);
}

/* A dash where it is not known yet: 0.000 would look like a result. */
static void write_figure(struct textbuf *b, const struct scoring *scoring, int64_t penalty,
                         bool known) {
    if (known)
        shown_write_penalty(b, scoring, penalty);
    else
        textbuf_puts(b, "–");
}

static void write_fails(struct textbuf *b, int fails) {
    textbuf_printf(b, "%d fail%s", fails, fails == 1 ? "" : "s");
}

/* A sum: as time it has its fails beside it, else they have a column of their own. */
static void write_sum(struct textbuf *b, const struct scoring *scoring, int fails, int64_t penalty,
                      bool known) {
    write_figure(b, scoring, penalty, known);
    if (scoring->shown_as_time && fails > 0) {
        textbuf_puts(b, ", ");
        write_fails(b, fails);
    }
}

static void write_gap(struct textbuf *b, const struct scoring *scoring, struct gap gap,
                      bool known) {
    if (gap.fails == 0 || !known)
        write_figure(b, scoring, gap.penalty, known);
    else
        write_fails(b, gap.fails);
}

static void write_placed(struct textbuf *b, const struct standings *st,
                         const struct standings_group *group) {
    struct text_table table = {0};
    struct textbuf cell = {0};
    const struct scoring *scoring = scoring_of(st->scores);
    bool fails = has_fails(st->scores) || group_has_fails(scoring, group);
    static const char *const heads[] = {"Place", "Car", "Crew", "Vehicle", "Year", "Class"};
    for (int i = 0; i < 6; i++)
        text_table_column(&table, heads[i], i != 2 && i != 3 && i != 5);
    if (fails)
        text_table_column(&table, "Fails", true);
    text_table_column(&table, "Penalty", true);
    text_table_column(&table, "To leader", true);
    text_table_column(&table, "To next", true);
    text_table_column(&table, "Note", false);
    for (int i = 0; i < group->placed_count; i++) {
        const struct standing *row = &group->placed[i];
        textbuf_printf(&cell, "%s%d", row->equal ? "=" : "", row->position);
        text_table_cell(&table, &cell);
        car_cells(&table, st->scores, row->car, &cell);
        if (fails) {
            textbuf_int(&cell, row->fails);
            text_table_cell(&table, &cell);
        }
        bool known = standings_known(st, group, row->car);
        write_sum(&cell, scoring, row->fails, row->penalty, known);
        text_table_cell(&table, &cell);
        write_gap(&cell, scoring, row->behind_leader, known);
        text_table_cell(&table, &cell);
        write_gap(&cell, scoring, row->behind_next, known);
        text_table_cell(&table, &cell);
        write_notes(&cell, &st->scores->cars[row->car]);
        text_table_cell(&table, &cell);
    }
    text_table_write(&table, b);
    textbuf_clear(&cell);
}

/* Why a car has no place. */
static void write_reason(struct textbuf *b, const struct standings *st, const struct standing *row,
                         bool pending) {
    const struct scores *scores = st->scores;
    const struct car_score *score = &scores->cars[row->car];
    const struct car_rulings *rulings = &scores->event->rulings->cars[row->car];
    if (pending) {
        textbuf_puts(b, "still awaited");
        return;
    }
    if (status_is_placed(score->status)) {
        textbuf_puts(b,
                     st->by == BY_TEST ? "absent from this test" : "outside this classification");
        return;
    }
    textbuf_puts(b, status_word(score->status));
    const struct decision *d = NULL;
    if (score->status == STATUS_DISQUALIFIED) {
        d = rulings->disqualified;
    } else if ((score->status == STATUS_RETIRED || score->status == STATUS_NOT_STARTED) &&
               rulings->retirement_count > 0) {
        const struct retirement *last = &rulings->retirements[rulings->retirement_count - 1];
        /* The reason of a retirement at a hidden item may give it away. */
        if (last->item < 0 || !scores->view->hidden[last->item])
            d = last->decision;
    }
    if (d != NULL)
        textbuf_printf(b, ": %s", d->text.field[DECISION_REASON]);
}

static void write_others(struct textbuf *b, const struct standings *st, const struct standing *rows,
                         int count, bool pending) {
    struct text_table table = {0};
    struct textbuf cell = {0};
    static const char *const heads[] = {"Car", "Crew", "Vehicle", "Year", "Class", "Reason"};
    for (int i = 0; i < 6; i++)
        text_table_column(&table, heads[i], i == 0 || i == 3);
    for (int i = 0; i < count; i++) {
        car_cells(&table, st->scores, rows[i].car, &cell);
        write_reason(&cell, st, &rows[i], pending);
        text_table_cell(&table, &cell);
    }
    text_table_write(&table, b);
    textbuf_clear(&cell);
}

static void write_group(struct textbuf *b, const struct standings *st,
                        const struct standings_group *group) {
    const struct rules *rules = st->scores->event->rules;
    if (st->by != BY_OVERALL) {
        textbuf_putc(b, '\n');
        if (st->by == BY_CLASS) {
            textbuf_puts(b, "Class ");
            rules_class_id(rules, group->index, b);
            textbuf_puts(b, ", ");
        } else if (st->by == BY_TEST) {
            textbuf_printf(b, "%s ", rules->items[group->index].id);
        }
        output_group_name(b, rules, st->by, group->index);
        textbuf_puts(b, "\n\n");
    }
    if (group->placed_count > 0)
        write_placed(b, st, group);
    if (group->pending_count > 0) {
        textbuf_puts(b, "\nStill awaited\n\n");
        write_others(b, st, group->pending, group->pending_count, true);
    }
    if (group->unplaced_count > 0) {
        textbuf_puts(b, "\nWithout a place\n\n");
        write_others(b, st, group->unplaced, group->unplaced_count, false);
    }
}

static void write_teams(struct textbuf *b, const struct standings *st) {
    struct text_table table = {0};
    struct textbuf cell = {0};
    const struct entries *entries = st->scores->event->entries;
    bool fails = has_fails(st->scores);
    text_table_column(&table, "Place", true);
    text_table_column(&table, scoring_of(st->scores)->teams_by_club ? "Club" : "Team", false);
    if (fails)
        text_table_column(&table, "Fails", true);
    text_table_column(&table, "Penalty", true);
    text_table_column(&table, "Cars", false);
    for (int i = 0; i < st->team_count; i++) {
        const struct team_standing *team = &st->teams[i];
        if (i < st->teams_placed)
            textbuf_printf(&cell, "%s%d", team->equal ? "=" : "", team->position);
        else
            textbuf_puts(&cell, "–");
        text_table_cell(&table, &cell);
        textbuf_puts(&cell, entries->teams[team->team]);
        text_table_cell(&table, &cell);
        if (fails) {
            textbuf_int(&cell, team->fails);
            text_table_cell(&table, &cell);
        }
        write_sum(&cell, scoring_of(st->scores), team->fails, team->penalty, true);
        text_table_cell(&table, &cell);
        for (int c = 0; c < team->car_count; c++)
            textbuf_printf(&cell, "%s%d", c > 0 ? " " : "", entries->list[team->cars[c]].number);
        text_table_cell(&table, &cell);
    }
    text_table_write(&table, b);
    textbuf_clear(&cell);
}

static void write_title(struct textbuf *b, const struct rules *rules, const char *what,
                        const struct output_head *head) {
    textbuf_plain(b, rules->name);
    textbuf_printf(b, "\n%s, %s", what, head->status);
    if (head->after != NULL)
        textbuf_printf(b, ", after %s", head->after);
    textbuf_puts(b, "\n\n");
}

void output_standings_text(struct textbuf *b, const struct standings *st,
                           const struct output_head *head) {
    static const char *const titles[BY_COUNT] = {
        "Overall classification",  "Classification by class", "Classification by category",
        "Classification by group", "Standings by day",        "Results by test",
        "Team classification"};
    bool clubs = st->by == BY_TEAM && scoring_of(st->scores)->teams_by_club;
    write_title(b, st->scores->event->rules, clubs ? "Club classification" : titles[st->by], head);
    if (st->by == BY_TEAM)
        write_teams(b, st);
    for (int i = 0; i < st->group_count; i++)
        write_group(b, st, &st->groups[i]);
}

static void wrap(struct textbuf *b, const char *text, int indent, int width) {
    int column = indent;
    while (*text != '\0') {
        const char *end = strchr(text, ' ');
        size_t len = end == NULL ? strlen(text) : (size_t)(end - text);
        struct textbuf word = {0};
        textbuf_add(&word, text, len);
        int needed = utf8_width(textbuf_text(&word));
        if (column > indent && column + 1 + needed > width) {
            textbuf_putc(b, '\n');
            text_table_pad(b, indent);
            column = indent;
        } else if (column > indent) {
            textbuf_putc(b, ' ');
            column++;
        }
        textbuf_plain(b, textbuf_text(&word));
        b->failed = b->failed || word.failed;
        textbuf_clear(&word);
        column += needed;
        text += len;
        while (*text == ' ')
            text++;
    }
    textbuf_putc(b, '\n');
}

/* The name of a line and its penalty; a dash where that is not known yet. */
static void write_amount(struct textbuf *b, const struct scoring *scoring, const char *name,
                         int64_t penalty, bool known) {
    struct textbuf cell = {0};
    write_figure(&cell, scoring, penalty, known);
    textbuf_printf(b, "  %-12s", name);
    text_table_pad(b, 14 - utf8_width(textbuf_text(&cell)));
    textbuf_printf(b, "%s  ", textbuf_text(&cell));
    b->failed = b->failed || cell.failed;
    textbuf_clear(&cell);
}

/* Where the steps of a total are written. */
struct steps {
    struct textbuf *b;
    const struct scoring *scoring;
};

static void write_step(void *context, const struct total_step *step) {
    const struct steps *steps = context;
    struct textbuf *b = steps->b;
    write_amount(b, steps->scoring, step->of, step->penalty, !step->to_come);
    if (step->fails > 0)
        textbuf_printf(b, "%d fail%s; ", step->fails, step->fails == 1 ? "" : "s");
    wrap(b, step->why, 30, 100);
}

static void write_point(struct textbuf *b, const struct scores *scores,
                        const struct score_sheet *sheet, int scored, struct textbuf *why) {
    const struct rules *rules = scores->event->rules;
    const struct scored_point *sp = &sheet->scored[scored];
    struct explain_context context = explain_context_of(sheet, scored);
    write_amount(b, &rules->scoring, rules->scored[scored].id, sp->penalty,
                 scored_point_is_known(sp));
    textbuf_reset(why);
    textbuf_printf(why, "[%s%s] ", state_word(sp->state), sp->fails > 0 ? ", fail" : "");
    explain_point(why, &context);
    wrap(b, textbuf_text(why), 30, 100);
    struct decision_row row;
    for (int at = 0; decision_row_next(scores, sheet, scored, &at, &row);) {
        write_amount(b, scoring_of(scores), row.point, row.penalty, true);
        textbuf_reset(why);
        textbuf_printf(why, "[%s%s] ", state_word(row.state), row.fails > 0 ? ", fail" : "");
        decision_row_explain(why, &row);
        wrap(b, textbuf_text(why), 30, 100);
    }
}

/* Event, car, crew and vehicle. */
static void write_card_head(struct textbuf *b, const struct scores *scores, int car,
                            const struct output_head *head) {
    const struct rules *rules = scores->event->rules;
    const struct entry *e = &scores->event->entries->list[car];
    struct textbuf line = {0};
    textbuf_printf(&line, "Card of car %d", e->number);
    write_title(b, rules, textbuf_text(&line), head);
    textbuf_reset(&line);
    entry_crew_words(&line, e);
    textbuf_plain(b, textbuf_text(&line));
    textbuf_putc(b, '\n');
    textbuf_reset(&line);
    entry_vehicle_words(&line, e);
    textbuf_plain(b, textbuf_text(&line));
    textbuf_printf(b, ", %d, class ", e->year);
    rules_class_id(rules, e->class_index, b);
    textbuf_putc(b, '\n');
    b->failed = b->failed || line.failed;
    textbuf_clear(&line);
}

static void write_day(struct textbuf *b, const struct scores *scores, int car, int day) {
    const struct rules *rules = scores->event->rules;
    textbuf_printf(b, "\nDay %d, %s, penalty ", day + 1, rules->days[day].date);
    write_figure(b, &rules->scoring, scores->cars[car].day_penalty[day],
                 !totals_day_to_come(scores, car, day));
    textbuf_puts(b, rules->scoring.drop_count > 0 ? ", dropped tests included" : "");
    textbuf_puts(b, rules->scoring.has_coefficient ? ", before the coefficient" : "");
    if (rules->scoring.day_cap != CAP_NONE) {
        textbuf_puts(b, ", at most ");
        shown_write_price(b, &rules->scoring, rules->scoring.day_cap);
    }
    textbuf_putc(b, '\n');
}

static void write_total(struct textbuf *b, const struct scoring *scoring,
                        const struct car_score *score) {
    textbuf_puts(b, "\n  Penalty ");
    shown_write_penalty(b, scoring, score->tally[BASIS_CORRECTED].total);
    if (score->tally[BASIS_CORRECTED].fails > 0)
        textbuf_printf(b, ", fails %d", score->tally[BASIS_CORRECTED].fails);
    textbuf_printf(b, ", %s", status_word(score->status));
    if (score->position > 0)
        textbuf_printf(b, ", place %s%d overall", score->equal ? "=" : "", score->position);
    if (score->class_position > 0)
        textbuf_printf(b, ", %d in class", score->class_position);
    textbuf_putc(b, '\n');
}

void output_card_text(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head) {
    const struct rules *rules = scores->event->rules;
    struct score_sheet sheet;
    struct textbuf why = {0};
    int last_item = -1;
    int last_day = -1;
    if (scores_sheet(scores, car, &sheet) != ERR_OK) {
        b->failed = true;
        score_sheet_clear(&sheet);
        return;
    }
    write_card_head(b, scores, car, head);
    for (int i = 0; i < rules->scored_count; i++) {
        int place = rules->scored[i].item;
        const struct item *item = &rules->items[place];
        if (!score_sheet_shows(&sheet, i))
            continue;
        if (item->day != last_day)
            write_day(b, scores, car, item->day);
        if (place != last_item) {
            textbuf_puts(b, "\n ");
            textbuf_plain(b, item->name);
            textbuf_printf(b, ", %s\n", kind_of(item->kind)->words);
        }
        last_day = item->day;
        last_item = place;
        write_point(b, scores, &sheet, i, &why);
    }
    textbuf_puts(b, "\nTotal\n\n");
    struct steps steps = {b, &rules->scoring};
    if (output_total_steps(scores, &sheet, car, write_step, &steps) != ERR_OK)
        b->failed = true;
    write_total(b, &rules->scoring, &scores->cars[car]);
    b->failed = b->failed || why.failed;
    textbuf_clear(&why);
    score_sheet_clear(&sheet);
}
