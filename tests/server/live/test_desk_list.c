/* SPDX-License-Identifier: MIT */
/* What each desk has sent, read back from the readings, and what is missing of it. */
#include "testing.h"

#include <stdio.h>
#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "live/desk_list.h"
#include "live/served_event.h"

#define CONTROL "{'day': 1, 'id': 'PC1', 'kind': 'passage-control', 'name': 'Fulmar Bridge'}"
#define HEAD "point,car,time,id,replaces,void,reason,desk,seq\n"

static struct served_event event = {.slug = "fell-trial"};

static struct model *read_readings(const char *readings) {
    struct event_text texts = {
        .rules = RULES(FIVA, "{'defaults': {'passage-control': {'missed': 300}}}", CONTROL),
        .readings = readings};
    return event_text_good(&texts);
}

static struct desk_gaps gaps_of(const char *readings, struct desk_reports *board) {
    struct model *model = read_readings(readings);
    struct desk_gaps gaps;
    assert_int_equal(desk_list_gaps(&model->event, &event, board, &gaps), ERR_OK);
    model_free(model);
    return gaps;
}

static void check(struct desk_gaps gaps, int desks, int with_gaps, int64_t missing) {
    assert_int_equal(gaps.desks, desks);
    assert_int_equal(gaps.with_gaps, with_gaps);
    assert_int_equal(gaps.missing, missing);
}

static void report(struct desk_reports *board, const char *desk, int64_t last_seq) {
    struct desk_report r = {.served = &event, .last_seq = last_seq, .received_ms = 1};
    (void)snprintf(r.desk, sizeof r.desk, "%s", desk);
    desk_reports_put(board, &r);
}

BEHAVIOUR(desks_come_in_order_of_their_ids_with_readings_in_order_of_numbers) {
    struct desk_reports *board = desk_reports_new();
    struct model *model = read_readings(HEAD "PC1,1,09:00,a,,,,bbbbbbbb,2\n"
                                             "PC1,2,09:01,b,,,,aaaaaaaa,9\n"
                                             "PC1,5,09:02,c,,,,,3\n"           /* no desk */
                                             "PC1,5,09:03,d,,,,Not a desk,4\n" /* none either */
                                             "PC1,5,09:04,e,,,,bbbbbbbb,1\n"
                                             "PC1,5,09:05,f,,,,aaaaaaaa,\n");
    struct desk_list list;
    struct desk desk;
    report(board, "cccccccc", 4);
    report(board, "bbbbbbbb", 1);
    assert_int_equal(desk_list_make(&model->event, &event, board, &list), ERR_OK);
    assert_true(desk_list_next(&list, &desk));
    assert_string_equal(desk.id, "aaaaaaaa");
    assert_null(desk.report);
    assert_int_equal(desk.reading_count, 2);
    assert_int_equal(desk.readings[0].seq, 0);
    assert_int_equal(desk.readings[0].index, 5);
    assert_int_equal(desk.readings[1].seq, 9);
    assert_int_equal(desk.first, 9);
    assert_int_equal(desk.here, 1);
    assert_true(desk_list_next(&list, &desk));
    assert_string_equal(desk.id, "bbbbbbbb");
    assert_int_equal(desk.report->last_seq, 1);
    assert_int_equal(desk.reading_count, 2);
    assert_int_equal(desk.first, 1);
    assert_int_equal(desk.last, 2);
    assert_true(desk_list_next(&list, &desk));
    assert_string_equal(desk.id, "cccccccc");
    assert_int_equal(desk.reading_count, 0);
    assert_int_equal(desk.first, 0);
    assert_int_equal(desk.last, 4);
    assert_false(desk_list_next(&list, &desk));
    desk_list_clear(&list);
    desk_reports_free(board);
    model_free(model);
}

BEHAVIOUR(a_number_that_is_not_here_is_a_gap) {
    struct desk_reports *board = desk_reports_new();
    check(gaps_of(NULL, board), 0, 0, 0);
    check(gaps_of(HEAD "PC1,1,09:00,a,,,,aaaaaaaa,1\nPC1,2,09:01,b,,,,aaaaaaaa,2\n", board), 1, 0,
          0);
    check(gaps_of(HEAD "PC1,1,09:00,a,,,,aaaaaaaa,1\nPC1,2,09:01,b,,,,aaaaaaaa,4\n", board), 1, 1,
          2);
    /* The first is missing, too; and a number that came twice counts once. */
    check(gaps_of(HEAD "PC1,1,09:00,a,,,,aaaaaaaa,3\nPC1,2,09:01,b,,,,aaaaaaaa,3\n", board), 1, 1,
          2);
    /* What is no sequence number is ignored. */
    check(gaps_of(HEAD "PC1,1,09:00,a,,,,aaaaaaaa,one\nPC1,2,09:01,b,,,,aaaaaaaa,1000001\n", board),
          1, 0, 0);
    desk_reports_free(board);
}

BEHAVIOUR(a_desk_may_say_that_it_gave_out_more) {
    struct desk_reports *board = desk_reports_new();
    report(board, "aaaaaaaa", 5);
    report(board, "cccccccc", 0); /* has sent nothing yet */
    report(board, "dddddddd", 2);
    check(gaps_of(HEAD "PC1,1,09:00,a,,,,aaaaaaaa,1\nPC1,2,09:01,b,,,,bbbbbbbb,1\n", board), 4, 2,
          6);
    /* What came is here, whatever an old report says. */
    check(gaps_of(HEAD "PC1,1,09:00,a,,,,dddddddd,1\nPC1,2,09:01,b,,,,dddddddd,2\n"
                       "PC1,5,09:02,c,,,,dddddddd,3\n",
                  board),
          3, 1, 5);
    desk_reports_free(board);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(desks_come_in_order_of_their_ids_with_readings_in_order_of_numbers),
        cmocka_unit_test(a_number_that_is_not_here_is_a_gap),
        cmocka_unit_test(a_desk_may_say_that_it_gave_out_more),
    };
    RUN_BEHAVIOURS(tests);
}
