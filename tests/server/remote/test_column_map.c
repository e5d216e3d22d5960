/* SPDX-License-Identifier: MIT */
#include "remote/column_map.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

static struct column_map map;

/* Adds to the map; then what it holds as "OURS=THEIRS;", or "!" and what is wrong. */
static void check(const char *text, const char *expected) {
    struct textbuf told = {0};
    struct textbuf why = {0};
    if (column_map_parse(&map, text, &why) != ERR_OK)
        textbuf_printf(&told, "!%s", textbuf_text(&why));
    for (int i = 0; why.len == 0 && i < READING_FIELD_COUNT; i++) {
        if (map.heading[i] != NULL)
            textbuf_printf(&told, "%s=%s;", reading_field_names[i], map.heading[i]);
    }
    assert_string_equal(textbuf_text(&told), expected);
    textbuf_clear(&told);
    textbuf_clear(&why);
}

static int empty(void **state) {
    (void)state;
    column_map_clear(&map);
    return 0;
}

BEHAVIOUR(headings_stand_for_columns) {
    check("time=Zeit,car=Nr", "car=Nr;time=Zeit;");
    check("id=Lfd. Nr.", "car=Nr;time=Zeit;id=Lfd. Nr.;");
}

BEHAVIOUR(blanks_around_a_name_are_no_part_of_it) {
    check(" time = Zeit (Uhr) ,\tcar=Nr", "car=Nr;time=Zeit (Uhr);");
}

BEHAVIOUR(only_the_first_equals_sign_parts_the_names) {
    check("time=t=0", "time=t=0;");
}

BEHAVIOUR(what_is_wrong_is_named) {
    check(
        "Zeit=time",
        "!“Zeit” is no column of readings; those are point, car, time, elapsed, faults, at, by, replaces, void, reason, id");
    check(
        "tim=x",
        "!“tim” is no column of readings; those are point, car, time, elapsed, faults, at, by, replaces, void, reason, id");
    check("time", "!“time” is not written as OURS=THEIRS, such as time=Zeit");
    check("time=", "!“time=” is not written as OURS=THEIRS, such as time=Zeit");
    check("=Zeit", "!“=Zeit” is not written as OURS=THEIRS, such as time=Zeit");
    check("", "!“” is not written as OURS=THEIRS, such as time=Zeit");
    check("by=x,", "!“” is not written as OURS=THEIRS, such as time=Zeit");
}

BEHAVIOUR(nothing_is_named_twice) {
    check("time=A,time=B", "!“time” is named twice");
    check("car=A", "!the heading “A” is named twice");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(headings_stand_for_columns, empty),
        cmocka_unit_test_teardown(blanks_around_a_name_are_no_part_of_it, empty),
        cmocka_unit_test_teardown(only_the_first_equals_sign_parts_the_names, empty),
        cmocka_unit_test_teardown(what_is_wrong_is_named, empty),
        cmocka_unit_test_teardown(nothing_is_named_twice, empty),
    };
    RUN_BEHAVIOURS(tests);
}
