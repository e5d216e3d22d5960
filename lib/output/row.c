/* SPDX-License-Identifier: MIT */
/* Pieces that all forms of output share: rows, names of groups. */
#include "event/entry_words.h"
#include "format/json_write.h"
#include "output/output.h"

/* Between cars with different fails there is no gap in penalty. */
static void write_gap(struct textbuf *b, const char *key, struct gap gap, bool placed) {
    if (placed && gap.fails == 0)
        json_member_decimal(b, key, gap.penalty);
    else
        json_member_null(b, key);
}

static void write_fails_gap(struct textbuf *b, const char *key, struct gap gap, bool placed) {
    if (placed)
        json_member_int(b, key, gap.fails);
    else
        json_member_null(b, key);
}

static void write_car(struct textbuf *b, const struct scores *scores, int car) {
    const struct entry *e = &scores->event->entries->list[car];
    json_member_int(b, "car", e->number);
    entry_crew_json(b, e);
    entry_vehicle_json(b, e);
    entry_class_json(b, scores->event->rules, e->class_index);
}

void output_row_members(struct textbuf *b, const struct scores *scores, const struct standing *row,
                        bool placed) {
    const struct car_score *score = &scores->cars[row->car];
    const struct rules *rules = scores->event->rules;
    json_member_positive(b, "position", placed ? row->position : 0);
    json_member_bool(b, "equal", placed && row->equal);
    write_car(b, scores, row->car);
    json_member_positive(b, "class_position", score->class_position);
    json_member_int(b, "fails", row->fails);
    json_member_decimal(b, "penalty", row->penalty);
    write_gap(b, "behind_leader", row->behind_leader, placed);
    write_gap(b, "behind_next", row->behind_next, placed);
    write_fails_gap(b, "fails_behind_leader", row->behind_leader, placed);
    write_fails_gap(b, "fails_behind_next", row->behind_next, placed);
    json_member_array(b, "days");
    for (int d = 0; d <= scores->view->last_day; d++)
        json_write_decimal(b, score->day_penalty[d]);
    json_close_array(b);
    json_member_text_or_null(b, "through",
                             score->through < 0 ? NULL : rules->points[score->through].id);
    json_member_text(b, "status", status_word(score->status));
    json_member_int(b, "awaiting", score->awaiting);
    json_member_int(b, "doubtful", score->doubtful);
}

void output_row_json(struct textbuf *b, const struct scores *scores, const struct standing *row,
                     bool placed) {
    json_open_object(b);
    output_row_members(b, scores, row, placed);
    json_close_object(b);
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
    int place = row.position - 1; /* of the first of equal cars */
    while (scores->order[place] != car)
        place++;
    struct standing leader = row_of(scores, scores->order[0]);
    struct standing above = row_of(scores, scores->order[place > 0 ? place - 1 : 0]);
    row.behind_leader = standings_gap(&row, &leader);
    row.behind_next = standings_gap(&row, &above);
    return row;
}

void output_group_id(struct textbuf *b, const struct rules *rules, enum standings_by by,
                     int index) {
    switch (by) {
    case BY_CLASS:
        rules_class_id(rules, index, b);
        break;
    case BY_CATEGORY:
        textbuf_puts(b, rules->categories[index].id);
        break;
    case BY_GROUP:
        textbuf_puts(b, rules->groups[index].id);
        break;
    case BY_DAY:
        textbuf_int(b, index + 1);
        break;
    case BY_TEST:
        textbuf_puts(b, rules->items[index].id);
        break;
    default:
        break;
    }
}

void output_group_name(struct textbuf *b, const struct rules *rules, enum standings_by by,
                       int index) {
    switch (by) {
    case BY_CLASS:
        rules_class_name(rules, index, b);
        break;
    case BY_CATEGORY:
        textbuf_puts(b, rules->categories[index].name);
        break;
    case BY_GROUP:
        textbuf_puts(b, rules->groups[index].name);
        break;
    case BY_DAY:
        textbuf_printf(b, "Day %d", index + 1);
        break;
    case BY_TEST:
        textbuf_puts(b, rules->items[index].name);
        break;
    default:
        textbuf_puts(b, "Overall");
        break;
    }
}
