/* SPDX-License-Identifier: MIT */
#include "base/decimal.h"
#include "base/err.h"
#include "event/kind.h"
#include "output/output.h"
#include "scoring/explain.h"

/* `status_key` tells the event's status apart from that of a car in one object. */
static void write_head(struct textbuf *b, const struct rules *rules, const struct output_head *head,
                       const char *status_key) {
    textbuf_puts(b, "{\"event\":");
    json_write_text(b, rules->slug);
    textbuf_printf(b, ",\"%s\":\"%s\",\"revision\":%lld,\"after\":", status_key, head->status,
                   (long long)head->revision);
    if (head->after != NULL)
        json_write_text(b, head->after);
    else
        textbuf_puts(b, "null");
}

static void write_rows(struct textbuf *b, const struct scores *scores, const char *key,
                       const struct standing *rows, int count, bool placed) {
    textbuf_printf(b, "\"%s\":[", key);
    for (int i = 0; i < count; i++) {
        textbuf_puts(b, i > 0 ? ",\n" : "\n");
        output_row_json(b, scores, &rows[i], placed);
    }
    textbuf_putc(b, ']');
}

static void write_lists(struct textbuf *b, const struct standings *st,
                        const struct standings_group *group) {
    write_rows(b, st->scores, "standings", group->placed, group->placed_count, true);
    textbuf_puts(b, ",\n");
    write_rows(b, st->scores, "unplaced", group->unplaced, group->unplaced_count, false);
    if (st->with_pending) {
        textbuf_puts(b, ",\n");
        write_rows(b, st->scores, "pending", group->pending, group->pending_count, false);
    }
}

static void write_group(struct textbuf *b, const struct standings *st,
                        const struct standings_group *group) {
    const struct rules *rules = st->scores->event->rules;
    struct textbuf name = {0};
    switch (st->by) {
    case BY_CLASS:
        textbuf_puts(b, "{\"class\":\"");
        rules_class_id(rules, group->index, b);
        textbuf_puts(b, "\",");
        break;
    case BY_CATEGORY:
        textbuf_puts(b, "{\"category\":");
        json_write_text(b, rules->categories[group->index].id);
        textbuf_putc(b, ',');
        break;
    case BY_DAY:
        textbuf_printf(b, "{\"day\":%d,", group->index + 1);
        break;
    default:
        textbuf_puts(b, "{\"test\":");
        json_write_text(b, rules->items[group->index].id);
        textbuf_putc(b, ',');
        break;
    }
    output_group_name(&name, st, group);
    textbuf_puts(b, "\"name\":");
    json_write_text(b, textbuf_text(&name));
    textbuf_puts(b, ",\n");
    b->failed = b->failed || name.failed;
    textbuf_clear(&name);
    write_lists(b, st, group);
    textbuf_putc(b, '}');
}

static void write_team(struct textbuf *b, const struct standings *st,
                       const struct team_standing *team, bool placed) {
    const struct entries *entries = st->scores->event->entries;
    if (placed)
        textbuf_printf(b, "{\"position\":%d", team->position);
    else
        textbuf_puts(b, "{\"position\":null");
    textbuf_printf(b, ",\"equal\":%s,\"team\":", team->equal ? "true" : "false");
    json_write_text(b, entries->teams[team->team]);
    textbuf_printf(b, ",\"fails\":%d,\"penalty\":\"", team->fails);
    decimal_write(b, team->penalty);
    textbuf_puts(b, "\",\"cars\":[");
    for (int i = 0; i < team->car_count; i++) {
        if (i > 0)
            textbuf_putc(b, ',');
        textbuf_int(b, entries->list[team->cars[i]].number);
    }
    textbuf_puts(b, "]}");
}

static void write_teams(struct textbuf *b, const struct standings *st) {
    textbuf_puts(b, "\"standings\":[");
    for (int i = 0; i < st->teams_placed; i++) {
        textbuf_puts(b, i > 0 ? ",\n" : "\n");
        write_team(b, st, &st->teams[i], true);
    }
    textbuf_puts(b, "],\n\"unplaced\":[");
    for (int i = st->teams_placed; i < st->team_count; i++) {
        textbuf_puts(b, i > st->teams_placed ? ",\n" : "\n");
        write_team(b, st, &st->teams[i], false);
    }
    textbuf_putc(b, ']');
}

