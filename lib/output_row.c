/* SPDX-License-Identifier: MIT */
/* Pieces that all forms of output share: escaping, rows, names of groups, steps of a total. */
#include <string.h>

#include "decimal.h"
#include "entry_words.h"
#include "err.h"
#include "explain.h"
#include "kind.h"
#include "output.h"
#include "ranking.h"

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
    write_place(b, "class_position", placed ? score->class_position : 0);
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

typedef void (*emit_step)(void *context, const char *what, const char *why, int64_t amount,
                          int fails);

static bool takes_coefficient(const struct rules *rules, const struct item *item) {
    return rules->scoring.has_coefficient &&
           (rules->scoring.coefficient_kinds >> item->kind & 1u) != 0;
}

static void write_coefficient(struct textbuf *b, const struct scores *scores, int car) {
    const struct scoring *scoring = &scores->event->rules->scoring;
    const struct entry *e = &scores->event->entries->list[car];
    textbuf_puts(b, "coefficient ");
    decimal_write_short(b, scores->cars[car].coefficient);
    if (scoring->coefficient_by_class)
        textbuf_printf(b, " of period %s", scores->event->rules->periods[e->period].id);
    else
        textbuf_printf(b, " of %d", e->year);
    if (scoring->coefficient_whole)
        textbuf_puts(b, ", rounded to a whole point");
}

/* One test: sum of its points, faults outside the laps, cap, drop, coefficient. */
static void step_test(const struct scores *scores, const struct sheet *sheet, int car, int place,
                      struct textbuf *why, emit_step emit, void *context) {
    const struct rules *rules = scores->event->rules;
    const struct item *item = &rules->items[place];
    const struct car_score *score = &scores->cars[car];
    const struct working *first = &sheet->workings[item->first_scored];
    bool whole = first->ruling != NULL && first->ruling_whole;
    int64_t points = 0;
    int64_t value = score->item_penalty[place];
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        if (sheet->workings[i].state != STATE_ABSENT)
            points += sheet->workings[i].penalty;
    }
    textbuf_reset(why);
    textbuf_puts(why, "points ");
    explain_penalty(why, points);
    if (!whole && sheet->fault_sums[place] > 0) {
        textbuf_puts(why, " + faults ");
        explain_penalty(why, sheet->fault_sums[place]);
        points += sheet->fault_sums[place];
    }
    if (!whole && points > item->test_cap) {
        textbuf_puts(why, ", held to the test's cap of ");
        explain_penalty(why, item->test_cap);
    }
    if (rules->scoring.coefficient_per_test && takes_coefficient(rules, item)) {
        textbuf_puts(why, ", times ");
        write_coefficient(why, scores, car);
        value = decimal_times(value, score->coefficient, rules->scoring.coefficient_whole);
        textbuf_puts(why, " = ");
        explain_penalty(why, value);
    }
    if ((score->item_flags[place] & ITEM_DROPPED) != 0) {
        textbuf_puts(why, "; dropped as the costliest");
        value = 0;
    }
    emit(context, item->id, textbuf_text(why), value, score->item_fails[place]);
}

static void step_coefficient(const struct scores *scores, int car, struct textbuf *why,
                             emit_step emit, void *context) {
    const struct rules *rules = scores->event->rules;
    const struct car_score *score = &scores->cars[car];
    int64_t sum = 0;
    for (int i = 0; i < rules->item_count; i++) {
        if (scores->view->visible[i] && rules->items[i].test >= 0 &&
            takes_coefficient(rules, &rules->items[i]) &&
            (score->item_flags[i] & ITEM_DROPPED) == 0)
            sum = decimal_add(sum, score->item_penalty[i]);
    }
    textbuf_reset(why);
    write_coefficient(why, scores, car);
    textbuf_puts(why, " times ");
    explain_penalty(why, sum);
    textbuf_puts(why, " of these kinds:");
    for (int k = 0; k < KIND_COUNT; k++) {
        if ((rules->scoring.coefficient_kinds >> k & 1u) != 0)
            textbuf_printf(why, " %s", kind_name((enum kind_id)k));
    }
    textbuf_puts(why, "; what it adds to them");
    emit(context, "coefficient", textbuf_text(why),
         decimal_times(sum, score->coefficient, rules->scoring.coefficient_whole) - sum, 0);
}

static void step_absence(const struct scores *scores, int car, struct textbuf *why, emit_step emit,
                         void *context) {
    const struct rules *rules = scores->event->rules;
    const struct car_score *score = &scores->cars[car];
    int64_t cap = rules->scoring.absent_day_cap;
    for (int d = 0; d <= scores->view->last_day; d++) {
        int fails = score->day_fails[d];
        for (int i = 0; i < rules->item_count; i++) {
            if (scores->view->visible[i] && rules->items[i].day == d)
                fails -= score->item_fails[i];
        }
        int64_t absent = score->day_absent[d];
        if (absent == 0 && fails == 0)
            continue;
        textbuf_reset(why);
        textbuf_printf(why, "absent on day %d: ", d + 1);
        explain_penalty(why, absent);
        if (absent > cap) {
            textbuf_puts(why, ", held to the cap of ");
            explain_penalty(why, cap);
            textbuf_puts(why, " a day");
        }
        emit(context, "absence", textbuf_text(why), absent < cap ? absent : cap, fails);
    }
}

int output_total_steps(const struct scores *scores, const struct sheet *sheet, int car,
                       emit_step emit, void *context) {
    const struct rules *rules = scores->event->rules;
    const struct car_rulings *rulings = &scores->event->rulings->cars[car];
    struct textbuf why = {0};
    int control_fails = 0;
    for (int i = 0; i < rules->item_count; i++) {
        if (!scores->view->visible[i])
            continue;
        if (rules->items[i].test >= 0)
            step_test(scores, sheet, car, i, &why, emit, context);
        else
            control_fails += scores->cars[car].item_fails[i];
    }
    if (rules->scoring.has_coefficient && !rules->scoring.coefficient_per_test)
        step_coefficient(scores, car, &why, emit, context);
    emit(context, "controls", "time and passage controls together", scores->cars[car].controls,
         control_fails);
    step_absence(scores, car, &why, emit, context);
    for (int i = 0; i < rulings->count; i++) {
        if (rulings->list[i]->kind == DECIDE_PENALTY)
            emit(context, "decision", rulings->list[i]->text.field[DECISION_REASON],
                 rulings->list[i]->value, 0);
    }
    int err = why.failed ? ERR_NOMEM : ERR_OK;
    textbuf_clear(&why);
    return err;
}
