/* SPDX-License-Identifier: MIT */
#include "event/coefficient_rules.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "event/test_kinds.h"
#include "format/json_read.h"

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

void coefficient_rules_read(const struct json_reader *reader, const json_t *scoring,
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
    s->coefficient_kinds = test_kinds_read(reader, object, &here);
    if (has_by)
        read_table(reader, object, &here, rules);
}
