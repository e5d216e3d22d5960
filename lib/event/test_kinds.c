/* SPDX-License-Identifier: MIT */
#include "event/test_kinds.h"

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/kind.h"
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

unsigned test_kinds_read(const struct json_reader *reader, const json_t *object,
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
