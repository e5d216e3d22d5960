/* SPDX-License-Identifier: MIT */
#include "event/drop_rules.h"

#include "event/kind_list.h"
#include "format/json_read.h"

void drop_rules_read(const struct json_reader *reader, const json_t *scoring,
                     const struct json_place *place, struct scoring *out) {
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
    out->drop_count = (int)count;
    out->drop_kinds = kind_list_read(reader, object, &here, kinds_of_tests());
    if (json_get_choice(reader, object, &here, "when", false, whens, &choice))
        out->drop_always = choice == 1;
    if (json_get_choice(reader, object, &here, "each", false, eaches, &choice))
        out->drop_each_day = choice == 1;
}
