/* SPDX-License-Identifier: MIT */
#include "event/tie_rules.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "format/json_read.h"

static const char *const tie_words[] = {"most-clean",     "furthest-clean",   "older-car",
                                        "smaller-engine", "first-difference", NULL};

void tie_rules_read(const struct json_reader *reader, const json_t *scoring,
                    const struct json_place *place, struct rules *rules) {
    const json_t *list;
    struct scoring *s = &rules->scoring;
    if (!json_get_array(reader, scoring, place, "ties", false, &list))
        return;
    struct json_place here = {.up = place, .key = "ties"};
    size_t count = json_array_size(list);
    if (count > PARTS_MAX) {
        json_wrong(reader, place, "ties", "must hold at most %d", PARTS_MAX);
        return;
    }
    s->ties = arena_array(rules->arena, count, sizeof *s->ties);
    if (s->ties == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const char *word = json_string_value(json_array_get(list, i));
        int kind = -1;
        for (int k = 0; word != NULL && tie_words[k] != NULL; k++) {
            if (strcmp(word, tie_words[k]) == 0)
                kind = k;
        }
        if (kind < 0 && word != NULL && strncmp(word, "test:", 5) == 0)
            kind = TIE_TEST;
        if (kind < 0)
            json_wrong(reader, &at, NULL,
                       "must be most-clean, furthest-clean, older-car, smaller-engine, "
                       "first-difference or test:ID");
        else
            s->ties[s->tie_count++] = (struct tie){(enum tie_kind)kind, (int)i};
    }
}

void tie_rules_complete(const struct json_reader *reader, const json_t *scoring,
                        const struct json_place *place, struct rules *rules) {
    const json_t *list = json_object_get(scoring, "ties");
    struct json_place here = {.up = place, .key = "ties"};
    for (int i = 0; i < rules->scoring.tie_count; i++) {
        struct tie *tie = &rules->scoring.ties[i];
        if (tie->kind != TIE_TEST)
            continue;
        size_t index = (size_t)tie->item; /* until now: its place in the list */
        struct json_place at = {.up = &here, .index = index};
        const char *id = json_string_value(json_array_get(list, index)) + 5;
        tie->item = strmap_get(&rules->item_by_id, id);
        if (tie->item < 0 || rules->items[tie->item].test < 0)
            json_wrong(reader, &at, NULL, "“%s” is no test of the route", id);
    }
}
