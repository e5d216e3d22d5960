/* SPDX-License-Identifier: MIT */
#include "format/media_type.h"

#include "testing.h"

static void a_type_is_told_in_any_case_and_without_parameters(void **state) {
    (void)state;
    assert_true(media_type_is("text/csv", "text/csv"));
    assert_true(media_type_is("Text/CSV; header=present", "text/csv"));
    assert_true(media_type_is("text/csv;header=present", "text/csv"));
    assert_false(media_type_is("text/csvx", "text/csv"));
    assert_false(media_type_is("text/cs", "text/csv"));
    assert_false(media_type_is("", "text/csv"));
    assert_false(media_type_is(NULL, "text/csv"));
}

static void a_character_set_must_be_utf_8(void **state) {
    (void)state;
    static const char *const good[] = {"text/csv",
                                       "text/csv; charset=utf-8",
                                       "text/csv;charset=\"UTF-8\"",
                                       "text/csv; header=present; Charset=UTF8",
                                       "text/csv; charset=us-ascii",
                                       "text/csv;"};
    static const char *const bad[] = {
        "text/csv; charset=utf-16", "text/csv;charset=\"iso-8859-1\"",
        "text/csv; charset=", "text/csv; charset=utf-8; charset=utf-7"};
    for (size_t i = 0; i < sizeof good / sizeof good[0]; i++)
        assert_true(media_type_is_utf8(good[i]));
    for (size_t i = 0; i < sizeof bad / sizeof bad[0]; i++)
        assert_false(media_type_is_utf8(bad[i]));
    assert_true(media_type_is_utf8(NULL));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_type_is_told_in_any_case_and_without_parameters),
        cmocka_unit_test(a_character_set_must_be_utf_8),
    };
    RUN_BEHAVIOURS(tests);
}
