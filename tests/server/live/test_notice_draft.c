/* SPDX-License-Identifier: MIT */
/* What stands in the way of a classification, and what a notice would say. */
#include "testing.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "live/notice_draft.h"
#include "live/shared_model.h"
#include "store/stored_enquiries.h"
#include "store/stored_notices.h"

#define CONTROL(id) "{'day': 1, 'id': '" id "', 'kind': 'passage-control', 'name': 'Old Quay'}"
#define REVEALED_LATE                                                                              \
    "{'day': 1, 'id': 'PC2', 'kind': 'passage-control', 'name': 'Fulmar Bridge', "                 \
    "'reveal': 'closed'}"
#define SCORING "{'protest_period': '00:30:00', 'defaults': {'passage-control': {'missed': 300}}}"

enum { NOW_MS = 1000000, PERIOD_MS = 1800000 };

/* A snapshot as the writer makes one. */
static struct snapshot *snapshot_of(const struct event_text *texts) {
    struct shared_model *shared = shared_model_take(event_text_good(texts));
    struct snapshot *s = calloc(1, sizeof *s);
    assert_non_null(s);
    atomic_init(&s->refs, 1);
    s->set = ruling_set_new(shared);
    s->event = s->set->event;
    s->office_results.view = s->set->office_view;
    s->public_results.view = s->set->public_view;
    s->public_results.borrowed = true;
    s->public_results.revision = 7;
    assert_int_equal(scores_new(&s->event, s->office_results.view, &s->office_results.scores),
                     ERR_OK);
    shared_model_release(shared);
    return s;
}

static struct snapshot *snapshot_of_two_controls(const char *second, const char *readings,
                                                 const char *decisions) {
    char route[512];
    char rules[1024];
    (void)snprintf(route, sizeof route, "%s, %s", CONTROL("PC1"), second);
    (void)snprintf(rules, sizeof rules, RULES(FIVA, SCORING, "%s"), route);
    return snapshot_of(
        &(struct event_text){.rules = rules, .readings = readings, .decisions = decisions});
}

#define ALL_READ                                                                                   \
    "point,car,time\nPC1,1,09:00\nPC1,2,09:01\nPC1,5,09:02\nPC2,1,09:10\nPC2,2,09:11\n"            \
    "PC2,5,09:12\n"
#define ALL_CLOSED "kind,car,point,value,reason\nclose,,PC1,,r\nclose,,PC2,,r\n"

/* The words of what stands in the way, one after the other. */
static void check_obstacles(const struct noticeboard *board, const struct snapshot *s, bool final,
                            const char *expected) {
    struct obstacles obstacles;
    char words[512] = "";
    assert_int_equal(obstacles_find(board, s, final, NOW_MS, &obstacles), ERR_OK);
    for (size_t i = 0; i < obstacles.count; i++) {
        (void)strcat(words, obstacle_word(obstacles.list[i].kind));
        (void)strcat(words, ": ");
        (void)strcat(words, obstacles.list[i].text);
        (void)strcat(words, "\n");
    }
    assert_string_equal(words, expected);
    obstacles_clear(&obstacles);
}

/* A classification that was posted, its protest period over at `until`. */
static struct stored_notice posted(int64_t number, const char *kind, int64_t until) {
    return (struct stored_notice){
        .number = number, .kind = (char *)kind, .protest_until_ms = until};
}

BEHAVIOUR(nothing_stands_in_the_way_of_a_final_classification_once_all_is_done) {
    struct snapshot *s = snapshot_of_two_controls(CONTROL("PC2"), ALL_READ, ALL_CLOSED);
    struct stored_notice notices[] = {posted(1, "provisional", NOW_MS)};
    struct stored_enquiry cases[] = {
        {.number = 1, .kind = (char *)"protest", .car = (char *)"2", .answered_ms = 5}};
    struct noticeboard board = {
        .list = notices, .count = 1, .enquiries = cases, .enquiry_count = 1};
    check_obstacles(&board, s, true, "");
    snapshot_release(s);
}

BEHAVIOUR(a_test_that_is_hidden_stands_in_the_way_of_both) {
    struct snapshot *s = snapshot_of_two_controls(REVEALED_LATE, ALL_READ, NULL);
    struct noticeboard board = {0};
    check_obstacles(&board, s, false, "hidden: PC2 is still hidden from the public\n");
    snapshot_release(s);
    s = snapshot_of_two_controls(REVEALED_LATE, ALL_READ,
                                 "kind,car,point,value,reason\nclose,,PC2,,r\n");
    check_obstacles(&board, s, false, "");
    snapshot_release(s);
}

BEHAVIOUR(a_final_one_waits_for_a_provisional_one_and_its_protest_period) {
    struct snapshot *s = snapshot_of_two_controls(CONTROL("PC2"), ALL_READ, ALL_CLOSED);
    struct stored_notice notices[] = {
        posted(1, "bulletin", 0), posted(2, "provisional", NOW_MS + 1), posted(3, "bulletin", 0)};
    struct noticeboard board = {.list = notices, .count = 1};
    check_obstacles(&board, s, true, "no-provisional: no provisional classification is posted\n");
    board.count = 3;
    check_obstacles(
        &board, s, true,
        "protest-period: the protest period of notice 2 ends at 1970-01-01T00:16:40Z\n");
    notices[1].protest_until_ms = NOW_MS;
    check_obstacles(&board, s, true, "");
    /* A provisional one needs none before it. */
    board.count = 0;
    check_obstacles(&board, s, false, "");
    snapshot_release(s);
}

