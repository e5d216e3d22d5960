/* SPDX-License-Identifier: MIT */
#include "format/extra.h"

#include "base/textbuf.h"
#include "format/json_write.h"
#include "testing.h"

static struct extra seq = {"seq", "12", NULL};
static struct extra note = {"note \"x\"", "came <late>", &seq};
static const struct extra first = {"desk", "0a1b2c3d", &note};

BEHAVIOUR(a_field_is_found_by_its_name) {
    assert_string_equal(extra_value(&first, "desk"), "0a1b2c3d");
    assert_string_equal(extra_value(&first, "seq"), "12");
    assert_string_equal(extra_value(&first, "flags"), "");
    assert_string_equal(extra_value(NULL, "seq"), "");
}

BEHAVIOUR(fields_are_members_in_their_order) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_int(&b, "number", 1);
    extra_write_json(&b, &first);
    extra_write_json(&b, NULL);
    json_close_object(&b);
    assert_string_equal(textbuf_text(&b),
                        "{\"number\":1,\"extra\":{\"desk\":\"0a1b2c3d\",\"note \\\"x\\\"\":"
                        "\"came \\u003clate\\u003e\",\"seq\":\"12\"},\"extra\":{}}");
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_field_is_found_by_its_name),
        cmocka_unit_test(fields_are_members_in_their_order),
    };
    RUN_BEHAVIOURS(tests);
}
