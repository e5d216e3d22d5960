/* SPDX-License-Identifier: MIT */
#include "office/effect.h"

#include <limits.h>
#include <stdlib.h>

#include "base/decimal.h"
#include "base/err.h"
#include "event/entry_words.h"

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

static void write_place(struct textbuf *b, int place) {
    if (place > 0)
        textbuf_int(b, place);
    else
        textbuf_puts(b, "null");
}

static void write_result(struct textbuf *b, const char *side, const struct result *result) {
    textbuf_printf(b, ",\"%s\":{\"position\":", side);
    write_place(b, result->position);
    textbuf_puts(b, ",\"class_position\":");
    write_place(b, result->class_position);
    textbuf_printf(b, ",\"fails\":%d,\"penalty\":\"", result->fails);
    decimal_write(b, result->penalty);
    textbuf_printf(b, "\",\"status\":\"%s\"}", status_word(result->status));
}

void effect_write_json(struct textbuf *b, const struct effect *effect) {
    textbuf_putc(b, '[');
    for (int i = 0; i < effect->count; i++) {
        const struct move *move = &effect->moves[i];
        const struct entry *e = &effect->event->entries->list[move->car];
        textbuf_printf(b, "%s{\"car\":%d,", i > 0 ? ",\n" : "", e->number);
        entry_crew_json(b, e);
        textbuf_puts(b, ",\"class\":\"");
        rules_class_id(effect->event->rules, e->class_index, b);
        textbuf_putc(b, '"');
        write_result(b, "before", &move->before);
        write_result(b, "after", &move->after);
        textbuf_putc(b, '}');
    }
    textbuf_putc(b, ']');
}
