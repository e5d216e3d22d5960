/* SPDX-License-Identifier: MIT */
#include "event/kind_list.h"

#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
#include "format/json_read.h"

unsigned kinds_of_tests(void) {
    unsigned kinds = 0;
    for (int k = 0; k < KIND_COUNT; k++)
        kinds |= kind_of((enum kind_id)k)->is_test ? 1u << k : 0;
    return kinds;
}

static void not_allowed(const struct json_reader *reader, const struct json_place *place,
                        unsigned allowed, const char *name) {
    struct textbuf names = {0};
    for (int k = 0; k < KIND_COUNT; k++) {
        if ((allowed >> k & 1u) != 0)
            textbuf_printf(&names, "%s%s", names.len > 0 ? ", " : "", kind_name((enum kind_id)k));
    }
    const char *what = allowed == kinds_of_tests() ? "kind of test" : "kind";
    if (name != NULL && strcmp(name, "all") == 0 && allowed != kinds_of_tests())
        json_wrong(reader, place, NULL,
                   "“all” stands in place of the list: \"kinds\": \"all\"; in it must be a %s: %s",
                   what, textbuf_text(&names));
    else
        json_wrong(reader, place, NULL, "must be a %s: %s", what, textbuf_text(&names));
    if (names.failed)
        reader->problems->out_of_memory = true;
    textbuf_clear(&names);
}

unsigned kind_list_read(const struct json_reader *reader, const json_t *object,
                        const struct json_place *place, unsigned allowed) {
    const json_t *list;
    if (!json_get_array(reader, object, place, "kinds", false, &list))
        return kinds_of_tests();
    struct json_place here = {.up = place, .key = "kinds"};
    unsigned kinds = 0;
    for (size_t i = 0; i < json_array_size(list); i++) {
        struct json_place at = {.up = &here, .index = i};
        const char *name = json_string_value(json_array_get(list, i));
        enum kind_id kind;
        if (name == NULL || kind_parse(name, &kind) != ERR_OK || (allowed >> kind & 1u) == 0)
            not_allowed(reader, &at, allowed, name);
        else
            kinds |= 1u << kind;
    }
    return kinds;
}
