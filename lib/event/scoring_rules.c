/* SPDX-License-Identifier: MIT */
#include "event/scoring_rules.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "format/json_read.h"

/* All kinds of tests, bit 1 << kind. */
static unsigned all_tests(void) {
    unsigned kinds = 0;
    for (int k = 0; k < KIND_COUNT; k++)
        kinds |= kind_of((enum kind_id)k)->is_test ? 1u << k : 0;
    return kinds;
}

static void no_test(const struct json_reader *reader, const struct json_place *place) {
    struct textbuf names = {0};
    for (int k = 0; k < KIND_COUNT; k++) {
        if (kind_of((enum kind_id)k)->is_test)
            textbuf_printf(&names, "%s%s", names.len > 0 ? ", " : "", kind_name((enum kind_id)k));
    }
    json_wrong(reader, place, NULL, "must be a kind of test: %s", textbuf_text(&names));
    if (names.failed)
        reader->problems->out_of_memory = true;
    textbuf_clear(&names);
}

/* A list of kinds of tests; all of them where the key is not there. */
static unsigned read_kinds(const struct json_reader *reader, const json_t *object,
                           const struct json_place *place) {
    const json_t *list;
    if (!json_get_array(reader, object, place, "kinds", false, &list))
        return all_tests();
    struct json_place here = {.up = place, .key = "kinds"};
    unsigned kinds = 0;
    for (size_t i = 0; i < json_array_size(list); i++) {
        struct json_place at = {.up = &here, .index = i};
        const char *name = json_string_value(json_array_get(list, i));
        enum kind_id kind;
        if (name == NULL || kind_parse(name, &kind) != ERR_OK || !kind_of(kind)->is_test)
            no_test(reader, &at);
        else
            kinds |= 1u << kind;
    }
    return kinds;
}

static void read_table(const struct json_reader *reader, const json_t *object,
                       const struct json_place *place, struct rules *rules) {
    const json_t *table = json_object_get(object, "table");
    struct json_place here = {.up = place, .key = "table"};
    struct scoring *s = &rules->scoring;
    if (!s->coefficient_by_class) {
        if (table != NULL)
            json_wrong(reader, place, "table", "goes with “by”: “class” only");
        return;
    }
    s->coefficient_table =
        arena_array(rules->arena, (size_t)rules->period_count, sizeof *s->coefficient_table);
    if (s->coefficient_table == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (int i = 0; i < rules->period_count; i++)
        s->coefficient_table[i] = 1000;
    if (table == NULL) {
        json_wrong(reader, place, "table", "is missing");
        return;
    }
    if (!json_is_object(table)) {
        json_wrong(reader, place, "table", "must be an object of period ids");
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)table, key, value) {
        int period = -1;
        for (int i = 0; i < rules->period_count; i++) {
            if (strcmp(rules->periods[i].id, key) == 0)
                period = i;
        }
        if (period < 0 && rules->period_count > 0)
            json_wrong(reader, &here, key, "is no period of this event");
        else if (period >= 0)
            (void)json_value_decimal(reader, value, &here, key, 0, 1000000,
                                     &s->coefficient_table[period]);
    }
}

static void read_coefficient(const struct json_reader *reader, const json_t *scoring,
                             const struct json_place *place, struct rules *rules) {
    static const char *const keys[] = {"by", "apply", "kinds", "round", "table", "standings", NULL};
    static const char *const bys[] = {"year", "class", NULL};
    static const char *const applies[] = {"total", "test", NULL};
    static const char *const rounds[] = {"none", "whole", NULL};
    static const char *const wheres[] = {"all", "overall", NULL};
    const json_t *object = json_object_get(scoring, "coefficient");
    struct json_place here = {.up = place, .key = "coefficient"};
    struct scoring *s = &rules->scoring;
    int choice;
    if (object == NULL || !json_known_keys(reader, object, &here, keys, NULL))
        return;
    s->has_coefficient = true;
    bool has_by = json_get_choice(reader, object, &here, "by", true, bys, &choice);
    if (has_by)
        s->coefficient_by_class = choice == 1;
    if (json_get_choice(reader, object, &here, "apply", false, applies, &choice))
        s->coefficient_per_test = choice == 1;
    if (json_get_choice(reader, object, &here, "round", false, rounds, &choice))
        s->coefficient_whole = choice == 1;
    if (json_get_choice(reader, object, &here, "standings", false, wheres, &choice))
        s->coefficient_overall_only = choice == 1;
    s->coefficient_kinds = read_kinds(reader, object, &here);
    if (has_by)
        read_table(reader, object, &here, rules);
}

static void read_drop(const struct json_reader *reader, const json_t *scoring,
                      const struct json_place *place, struct scoring *s) {
    static const char *const keys[] = {"count", "kinds", "when", "each", NULL};
    static const char *const whens[] = {"end", "always", NULL};
    static const char *const eaches[] = {"event", "day", NULL};
    const json_t *object = json_object_get(scoring, "drop_worst");
    struct json_place here = {.up = place, .key = "drop_worst"};
    int64_t count = 1;
    int choice;
    if (object == NULL || !json_known_keys(reader, object, &here, keys, NULL))
        return;
    (void)json_get_whole(reader, object, &here, "count", false, 0, ITEMS_MAX, &count);
    s->drop_count = (int)count;
    s->drop_kinds = read_kinds(reader, object, &here);
    if (json_get_choice(reader, object, &here, "when", false, whens, &choice))
        s->drop_always = choice == 1;
    if (json_get_choice(reader, object, &here, "each", false, eaches, &choice))
        s->drop_each_day = choice == 1;
}

