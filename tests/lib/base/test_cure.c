/* SPDX-License-Identifier: MIT */
#include "base/cure.h"

#include "testing.h"

typedef const char *curer(struct cure *room, const char *text);

static void check_cure(curer *cure, const char *text, const char *expected) {
    struct cure room;
    assert_string_equal(cure(&room, text), expected);
}

BEHAVIOUR(a_number_of_another_country_is_told_with_a_point) {
    check_cure(cure_number, "12,5", "; write 12.5");
    check_cure(cure_number, "-0,75", "; write -0.75");
    check_cure(cure_number, ",5", "; write 0.5");
    check_cure(cure_number, "1'200", "; write 1200");
    check_cure(cure_number, "1 200,5", "; write 1200.5");
    check_cure(cure_number, " 12.5 ", "; write 12.5");
}

BEHAVIOUR(a_time_is_told_with_colons_and_two_digits) {
    check_cure(cure_time, "8:47", "; write 08:47");
    check_cure(cure_time, "8.47", "; write 08:47");
    check_cure(cure_time, "10h42", "; write 10:42");
    check_cure(cure_time, "10.42.59", "; write 10:42:59");
    check_cure(cure_time, "10:42:59,5", "; write 10:42:59.5");
}

BEHAVIOUR(a_duration_is_told_with_a_point_alone) {
    check_cure(cure_duration, "83,45", "; write 83.45");
    check_cure(cure_duration, "00:01:23,4", "; write 00:01:23.4");
    check_cure(cure_duration, "1:23", "");
    check_cure(cure_duration, "1'23", "");
    check_cure(cure_duration, "1 230", "");
    check_cure(cure_duration, "1h23", "");
}

BEHAVIOUR(what_cannot_be_told_for_sure_is_left_alone) {
    check_cure(cure_number, "", "");
    check_cure(cure_number, "1.200,50", "");
    check_cure(cure_number, "1,2345", "");
    check_cure(cure_number, "12,5 s", "");
    check_cure(cure_number, "1 2", "");
    check_cure(cure_number, "12,5000000000000000000000000000000", "");
    check_cure(cure_number, "00000000000000000000000000000012,5", "");
    check_cure(cure_time, "half past ten", "");
    check_cure(cure_time, "25:61", "");
    check_cure(cure_time, "-8:47", "");
    check_cure(cure_time, "", "");
    check_cure(cure_duration, "1,5,5", "");
    check_cure(cure_duration, "0000000000000000000000001,5", "");
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_number_of_another_country_is_told_with_a_point),
        cmocka_unit_test(a_time_is_told_with_colons_and_two_digits),
        cmocka_unit_test(a_duration_is_told_with_a_point_alone),
        cmocka_unit_test(what_cannot_be_told_for_sure_is_left_alone),
    };
    return cmocka_run_group_tests_name("cure", tests, NULL, NULL);
}
