/* SPDX-License-Identifier: MIT */
/* The latest report of each desk. */
#include "testing.h"

#include <stdio.h>
#include <string.h>

#include "live/desk_reports.h"
#include "live/served_event.h"
#include "system/hard_limits.h"

static struct served_event here = {.slug = "here"};
static struct served_event elsewhere = {.slug = "elsewhere"};
static struct desk_report list[LIMIT_DESKS];

static void put(struct desk_reports *board, const struct served_event *event, unsigned desk,
                int64_t received_ms) {
    struct desk_report report = {.served = event, .received_ms = received_ms, .last_seq = desk};
    (void)snprintf(report.desk, sizeof report.desk, "%08x", desk);
    desk_reports_put(board, &report);
}

BEHAVIOUR(a_report_takes_the_place_of_the_desks_earlier_one) {
    struct desk_reports *board = desk_reports_new();
    assert_int_equal(desk_reports_list(board, &here, list), 0);
    put(board, &here, 7, 100);
    put(board, &here, 7, 200);
    assert_int_equal(desk_reports_list(board, &here, list), 1);
    assert_int_equal(list[0].received_ms, 200);
    assert_string_equal(list[0].desk, "00000007");
    desk_reports_free(board);
}

/* A browser may have a desk of the same id at two events. */
BEHAVIOUR(each_event_has_its_own_in_order_of_desk) {
    static const unsigned desks[] = {0xb2, 0x1f, 0xa0};
    struct desk_reports *board = desk_reports_new();
    for (size_t i = 0; i < COUNT_OF(desks); i++)
        put(board, &here, desks[i], 1);
    put(board, &elsewhere, 0xa0, 2);
    assert_int_equal(desk_reports_list(board, &here, list), 3);
    assert_string_equal(list[0].desk, "0000001f");
    assert_string_equal(list[1].desk, "000000a0");
    assert_string_equal(list[2].desk, "000000b2");
    assert_int_equal(list[1].received_ms, 1);
    assert_int_equal(desk_reports_list(board, &elsewhere, list), 1);
    assert_int_equal(list[0].received_ms, 2);
    desk_reports_free(board);
}

BEHAVIOUR(where_it_is_full_the_oldest_report_goes) {
    struct desk_reports *board = desk_reports_new();
    for (unsigned i = 0; i < LIMIT_DESKS; i++)
        put(board, &here, i, i == 5 ? 10 : 100 + (int64_t)i);
    put(board, &here, LIMIT_DESKS, 10000);
    assert_int_equal(desk_reports_list(board, &here, list), LIMIT_DESKS);
    for (size_t i = 0; i < LIMIT_DESKS; i++)
        assert_string_not_equal(list[i].desk, "00000005");
    assert_int_equal(list[LIMIT_DESKS - 1].last_seq, LIMIT_DESKS);
    /* One that is there already pushes nobody out. */
    put(board, &here, LIMIT_DESKS, 10001);
    assert_int_equal(desk_reports_list(board, &here, list), LIMIT_DESKS);
    assert_string_equal(list[0].desk, "00000000");
    desk_reports_free(board);
    desk_reports_free(NULL);
}

BEHAVIOUR(the_id_of_a_desk_is_eight_hexadecimal_digits) {
    static const char *const wrong[] = {"",         "0123456",  "012345678",
                                        "0123456G", "0123456A", "0123 567"};
    assert_true(desk_id_is_good("0123abcf"));
    for (size_t i = 0; i < COUNT_OF(wrong); i++)
        assert_false(desk_id_is_good(wrong[i]));
}

BEHAVIOUR(the_state_of_a_clock_has_a_word) {
    assert_string_equal(desk_clock_word(DESK_CLOCK_GOOD), "good");
    assert_string_equal(desk_clock_word(DESK_CLOCK_DOUBTFUL), "doubtful");
    assert_string_equal(desk_clock_word(DESK_CLOCK_UNVERIFIED), "unverified");
    assert_string_equal(desk_clock_word(DESK_CLOCK_WRONG), "wrong");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_report_takes_the_place_of_the_desks_earlier_one),
        cmocka_unit_test(each_event_has_its_own_in_order_of_desk),
        cmocka_unit_test(where_it_is_full_the_oldest_report_goes),
        cmocka_unit_test(the_id_of_a_desk_is_eight_hexadecimal_digits),
        cmocka_unit_test(the_state_of_a_clock_has_a_word),
    };
    RUN_BEHAVIOURS(tests);
}
