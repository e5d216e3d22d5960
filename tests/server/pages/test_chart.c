/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "pages/chart.h"

static struct textbuf drawn;

static const char *svg(void) {
    return textbuf_text(&drawn);
}

static int count(const char *what) {
    int found = 0;
    for (const char *at = svg(); (at = strstr(at, what)) != NULL; at++)
        found++;
    return found;
}

static int clear(void **state) {
    (void)state;
    textbuf_clear(&drawn);
    return 0;
}

/* Numbers behind the nth `what`. */
static void numbers_after(const char *what, int n, int *out, int wanted) {
    const char *at = svg();
    for (int i = 0; i <= n; i++) {
        at = strstr(i == 0 ? at : at + 1, what);
        assert_non_null(at);
    }
    at += strlen(what);
    for (int i = 0; i < wanted; i++) {
        char *end;
        at += strcspn(at, "-0123456789");
        out[i] = (int)strtol(at, &end, 10);
        at = end;
    }
}

static void early_stands_left_of_the_line_and_late_right_of_it(void **state) {
    const struct chart_bar bars[] = {{"R1", 3000, 0, false, NULL},
                                     {"T1", 0, 12000, false, NULL},
                                     {"S1", 1000, 6000, true, NULL}};
    int axis[2];
    int early[3];
    int late[3];
    (void)state;
    chart_bars(&drawn, "name", bars, 3, false);
    numbers_after("class=\"axis\" d=\"M", 0, axis, 2);
    numbers_after("class=\"early\" d=\"M", 0, early, 3);
    numbers_after("class=\"late\" d=\"M", 0, late, 3);
    assert_int_equal(early[0], axis[0]);
    assert_int_equal(late[0], axis[0]);
    assert_true(early[2] < 0);
    assert_true(late[2] > 0);
    /* Lengths are in proportion, within a unit each. */
    assert_in_range(late[2], -early[2] * 4 - 5, -early[2] * 4 + 5);
    assert_true(axis[0] + early[2] > 40 && axis[0] + late[2] < 360);
    assert_int_equal(count("dropped"), 2);
    assert_int_equal(count("<text"), 7);
}

static void a_time_at_the_end_of_a_bar_has_room(void **state) {
    /* Of 12.5 px, nine to a figure at most. */
    enum { WIDTH = 360, TIME_WIDTH = 7 * 9 };
    const struct chart_bar bars[] = {{"S1", 0, 44000, false, NULL}, {"T1", 754000, 0, false, NULL}};
    int text[3][2];
    (void)state;
    chart_bars(&drawn, "name", bars, 2, true);
    assert_int_equal(count(">0:00:44<"), 1);
    assert_int_equal(count(">0:12:34<"), 1);
    for (int i = 0; i < 3; i++)
        numbers_after("<text x=", i, text[i], 1);
    numbers_after("<text class=\"end\" x=", 0, text[2], 1);
    assert_true(text[1][0] + TIME_WIDTH <= WIDTH);
    assert_true(text[2][0] >= TIME_WIDTH);
}

static void fails_stand_behind_what_was_late_and_have_room(void **state) {
    /* Of 12.5 px, eighteen letters at most: "1234.5, 12 échecs". */
    enum { WIDTH = 360, WORDS_WIDTH = 7 * 16 };
    const struct chart_bar bars[] = {{"R1", 0, 0, false, "1 fail"},
                                     {"S1", 9000, 120000, false, "12 fails"},
                                     {"T1", 0, 12000, false, NULL}};
    int text[2];
    (void)state;
    chart_bars(&drawn, "name", bars, 3, false);
    assert_int_equal(count(">1 fail<"), 1);
    assert_int_equal(count(">120, 12 fails<"), 1);
    assert_int_equal(count(">12<"), 1);
    assert_int_equal(count("class=\"late"), 2);
    numbers_after("<text x=", 3, text, 1);
    assert_true(text[0] + WORDS_WIDTH <= WIDTH);
}

