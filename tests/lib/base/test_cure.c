/* SPDX-License-Identifier: MIT */
#include "base/cure.h"

#include "base/decimal.h"
#include "base/times.h"
#include "testing.h"

static void check_cure(const char *text, int (*parse)(const char *, int64_t *),
                       const char *expected) {
    struct cure room;
    assert_string_equal(cure_of(&room, text, parse), expected);
}

BEHAVIOUR(a_number_of_another_country_is_told_with_a_point) {
    check_cure("12,5", decimal_parse, "; write 12.5");
    check_cure("-0,75", decimal_parse, "; write -0.75");
    check_cure(",5", decimal_parse, "; write 0.5");
    check_cure("1'200", decimal_parse, "; write 1200");
    check_cure("1 200,5", decimal_parse, "; write 1200.5");
    check_cure(" 12.5 ", decimal_parse, "; write 12.5");
}

BEHAVIOUR(a_time_is_told_with_colons_and_two_digits) {
    check_cure("8:47", time_parse, "; write 08:47");
    check_cure("8.47", time_parse, "; write 08:47");
    check_cure("10h42", time_parse, "; write 10:42");
    check_cure("10.42.59", time_parse, "; write 10:42:59");
    check_cure("10:42:59,5", time_parse, "; write 10:42:59.5");
    check_cure("83,45", duration_parse, "; write 83.45");
}

BEHAVIOUR(what_cannot_be_told_for_sure_is_left_alone) {
    check_cure("", decimal_parse, "");
    check_cure("1.200,50", decimal_parse, "");
    check_cure("1,2345", decimal_parse, "");
    check_cure("12,5 s", decimal_parse, "");
    check_cure("half past ten", time_parse, "");
    check_cure("25:61", time_parse, "");
    check_cure("-8:47", time_parse, "");
    check_cure("1,5,5", duration_parse, "");
    check_cure("12,5000000000000000000000000000000", decimal_parse, "");
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_number_of_another_country_is_told_with_a_point),
        cmocka_unit_test(a_time_is_told_with_colons_and_two_digits),
        cmocka_unit_test(what_cannot_be_told_for_sure_is_left_alone),
    };
    return cmocka_run_group_tests_name("cure", tests, NULL, NULL);
}