BEHAVIOUR(a_final_one_waits_for_cases_closed_points_and_doubts) {
    struct snapshot *s = snapshot_of_two_controls(
        CONTROL("PC2"),
        "point,car,time\nPC1,1,09:00\nPC1,1,09:04\nPC1,2,09:01\nPC1,5,09:02\nPC2,1,09:10\n"
        "PC2,2,09:11\nPC2,5,09:12\n",
        "kind,car,point,value,reason\nclose,,PC2,,r\n");
    struct stored_notice notices[] = {posted(1, "provisional", 0)};
    struct stored_enquiry cases[] = {
        {.number = 1, .kind = (char *)"enquiry", .car = (char *)"2", .answered_ms = 5},
        {.number = 2, .kind = (char *)"protest", .car = (char *)"5"}};
    struct noticeboard board = {
        .list = notices, .count = 1, .enquiries = cases, .enquiry_count = 2};
    struct obstacles obstacles;
    assert_int_equal(obstacles_find(&board, s, true, NOW_MS, &obstacles), ERR_OK);
    assert_int_equal(obstacles.count, 3);
    assert_int_equal(obstacles.list[0].kind, OBSTACLE_CASE);
    assert_int_equal(obstacles.list[0].number, 2);
    assert_int_equal(obstacles.list[0].car, 5);
    assert_int_equal(obstacles.list[1].kind, OBSTACLE_OPEN_POINT);
    assert_string_equal(obstacles.list[1].point, "PC1");
    assert_int_equal(obstacles.list[2].kind, OBSTACLE_DOUBT);
    assert_int_equal(obstacles.list[2].car, 1);
    assert_string_equal(obstacles.list[2].point, "PC1");
    assert_int_equal(obstacles.doubts, 1);
    obstacles_clear(&obstacles);
    /* None of them is asked about for a provisional one. */
    check_obstacles(&board, s, false, "");
    snapshot_release(s);
}

/* ---- what it would say ---- */

static struct notice_draft draft_of(const struct noticeboard *board, const struct snapshot *s,
                                    const char *kind, const char *title) {
    const struct notice_draft_request request = {"fell-trial", kind, title, "As read out."};
    struct notice_draft draft;
    assert_int_equal(notice_draft_make(&request, board, s, NOW_MS, &draft), ERR_OK);
    return draft;
}

BEHAVIOUR(a_notice_gets_the_next_number_and_replaces_the_last_classification) {
    struct snapshot *s = snapshot_of_two_controls(CONTROL("PC2"), ALL_READ, ALL_CLOSED);
    struct noticeboard board = {0};
    struct notice_draft first = draft_of(&board, s, "provisional", "");
    assert_int_equal(first.notice.number, 1);
    assert_int_equal(first.notice.supersedes, 0);
    assert_int_equal(first.notice.posted_ms, NOW_MS);
    assert_int_equal(first.notice.protest_until_ms, NOW_MS + PERIOD_MS);
    assert_string_equal(first.notice.title, "Provisional classification");
    assert_non_null(strstr(first.notice.content, "\"revision\":7"));
    struct stored_notice notices[] = {first.notice, posted(5, "bulletin", 0)};
    board = (struct noticeboard){.list = notices, .count = 2};
    assert_ptr_equal(notice_draft_last_classification(&board), &notices[0]);
    struct notice_draft next = draft_of(&board, s, "final", "");
    assert_int_equal(next.notice.number, 6);
    assert_int_equal(next.notice.supersedes, 1);
    assert_int_equal(next.notice.protest_until_ms, 0);
    assert_string_equal(next.notice.title, "Final classification");
    notice_draft_clear(&next);
    notice_draft_clear(&first);
    assert_null(notice_draft_last_classification(NULL));
    snapshot_release(s);
}

BEHAVIOUR(a_bulletin_has_no_tables_and_replaces_nothing) {
    struct snapshot *s = snapshot_of_two_controls(CONTROL("PC2"), ALL_READ, ALL_CLOSED);
    struct stored_notice notices[] = {posted(3, "provisional", 0)};
    struct noticeboard board = {.list = notices, .count = 1};
    struct notice_draft draft = draft_of(&board, s, "bulletin", "Fog");
    assert_int_equal(draft.notice.number, 4);
    assert_int_equal(draft.notice.supersedes, 0);
    assert_int_equal(draft.notice.protest_until_ms, 0);
    assert_string_equal(draft.notice.title, "Fog");
    assert_null(strstr(draft.notice.content, "\"standings\""));
    assert_non_null(strstr(draft.notice.content, "As read out."));
    notice_draft_clear(&draft);
    snapshot_release(s);
}

BEHAVIOUR(a_notice_that_does_not_read_cannot_be_replaced) {
    struct snapshot *s = snapshot_of_two_controls(CONTROL("PC2"), ALL_READ, ALL_CLOSED);
    struct stored_notice notices[] = {posted(1, "provisional", 0)};
    const struct notice_draft_request request = {"fell-trial", "final", "", ""};
    struct noticeboard board = {.list = notices, .count = 1};
    struct notice_draft draft;
    notices[0].content = (char *)"{\"tables\": ";
    assert_int_equal(notice_draft_make(&request, &board, s, NOW_MS, &draft), ERR_INPUT);
    notice_draft_clear(&draft);
    snapshot_release(s);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_stands_in_the_way_of_a_final_classification_once_all_is_done),
        cmocka_unit_test(a_test_that_is_hidden_stands_in_the_way_of_both),
        cmocka_unit_test(a_final_one_waits_for_a_provisional_one_and_its_protest_period),
        cmocka_unit_test(a_final_one_waits_for_cases_closed_points_and_doubts),
        cmocka_unit_test(a_notice_gets_the_next_number_and_replaces_the_last_classification),
        cmocka_unit_test(a_bulletin_has_no_tables_and_replaces_nothing),
        cmocka_unit_test(a_notice_that_does_not_read_cannot_be_replaced),
    };
    RUN_BEHAVIOURS(tests);
}
