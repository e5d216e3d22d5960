/* SPDX-License-Identifier: MIT */
#include "base/err.h"
#include "event/kind.h"
#include "format/json_write.h"
#include "output/decision_row.h"
#include "output/output.h"
#include "scoring/explain.h"

/* Opens the object.
 *   status_key  the key of the event's status; a card has the car's under "status" */
static void open_document(struct textbuf *b, const struct rules *rules,
                          const struct output_head *head, const char *status_key) {
    json_open_object(b);
    json_member_text(b, "event", rules->slug);
    json_member_text(b, status_key, head->status);
    json_member_int(b, "revision", head->revision);
    json_member_text_or_null(b, "after", head->after);
}

static void write_rows(struct textbuf *b, const struct scores *scores, const char *key,
                       const struct standing *rows, int count, bool placed) {
    json_member_array(b, key);
    for (int i = 0; i < count; i++) {
        json_line(b);
        output_row_json(b, scores, &rows[i], placed);
    }
    json_close_array(b);
}

static void write_lists(struct textbuf *b, const struct standings *st,
                        const struct standings_group *group) {
    json_line(b);
    write_rows(b, st->scores, "standings", group->placed, group->placed_count, true);
    json_line(b);
    write_rows(b, st->scores, "unplaced", group->unplaced, group->unplaced_count, false);
    if (st->with_pending) {
        json_line(b);
        write_rows(b, st->scores, "pending", group->pending, group->pending_count, false);
    }
}

static void write_group_id(struct textbuf *b, const struct rules *rules, enum standings_by by,
                           int index) {
    json_key(b, by_word(by));
    if (by == BY_DAY) {
        json_write_int(b, index + 1);
        return;
    }
    size_t from = json_open_text(b);
    output_group_id(b, rules, by, index);
    json_close_text(b, from);
}

static void write_group(struct textbuf *b, const struct standings *st,
                        const struct standings_group *group) {
    json_open_object(b);
    write_group_id(b, st->scores->event->rules, st->by, group->index);
    json_key(b, "name");
    size_t from = json_open_text(b);
    output_group_name(b, st->scores->event->rules, st->by, group->index);
    json_close_text(b, from);
    write_lists(b, st, group);
    json_close_object(b);
}

static void write_team(struct textbuf *b, const struct standings *st,
                       const struct team_standing *team, bool placed) {
    const struct entries *entries = st->scores->event->entries;
    json_open_object(b);
    json_member_positive(b, "position", placed ? team->position : 0);
    json_member_bool(b, "equal", team->equal);
    json_member_text(b, "team", entries->teams[team->team]);
    json_member_int(b, "fails", team->fails);
    json_member_decimal(b, "penalty", team->penalty);
    json_member_array(b, "cars");
    for (int i = 0; i < team->car_count; i++)
        json_write_int(b, entries->list[team->cars[i]].number);
    json_close_array(b);
    json_close_object(b);
}

/* The teams from `from` to the one before `to`. */
static void write_teams(struct textbuf *b, const struct standings *st, const char *key, int from,
                        int to, bool placed) {
    json_line(b);
    json_member_array(b, key);
    for (int i = from; i < to; i++) {
        json_line(b);
        write_team(b, st, &st->teams[i], placed);
    }
    json_close_array(b);
}

void output_standings_json(struct textbuf *b, const struct standings *st,
                           const struct output_head *head) {
    open_document(b, st->scores->event->rules, head, "status");
    json_member_text(b, "by", by_word(st->by));
    if (st->by == BY_TEAM) {
        write_teams(b, st, "standings", 0, st->teams_placed, true);
        write_teams(b, st, "unplaced", st->teams_placed, st->team_count, false);
    } else if (st->by == BY_OVERALL) {
        write_lists(b, st, &st->groups[0]);
    } else {
        json_line(b);
        json_member_array(b, "groups");
        for (int i = 0; i < st->group_count; i++) {
            json_line(b);
            write_group(b, st, &st->groups[i]);
        }
        json_close_array(b);
    }
    json_close_document(b);
}

void output_point_json(struct textbuf *b, const struct scores *scores,
                       const struct score_sheet *sheet, int scored) {
    const struct rules *rules = scores->event->rules;
    const struct scored_point *sp = &sheet->scored[scored];
    struct explain_context context = explain_context_of(sheet, scored);
    const struct item *item = context.item;
    int decimals = unit_decimals(item_rule(item, scored)->precision);
    json_open_object(b);
    json_member_text(b, "point", rules->scored[scored].id);
    json_member_text(b, "kind", kind_name(item->kind));
    json_member_int(b, "day", item->day + 1);
    json_member_time(b, "scheduled", sp->scheduled, decimals);
    json_member_time(b, "due", sp->due, decimals);
    json_member_time(b, "actual", sp->actual, decimals);
    json_member_time(b, "deviation", sp->deviation, decimals);
    json_member_decimal(b, "penalty", sp->penalty);
    json_member_int(b, "fails", sp->fails);
    json_member_text(b, "state", state_word(sp->state));
    json_key(b, "why");
    size_t from = json_open_text(b);
    explain_point(b, &context);
    json_close_text(b, from);
    json_close_object(b);
}

static void write_decision_rows(struct textbuf *b, const struct scores *scores,
                                const struct score_sheet *sheet, int scored) {
    static const char *const times[] = {"scheduled", "due", "actual", "deviation"};
    struct decision_row row;
    for (int at = 0; decision_row_next(scores, sheet, scored, &at, &row);) {
        json_line(b);
        json_open_object(b);
        json_member_text(b, "point", row.point);
        json_member_text(b, "kind", row.kind);
        json_member_int(b, "day", row.item->day + 1);
        for (size_t i = 0; i < sizeof times / sizeof *times; i++)
            json_member_null(b, times[i]);
        json_member_decimal(b, "penalty", row.penalty);
        json_member_int(b, "fails", row.fails);
        json_member_text(b, "state", state_word(row.state));
        json_key(b, "why");
        size_t from = json_open_text(b);
        decision_row_explain(b, &row);
        json_close_text(b, from);
        json_close_object(b);
    }
}

static void write_step(void *context, const struct total_step *step) {
    struct textbuf *b = context;
    json_line(b);
    json_open_object(b);
    json_member_text(b, "of", step->of);
    if (step->to_come)
        json_member_null(b, "penalty");
    else
        json_member_decimal(b, "penalty", step->penalty);
    json_member_int(b, "fails", step->fails);
    json_member_text(b, "why", step->why);
    json_close_object(b);
}

void output_card_json(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head) {
    const struct rules *rules = scores->event->rules;
    struct score_sheet sheet;
    struct standing row = output_overall_row(scores, car);
    if (scores_sheet(scores, car, &sheet) != ERR_OK) {
        b->failed = true;
        score_sheet_clear(&sheet);
        return;
    }
    open_document(b, rules, head, "event_status");
    json_line(b);
    output_row_members(b, scores, &row, row.position > 0);
    json_line(b);
    json_member_array(b, "points");
    for (int i = 0; i < rules->scored_count; i++) {
        if (!score_sheet_shows(&sheet, i))
            continue;
        json_line(b);
        output_point_json(b, scores, &sheet, i);
        write_decision_rows(b, scores, &sheet, i);
    }
    json_close_array(b);
    json_line(b);
    json_member_array(b, "total");
    if (output_total_steps(scores, &sheet, car, write_step, b) != ERR_OK)
        b->failed = true;
    json_close_array(b);
    json_close_document(b);
    score_sheet_clear(&sheet);
}