void output_standings_json(struct textbuf *b, const struct standings *st,
                           const struct output_head *head) {
    write_head(b, st->scores->event->rules, head, "status");
    textbuf_printf(b, ",\"by\":\"%s\",\n", by_word(st->by));
    if (st->by == BY_TEAM) {
        write_teams(b, st);
    } else if (st->by == BY_OVERALL) {
        write_lists(b, st, &st->groups[0]);
    } else {
        textbuf_puts(b, "\"groups\":[");
        for (int i = 0; i < st->group_count; i++) {
            textbuf_puts(b, i > 0 ? ",\n" : "\n");
            write_group(b, st, &st->groups[i]);
        }
        textbuf_putc(b, ']');
    }
    textbuf_puts(b, "}\n");
}

static void write_time(struct textbuf *b, const char *key, int64_t ms, enum time_unit unit) {
    textbuf_printf(b, ",\"%s\":", key);
    if (ms == TIME_NONE) {
        textbuf_puts(b, "null");
        return;
    }
    textbuf_putc(b, '"');
    time_write(b, ms, unit_decimals(unit));
    textbuf_putc(b, '"');
}

static void write_point(struct textbuf *b, const struct scores *scores,
                        const struct score_sheet *sheet, int scored, struct textbuf *why) {
    const struct rules *rules = scores->event->rules;
    const struct item *item = &rules->items[rules->scored[scored].item];
    const struct scored_point *w = &sheet->workings[scored];
    enum time_unit unit = item->rule.precision;
    struct story story = {scores->event, scores->view, sheet, item, scored};
    textbuf_reset(why);
    explain_point(why, &story);
    textbuf_puts(b, "{\"point\":");
    json_write_text(b, rules->scored[scored].id);
    textbuf_printf(b, ",\"kind\":\"%s\",\"day\":%d", kind_name(item->kind), item->day + 1);
    write_time(b, "scheduled", w->scheduled, unit);
    write_time(b, "due", w->due, unit);
    write_time(b, "actual", w->actual, unit);
    write_time(b, "deviation", w->deviation, unit);
    textbuf_puts(b, ",\"penalty\":\"");
    decimal_write(b, w->penalty);
    textbuf_printf(b, "\",\"fails\":%d,\"state\":\"%s\",\"why\":", w->fails, state_word(w->state));
    json_write_text(b, textbuf_text(why));
    textbuf_putc(b, '}');
}

void output_point_json(struct textbuf *b, const struct scores *scores,
                       const struct score_sheet *sheet, int scored) {
    struct textbuf why = {0};
    write_point(b, scores, sheet, scored, &why);
    b->failed = b->failed || why.failed;
    textbuf_clear(&why);
}

struct step_writer {
    struct textbuf *b;
    bool first;
};

static void write_step(void *context, const struct total_step *step) {
    struct step_writer *writer = context;
    textbuf_puts(writer->b, writer->first ? "\n" : ",\n");
    writer->first = false;
    textbuf_puts(writer->b, "{\"of\":");
    json_write_text(writer->b, step->of);
    if (step->to_come) {
        textbuf_puts(writer->b, ",\"penalty\":null");
    } else {
        textbuf_puts(writer->b, ",\"penalty\":\"");
        decimal_write(writer->b, step->penalty);
        textbuf_putc(writer->b, '"');
    }
    textbuf_printf(writer->b, ",\"fails\":%d,\"why\":", step->fails);
    json_write_text(writer->b, step->why);
    textbuf_putc(writer->b, '}');
}

void output_card_json(struct textbuf *b, const struct scores *scores, int car,
                      const struct output_head *head) {
    const struct rules *rules = scores->event->rules;
    struct score_sheet sheet;
    struct standing row = output_overall_row(scores, car);
    struct textbuf why = {0};
    struct textbuf row_text = {0};
    bool first = true;
    if (scores_sheet(scores, car, &sheet) != ERR_OK) {
        b->failed = true;
        score_sheet_clear(&sheet);
        return;
    }
    write_head(b, rules, head, "event_status");
    textbuf_puts(b, ",\n");
    output_row_json(&row_text, scores, &row, row.position > 0);
    /* The row's members stand in the card itself. */
    if (row_text.len > 2)
        textbuf_add(b, row_text.bytes + 1, row_text.len - 2);
    textbuf_puts(b, ",\n\"points\":[");
    for (int i = 0; i < rules->scored_count; i++) {
        if (!scores->view->visible[rules->scored[i].item])
            continue;
        textbuf_puts(b, first ? "\n" : ",\n");
        first = false;
        write_point(b, scores, &sheet, i, &why);
    }
    textbuf_puts(b, "],\n\"total\":[");
    struct step_writer writer = {b, true};
    if (output_total_steps(scores, &sheet, car, write_step, &writer) != ERR_OK)
        b->failed = true;
    textbuf_puts(b, "]}\n");
    b->failed = b->failed || why.failed || row_text.failed;
    textbuf_clear(&why);
    textbuf_clear(&row_text);
    score_sheet_clear(&sheet);
}