static void nothing_lost_is_drawn_as_rows_without_bars(void **state) {
    const struct chart_bar bars[] = {{"R1", 0, 0, false, NULL}};
    (void)state;
    chart_bars(&drawn, "name", bars, 1, false);
    assert_int_equal(count(">R1<"), 1);
    assert_int_equal(count("class=\"early"), 0);
    chart_bars(&drawn, "name", bars, 0, false);
    assert_int_equal(count("<svg"), 1);
}

static void lines_end_at_their_labels_and_labels_stand_apart(void **state) {
    static const int64_t a[] = {0, 0, 0};
    static const int64_t b[] = {0, 5000, 100};
    static const int64_t c[] = {1000, 2000, 100};
    const struct chart_line lines[] = {{22, a}, {31, b}, {7, c}};
    const struct chart_mark marks[] = {{0, "05-20"}, {2, "05-21"}};
    int y[3];
    (void)state;
    chart_lines(&drawn, "name", lines, 3, 3, marks, 2, false);
    assert_int_equal(count("class=\"line l"), 3);
    assert_int_equal(count("class=\"mark\""), 2);
    for (int i = 0; i < 3; i++) {
        int at[2];
        numbers_after("class=\"name\" x=", i, at, 2);
        y[i] = at[1];
    }
    for (int i = 0; i < 3; i++) {
        for (int k = 0; k < i; k++)
            assert_true(abs(y[i] - y[k]) >= 14);
    }
    assert_true(y[0] < y[1] && y[0] < y[2]);
}

static void lines_that_cannot_be_drawn_are_not(void **state) {
    static const int64_t a[] = {0};
    const struct chart_line lines[] = {{22, a}};
    (void)state;
    chart_lines(&drawn, "name", lines, 1, 1, NULL, 0, false);
    chart_lines(&drawn, "name", lines, 0, 5, NULL, 0, false);
    assert_int_equal(drawn.len, 0);
}

static void the_marked_car_is_marked_where_it_is(void **state) {
    int64_t values[101];
    int low[2];
    int middle[2];
    (void)state;
    for (int i = 0; i < 101; i++)
        values[i] = (i - 50) * 1000;
    const struct chart_axis axis = {-45000, 45000, "-45", "+45"};
    chart_spread(&drawn, "name", values, 101, 0, &axis);
    numbers_after("class=\"mine\" d=\"M", 0, low, 2);
    chart_spread(&drawn, "name", values, 101, 50, &axis);
    numbers_after("class=\"mine\" d=\"M", 1, middle, 2);
    assert_true(low[0] < 20);
    assert_in_range(middle[0], 175, 185);
    assert_int_equal(count("class=\"zero\""), 2);
    assert_int_equal(count(">-45<"), 2);
}

static void the_range_leaves_out_the_few_that_are_far_off(void **state) {
    int64_t values[40];
    int64_t sorted[40];
    struct chart_axis axis = {.low_text = "a", .high_text = "b"};
    (void)state;
    for (int i = 0; i < 40; i++)
        values[i] = i;
    values[0] = -100000;
    values[39] = 100000;
    chart_range(values, 40, sorted, &axis);
    assert_int_equal(axis.low, 2);
    assert_int_equal(axis.high, 37);
    chart_range(values, 1, sorted, &axis);
    assert_int_equal(axis.low, -100000);
    assert_int_equal(axis.high, axis.low);
    /* All alike, and all far below zero. */
    chart_spread(&drawn, "name", values, 1, 0, &axis);
    assert_int_equal(count("class=\"zero\""), 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_teardown(early_stands_left_of_the_line_and_late_right_of_it, clear),
        cmocka_unit_test_teardown(a_time_at_the_end_of_a_bar_has_room, clear),
        cmocka_unit_test_teardown(fails_stand_behind_what_was_late_and_have_room, clear),
        cmocka_unit_test_teardown(nothing_lost_is_drawn_as_rows_without_bars, clear),
        cmocka_unit_test_teardown(lines_end_at_their_labels_and_labels_stand_apart, clear),
        cmocka_unit_test_teardown(lines_that_cannot_be_drawn_are_not, clear),
        cmocka_unit_test_teardown(the_marked_car_is_marked_where_it_is, clear),
        cmocka_unit_test_teardown(the_range_leaves_out_the_few_that_are_far_off, clear),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
