/* SPDX-License-Identifier: MIT */
#include "event/tie_rules.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "event/kind.h"
#include "format/json_read.h"

static const char *const tie_words[] = {
    [TIE_MOST_CLEAN] = "most-clean",
    [TIE_FURTHEST_CLEAN] = "furthest-clean",
    [TIE_OLDER_CAR] = "older-car",
    [TIE_SMALLER_ENGINE] = "smaller-engine",
    [TIE_FIRST_DIFFERENCE] = "first-difference",
    [TIE_COUNT_BACK] = "count-back",
    [TIE_OLDER_DRIVER] = "older-driver",
    [TIE_YOUNGER_DRIVER] = "younger-driver",
    [TIE_TEST] = NULL,
};

/* Of the words that a test's id follows. */
static const char test_prefix[] = "test:";
static const char time_prefix[] = "time:";

static bool starts(const char *word, const char *prefix) {
    return strncmp(word, prefix, strlen(prefix)) == 0;
}

/* The kind of a word; -1 where it is none. */
static int kind_of_word(const char *word) {
    if (word == NULL)
        return -1;
    for (int k = 0; tie_words[k] != NULL; k++) {
        if (strcmp(word, tie_words[k]) == 0)
            return k;
    }
    return starts(word, test_prefix) ? TIE_TEST : starts(word, time_prefix) ? TIE_TIME : -1;
}

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
        int kind = kind_of_word(json_string_value(json_array_get(list, i)));
        if (kind < 0) {
            json_wrong(reader, &at, NULL,
                       "must be most-clean, furthest-clean, older-car, smaller-engine, "
                       "first-difference, count-back, older-driver, younger-driver, test:ID or "
                       "time:ID");
            continue;
        }
        s->ties[s->tie_count++] =
            (struct tie){.kind = (enum tie_kind)kind, .item = (int)i, .time = s->tie_time_count};
        s->tie_time_count += kind == TIE_TIME;
        s->counts_back = s->counts_back || kind == TIE_COUNT_BACK;
    }
}

bool tie_rules_ask_age(const struct scoring *scoring) {
    for (int i = 0; i < scoring->tie_count; i++) {
        if (scoring->ties[i].kind == TIE_OLDER_DRIVER ||
            scoring->ties[i].kind == TIE_YOUNGER_DRIVER)
            return true;
    }
    return false;
}

void tie_rules_complete(const struct json_reader *reader, const json_t *scoring,
                        const struct json_place *place, struct rules *rules) {
    const json_t *list = json_object_get(scoring, "ties");
    struct json_place here = {.up = place, .key = "ties"};
    for (int i = 0; i < rules->scoring.tie_count; i++) {
        struct tie *tie = &rules->scoring.ties[i];
        if (tie->kind != TIE_TEST && tie->kind != TIE_TIME)
            continue;
        size_t index = (size_t)tie->item; /* until now: its place in the list */
        struct json_place at = {.up = &here, .index = index};
        const char *id = strchr(json_string_value(json_array_get(list, index)), ':') + 1;
        tie->item = strmap_get(&rules->item_by_id, id);
        if (tie->item < 0 || rules->items[tie->item].test < 0) {
            if (!rules_may_have(rules, RULES_IDS))
                json_wrong(reader, &at, NULL, "“%s” is no test of the route", id);
        } else if (tie->kind == TIE_TIME && kind_of(rules->items[tie->item].kind)->tie_time == NULL)
            json_wrong(reader, &at, NULL,
                       "“%s” has no time of its own, as special tests and consistency tests have; "
                       "“test:%s” compares what it costs",
                       id, id);
    }
}
