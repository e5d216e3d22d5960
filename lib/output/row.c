/* SPDX-License-Identifier: MIT */
/* Pieces that all forms of output share: escaping, rows, names of groups. */
#include <string.h>

#include "base/decimal.h"
#include "event/entry_words.h"
#include "output/output.h"

void json_write_text(struct textbuf *b, const char *text) {
    textbuf_putc(b, '"');
    for (const char *from = text; *text != '\0'; from = text) {
        while (*text != '\0' && (unsigned char)*text >= 0x20 && strchr("\"\\<>&", *text) == NULL)
            text++;
        textbuf_add(b, from, (size_t)(text - from));
        if (*text == '\0')
            break;
        if (*text == '"' || *text == '\\') {
            textbuf_putc(b, '\\');
            textbuf_putc(b, *text);
        } else {
            textbuf_printf(b, "\\u%04x", (unsigned)(unsigned char)*text);
        }
        text++;
    }
    textbuf_putc(b, '"');
}

static void write_penalty(struct textbuf *b, const char *key, int64_t value) {
    textbuf_printf(b, ",\"%s\":\"", key);
    decimal_write(b, value);
    textbuf_putc(b, '"');
}

/* Penalties of cars with different fails are no distance. */
static void write_gap(struct textbuf *b, const char *key, struct gap gap, bool placed) {
    if (placed && gap.fails == 0)
        write_penalty(b, key, gap.penalty);
    else
        textbuf_printf(b, ",\"%s\":null", key);
}

static void write_fails_gap(struct textbuf *b, const char *key, struct gap gap, bool placed) {
    if (placed)
        textbuf_printf(b, ",\"%s\":%d", key, gap.fails);
    else
        textbuf_printf(b, ",\"%s\":null", key);
}

static void write_place(struct textbuf *b, const char *key, int position) {
    textbuf_printf(b, "\"%s\":", key);
    if (position > 0)
        textbuf_int(b, position);
    else
        textbuf_puts(b, "null");
}

static void write_car(struct textbuf *b, const struct scores *scores, int car) {
    const struct entry *e = &scores->event->entries->list[car];
    textbuf_printf(b, ",\"car\":%d,", e->number);
    entry_crew_json(b, e);
    textbuf_putc(b, ',');
    entry_vehicle_json(b, e);
    textbuf_puts(b, ",\"class\":\"");
    rules_class_id(scores->event->rules, e->class_index, b);
    textbuf_putc(b, '"');
}

void output_row_json(struct textbuf *b, const struct scores *scores, const struct standing *row,
                     bool placed) {
    const struct car_score *score = &scores->cars[row->car];
    textbuf_putc(b, '{');
    write_place(b, "position", placed ? row->position : 0);
    textbuf_printf(b, ",\"equal\":%s", placed && row->equal ? "true" : "false");
    write_car(b, scores, row->car);
    textbuf_putc(b, ',');
    write_place(b, "class_position", score->class_position);
    textbuf_printf(b, ",\"fails\":%d", row->fails);
    write_penalty(b, "penalty", row->penalty);
    write_gap(b, "behind_leader", row->behind_leader, placed);
    write_gap(b, "behind_next", row->behind_next, placed);
    write_fails_gap(b, "fails_behind_leader", row->behind_leader, placed);
    write_fails_gap(b, "fails_behind_next", row->behind_next, placed);
    textbuf_puts(b, ",\"days\":[");
    for (int d = 0; d <= scores->view->last_day; d++) {
        textbuf_puts(b, d > 0 ? ",\"" : "\"");
        decimal_write(b, score->day_penalty[d]);
        textbuf_putc(b, '"');
    }
    textbuf_puts(b, "],\"through\":");
    if (score->through >= 0)
        json_write_text(b, scores->event->rules->points[score->through].id);
    else
        textbuf_puts(b, "null");
    textbuf_printf(b, ",\"status\":\"%s\",\"awaiting\":%d,\"doubtful\":%d}",
                   status_word(score->status), score->awaiting, score->doubtful);
}

static struct standing row_of(const struct scores *scores, int car) {
    const struct car_score *score = &scores->cars[car];
    return (struct standing){.car = car,
                             .position = score->position,
                             .equal = score->equal,
                             .fails = score->tally[BASIS_CORRECTED].fails,
                             .penalty = score->tally[BASIS_CORRECTED].total};
}

struct standing output_overall_row(const struct scores *scores, int car) {
    struct standing row = row_of(scores, car);
    if (row.position == 0)
        return row;
    int place = 0;
    while (scores->order[place] != car)
        place++;
    struct standing leader = row_of(scores, scores->order[0]);
    struct standing above = row_of(scores, scores->order[place > 0 ? place - 1 : 0]);
    row.behind_leader = standings_gap(&row, &leader);
    row.behind_next = standings_gap(&row, &above);
    return row;
}

void output_group_name(struct textbuf *b, const struct standings *st,
                       const struct standings_group *group) {
    const struct rules *rules = st->scores->event->rules;
    switch (st->by) {
    case BY_CLASS:
        rules_class_name(rules, group->index, b);
        break;
    case BY_CATEGORY:
        textbuf_puts(b, rules->categories[group->index].name);
        break;
    case BY_DAY:
        textbuf_printf(b, "Day %d", group->index + 1);
        break;
    case BY_TEST:
        textbuf_puts(b, rules->items[group->index].name);
        break;
    default:
        textbuf_puts(b, "Overall");
        break;
    }
}
