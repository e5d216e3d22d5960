/* SPDX-License-Identifier: MIT */
#include "base/problem.h"

#include <string.h>

#include "testing.h"

BEHAVIOUR(a_problem_names_file_and_line) {
    struct problems problems = {0};
    problems_add(&problems, PROBLEM_ERROR, "entries.csv", 12, "number “%s” is odd", "x");
    problems_add(&problems, PROBLEM_WARNING, "starts.csv", 0, "empty");
    assert_int_equal(problems.count, 2);
    assert_string_equal(problems.list[0].place, "entries.csv:12");
    assert_string_equal(problems.list[0].text, "number “x” is odd");
    assert_int_equal(problems.list[0].level, PROBLEM_ERROR);
    assert_string_equal(problems.list[1].place, "starts.csv");
    problems_clear(&problems);
}

BEHAVIOUR(texts_are_kept_as_copies) {
    struct problems problems = {0};
    char place[] = "event.json: route[3].day";
    char text[] = "is missing";
    problems_add_at(&problems, PROBLEM_ERROR, place, text);
    memset(place, '?', sizeof place - 1);
    memset(text, '?', sizeof text - 1);
    assert_string_equal(problems.list[0].place, "event.json: route[3].day");
    assert_string_equal(problems.list[0].text, "is missing");
    problems_clear(&problems);
}

BEHAVIOUR(levels_are_counted_apart_and_only_errors_are_fatal) {
    struct problems problems = {0};
    problems_add(&problems, PROBLEM_REFUSED, "readings.csv", 2, "refused");
    problems_add(&problems, PROBLEM_WARNING, "readings.csv", 1, "warned");
    problems_add(&problems, PROBLEM_DOUBT, "readings.csv", 0, "doubted");
    problems_add(&problems, PROBLEM_DOUBT, "readings.csv", 0, "doubted again");
    assert_false(problems_fatal(&problems));
    assert_int_equal(problems.by_level[PROBLEM_ERROR], 0);
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 1);
    assert_int_equal(problems.by_level[PROBLEM_WARNING], 1);
    assert_int_equal(problems.by_level[PROBLEM_DOUBT], 2);
    problems_add(&problems, PROBLEM_ERROR, "readings.csv", 1, "wrong");
    assert_true(problems_fatal(&problems));
    problems_clear(&problems);
}

BEHAVIOUR(a_long_list_keeps_its_order) {
    struct problems problems = {0};
    for (int i = 1; i <= 500; i++)
        problems_add(&problems, PROBLEM_DOUBT, "readings.csv", i, "%d", i);
    assert_int_equal(problems.count, 500);
    assert_string_equal(problems.list[0].place, "readings.csv:1");
    assert_string_equal(problems.list[499].place, "readings.csv:500");
    assert_string_equal(problems.list[499].text, "500");
    assert_false(problems_out_of_memory(&problems));
    problems_clear(&problems);
}

BEHAVIOUR(a_cleared_list_is_empty_and_can_be_used_again) {
    struct problems problems = {0};
    problems_add(&problems, PROBLEM_ERROR, "a", 1, "b");
    problems_clear(&problems);
    assert_int_equal(problems.count, 0);
    assert_false(problems_fatal(&problems));
    problems_add(&problems, PROBLEM_DOUBT, "c", 2, "d");
    assert_string_equal(problems.list[0].place, "c:2");
    problems_clear(&problems);
}

BEHAVIOUR(of_very_many_the_first_are_kept_and_all_are_counted) {
    struct problems problems = {0};
    for (int n = 0; n < PROBLEMS_KEPT + 50; n++)
        problems_add(&problems, PROBLEM_REFUSED, "readings.csv", n + 2, "row %d", n);
    problems_add(&problems, PROBLEM_ERROR, "starts.csv", 3, "is told all the same");
    assert_int_equal(problems.count, PROBLEMS_KEPT + 2);
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], PROBLEMS_KEPT + 50);
    assert_string_equal(problems.list[PROBLEMS_KEPT - 1].text, "row 9999");
    assert_string_equal(problems.list[PROBLEMS_KEPT].place, "readings.csv:10002");
    assert_string_equal(problems.list[PROBLEMS_KEPT].text,
                        "there are more of this kind from here on; they are not told");
    assert_string_equal(problems.list[PROBLEMS_KEPT + 1].text, "is told all the same");
    assert_true(problems_fatal(&problems));
    problems_clear(&problems);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_problem_names_file_and_line),
        cmocka_unit_test(texts_are_kept_as_copies),
        cmocka_unit_test(levels_are_counted_apart_and_only_errors_are_fatal),
        cmocka_unit_test(a_long_list_keeps_its_order),
        cmocka_unit_test(a_cleared_list_is_empty_and_can_be_used_again),
        cmocka_unit_test(of_very_many_the_first_are_kept_and_all_are_counted),
    };
    RUN_BEHAVIOURS(tests);
}
