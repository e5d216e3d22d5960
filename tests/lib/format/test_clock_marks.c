/* SPDX-License-Identifier: MIT */
#include "format/clock_marks.h"

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

enum { HOUR = 3600000, TEN = 10 * HOUR };

static void add(struct clock_marks *marks, const char *text, int expected) {
    struct textbuf why = {0};
    int err = clock_marks_add(marks, text, &why);
    if (err != expected || (why.len > 0) != (err != ERR_OK))
        fail_msg("“%s” gave %d: %s", text, err, textbuf_text(&why));
    textbuf_clear(&why);
}

static void check(const struct clock_marks *marks, int64_t device, int64_t event,
                  int64_t uncertainty) {
    int64_t told = -1;
    int64_t at = clock_marks_event(marks, device, &told);
    if (at != event || told != uncertainty)
        fail_msg("%lld gave %lld +- %lld", (long long)device, (long long)at, (long long)told);
}

BEHAVIOUR(without_a_mark_a_time_stays) {
    const struct clock_marks none = {0};
    check(&none, TEN, TEN, 0);
    assert_int_equal(clock_marks_drift(&none), 0);
}

/* 50 millionths of an hour are 180 ms. */
BEHAVIOUR(one_mark_gives_the_distance_and_doubts_more_the_longer_ago) {
    struct clock_marks marks = {0};
    add(&marks, "10:00:00.00=10:00:47.21", ERR_OK);
    check(&marks, TEN, TEN + 47210, 10);
    check(&marks, TEN + HOUR, TEN + HOUR + 47210, 190);
    check(&marks, TEN - HOUR, TEN - HOUR + 47210, 190);
    assert_int_equal(clock_marks_drift(&marks), 0);
}

/* The device gains 200 ms in two hours, 27.8 millionths. At 11:00 it is 100 ms ahead of its mark;
 * an hour behind the last, half the time between them, both marks' 100 ms are half as much again.
 */
BEHAVIOUR(two_marks_give_the_drift) {
    struct clock_marks marks = {0};
    add(&marks, "12:00:00.2=12:00:05.0", ERR_OK);
    add(&marks, "10:00:00.0=10:00:05.0", ERR_OK);
    check(&marks, TEN, TEN + 5000, 101);
    check(&marks, TEN + 2 * HOUR + 200, TEN + 2 * HOUR + 5000, 101);
    check(&marks, TEN + HOUR + 100, TEN + HOUR + 5000, 101);
    check(&marks, TEN + 3 * HOUR + 300, TEN + 3 * HOUR + 5000, 201);
    check(&marks, TEN - HOUR - 100, TEN - HOUR + 5000, 201);
    assert_int_equal(clock_marks_drift(&marks), 27);
}

BEHAVIOUR(seconds_of_the_day_may_stand_on_either_side) {
    struct clock_marks marks = {0};
    add(&marks, "12.500=10:00:00.000", ERR_OK);
    check(&marks, 13500, TEN + 1000, 2);
}

BEHAVIOUR(marks_that_cannot_be_are_refused) {
    struct clock_marks marks = {0};
    add(&marks, "10:00:00", ERR_INPUT);
    add(&marks, "=10:00:00", ERR_INPUT);
    add(&marks, "10:00:00=soon", ERR_INPUT);
    add(&marks, "10:00:00=10:00:00", ERR_OK);
    add(&marks, "10:00:00=10:00:01", ERR_INPUT);
    add(&marks, "11:00:00=11:01:00", ERR_INPUT);
    add(&marks, "11:00:00=09:00:00", ERR_INPUT);
    add(&marks, "11:00:00=11:00:01", ERR_OK);
    add(&marks, "12:00:00=12:00:02", ERR_INPUT);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(without_a_mark_a_time_stays),
        cmocka_unit_test(one_mark_gives_the_distance_and_doubts_more_the_longer_ago),
        cmocka_unit_test(two_marks_give_the_drift),
        cmocka_unit_test(seconds_of_the_day_may_stand_on_either_side),
        cmocka_unit_test(marks_that_cannot_be_are_refused),
    };
    RUN_BEHAVIOURS(tests);
}
