/* SPDX-License-Identifier: MIT */
#include "event/coefficient_rules.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "event/kind_list.h"
#include "format/json_read.h"

/* One line of the table: a period or category, and what its cars are multiplied by. */
static void read_line(const struct json_reader *reader, const json_t *value,
                      const struct json_place *place, const char *id, struct rules *rules) {
    bool periods = rules->scoring.coefficient_by == COEFFICIENT_BY_CLASS;
    int found = periods ? rules_period_named(rules, id) : rules_category_of(rules, id);
    if (found >= 0)
        (void)json_value_decimal(reader, value, place, id, 0, 1000000,
                                 &rules->scoring.coefficient_table[found]);
    else if (!rules_may_have(rules, periods ? RULES_PERIODS : RULES_CATEGORIES))
        json_wrong(reader, place, id, "is no %s of this event", periods ? "period" : "category");
}

static void read_table(const struct json_reader *reader, const json_t *object,
                       const struct json_place *place, struct rules *rules) {
    const json_t *table = json_object_get(object, "table");
    struct json_place here = {.up = place, .key = "table"};
    struct scoring *s = &rules->scoring;
    bool periods = s->coefficient_by == COEFFICIENT_BY_CLASS;
    if (!periods && s->coefficient_by != COEFFICIENT_BY_CATEGORY) {
        if (table != NULL)
            json_wrong(reader, place, "table", "goes with “by”: “class” or “category” only");
        return;
    }
    int count = periods ? rules->period_count : rules->category_count;
    s->coefficient_table = arena_array(rules->arena, (size_t)count, sizeof *s->coefficient_table);
    if (s->coefficient_table == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (int i = 0; i < count; i++)
        s->coefficient_table[i] = 1000;
    if (table == NULL) {
        json_wrong(reader, place, "table", "is missing");
        return;
    }
    if (!json_is_object(table)) {
        json_wrong(reader, place, "table", "must be an object of %s ids",
                   periods ? "period" : "category");
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)table, key, value) {
        read_line(reader, value, &here, key, rules);
    }
}

/* The word "all", or a list of kinds. */
static void read_kinds(const struct json_reader *reader, const json_t *object,
                       const struct json_place *place, struct scoring *s) {
    const unsigned every = (1u << KIND_COUNT) - 1;
    const char *word = json_string_value(json_object_get(object, "kinds"));
    s->coefficient_kinds = every;
    if (word == NULL)
        s->coefficient_kinds = kind_list_read(reader, object, place, every);
    else if (strcmp(word, "all") == 0)
        s->coefficient_all = true;
    else
        json_wrong(reader, place, "kinds", "must be “all” or a list of kinds");
}

void coefficient_rules_read(const struct json_reader *reader, const json_t *scoring,
                            const struct json_place *place, struct rules *rules) {
    static const char *const keys[] = {"by", "apply", "kinds", "round", "table", "standings", NULL};
    static const char *const bys[] = {"year", "class", "category", "entry", NULL};
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
        s->coefficient_by = (enum coefficient_by)choice;
    if (json_get_choice(reader, object, &here, "apply", false, applies, &choice))
        s->coefficient_per_test = choice == 1;
    if (json_get_choice(reader, object, &here, "round", false, rounds, &choice))
        s->coefficient_whole = choice == 1;
    if (json_get_choice(reader, object, &here, "standings", false, wheres, &choice))
        s->coefficient_overall_only = choice == 1;
    read_kinds(reader, object, &here, s);
    if (has_by)
        read_table(reader, object, &here, rules);
}
