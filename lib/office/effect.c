/* SPDX-License-Identifier: MIT */
#include "office/effect.h"

#include <limits.h>
#include <stdlib.h>

#include "base/err.h"
#include "event/entry_words.h"
#include "format/json_write.h"

static struct result result_of(const struct scores *scores, int car) {
    const struct car_score *score = &scores->cars[car];
    return (struct result){score->position, score->class_position,
                           score->tally[BASIS_CORRECTED].fails, score->tally[BASIS_CORRECTED].total,
                           score->status};
}

static bool same_places(const struct result *a, const struct result *b) {
    return a->position == b->position && a->class_position == b->class_position;
}

static int by_place(const void *a, const void *b) {
    const struct move *x = a;
    const struct move *y = b;
    int first = x->after.position == 0 ? INT_MAX : x->after.position;
    int second = y->after.position == 0 ? INT_MAX : y->after.position;
    return first != second ? (first > second) - (first < second) : x->car - y->car;
}

int effect_make(const struct scores *before, const struct scores *after, struct effect *out) {
    int cars = after->event->entries->count;
    *out = (struct effect){.event = after->event};
    out->moves = calloc((size_t)cars + 1, sizeof *out->moves);
    if (out->moves == NULL)
        return ERR_NOMEM;
    for (int car = 0; car < cars; car++) {
        struct result a = result_of(before, car);
        struct result b = result_of(after, car);
        if (!same_places(&a, &b) || a.fails != b.fails || a.penalty != b.penalty ||
            a.status != b.status)
            out->moves[out->count++] = (struct move){car, a, b};
    }
    qsort(out->moves, (size_t)out->count, sizeof *out->moves, by_place);
    return ERR_OK;
}

void effect_clear(struct effect *effect) {
    free(effect->moves);
    *effect = (struct effect){0};
}

int effect_places(const struct effect *effect) {
    int count = 0;
    for (int i = 0; i < effect->count; i++)
        count += !same_places(&effect->moves[i].before, &effect->moves[i].after);
    return count;
}

static void write_result(struct textbuf *b, const char *side, const struct result *result) {
    json_member_object(b, side);
    json_member_positive(b, "position", result->position);
    json_member_positive(b, "class_position", result->class_position);
    json_member_int(b, "fails", result->fails);
    json_member_decimal(b, "penalty", result->penalty);
    json_member_text(b, "status", status_word(result->status));
    json_close_object(b);
}

void effect_write_json(struct textbuf *b, const struct effect *effect) {
    json_open_array(b);
    for (int i = 0; i < effect->count; i++) {
        const struct move *move = &effect->moves[i];
        const struct entry *e = &effect->event->entries->list[move->car];
        if (i > 0)
            json_line(b);
        json_open_object(b);
        json_member_int(b, "car", e->number);
        entry_crew_json(b, e);
        entry_class_json(b, effect->event->rules, e->class_index);
        write_result(b, "before", &move->before);
        write_result(b, "after", &move->after);
        json_close_object(b);
    }
    json_close_array(b);
}