static void read_finisher(const struct json_reader *reader, const json_t *scoring,
                          const struct json_place *place, struct scoring *s) {
    static const char *const keys[] = {"share", "last_point", NULL};
    const json_t *object = json_object_get(scoring, "finisher");
    struct json_place here = {.up = place, .key = "finisher"};
    if (object == NULL || !json_known_keys(reader, object, &here, keys, NULL))
        return;
    (void)json_get_flag(reader, object, &here, "last_point", &s->last_point);
    const json_t *share = json_object_get(object, "share");
    if (share == NULL)
        return;
    const char *text = json_string_value(share);
    const char *bar = text == NULL ? NULL : strchr(text, '/');
    int64_t num = 0;
    int64_t den = 1000;
    if (bar == NULL && text != NULL &&
        decimal_parse(text + (*text == JSON_NUMBER_MARK), &num) == ERR_OK && num >= 0 &&
        num <= 1000) {
        s->share_num = num;
        s->share_den = den;
        return;
    }
    char first[16] = "";
    if (bar == NULL)
        bar = text = "/";
    if ((size_t)(bar - text) < sizeof first)
        memcpy(first, text, (size_t)(bar - text));
    if (decimal_parse_whole(first, 0, 1000000, &num) != ERR_OK ||
        decimal_parse_whole(bar + 1, 1, 1000000, &den) != ERR_OK || num > den) {
        json_wrong(reader, &here, "share", "must be a fraction such as “2/3”, at most 1");
        return;
    }
    s->share_num = num;
    s->share_den = den;
}

static const char *const tie_words[] = {"most-clean",     "furthest-clean",   "older-car",
                                        "smaller-engine", "first-difference", NULL};

static void read_ties(const struct json_reader *reader, const json_t *scoring,
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

void scoring_rules_complete(const struct json_reader *reader, const json_t *root,
                            struct rules *rules) {
    const json_t *list = json_object_get(json_object_get(root, "scoring"), "ties");
    struct json_place top = {.key = "scoring"};
    struct json_place here = {.up = &top, .key = "ties"};
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

static void read_defaults(const struct json_reader *reader, const json_t *scoring,
                          const struct json_place *place, struct scoring *s) {
    const json_t *object = json_object_get(scoring, "defaults");
    struct json_place here = {.up = place, .key = "defaults"};
    if (object == NULL)
        return;
    if (!json_is_object(object)) {
        json_wrong(reader, place, "defaults", "must be an object of kinds");
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        enum kind_id kind;
        struct json_place at = {.up = &here, .key = key};
        if (kind_parse(key, &kind) != ERR_OK)
            json_wrong(reader, &at, NULL, "unknown key");
        else
            penalty_rule_read(reader, value, &at, &s->defaults[kind]);
    }
}

void scoring_rules_read(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    static const char *const keys[] = {
        "timing",         "max_lateness", "coefficient", "drop_worst",     "teams", "ties",
        "absent_day_cap", "finisher",     "defaults",    "protest_period", NULL};
    static const char *const timings[] = {"target", "scheduled", NULL};
    static const char *const team_keys[] = {"count", NULL};
    const json_t *object = json_object_get(root, "scoring");
    struct json_place place = {.key = "scoring"};
    struct scoring *s = &rules->scoring;
    int choice;
    *s = (struct scoring){.max_lateness = TIME_NONE, .absent_day_cap = CAP_NONE, .share_den = 1};
    for (int i = 0; i < KIND_COUNT; i++)
        s->defaults[i] = penalty_rule_plain();
    if (object == NULL || !json_known_keys(reader, object, &place, keys, NULL))
        return;
    if (json_get_choice(reader, object, &place, "timing", false, timings, &choice))
        s->scheduled = choice == 1;
    (void)json_get_duration(reader, object, &place, "max_lateness", false, &s->max_lateness);
    read_coefficient(reader, object, &place, rules);
    read_drop(reader, object, &place, s);
    const json_t *teams = json_object_get(object, "teams");
    struct json_place teams_place = {.up = &place, .key = "teams"};
    int64_t count;
    if (teams != NULL && json_known_keys(reader, teams, &teams_place, team_keys, NULL) &&
        json_get_whole(reader, teams, &teams_place, "count", true, 1, 9999, &count))
        s->team_count = (int)count;
    read_ties(reader, object, &place, rules);
    (void)json_get_decimal(reader, object, &place, "absent_day_cap", false, 0, DECIMAL_MAX,
                           &s->absent_day_cap);
    read_finisher(reader, object, &place, s);
    (void)json_get_duration(reader, object, &place, "protest_period", false, &s->protest_period);
    read_defaults(reader, object, &place, s);
}
