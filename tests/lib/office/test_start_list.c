/* SPDX-License-Identifier: MIT */
#include "office/start_list.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event_text.h"
#include "testing.h"

/* Day one: one control, a point a minute late. Day two starts at 09:01, two minutes apart. */
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:10:00'}, "                      \
    "{'day': 2, 'id': 'TC2', 'kind': 'time-control', 'target': '00:10:00'}"
#define RATES "{'defaults': {'time-control': {'precision': 'minute', 'late': 1, 'missed': 900}}}"

/* Numbers 1, 2, 4, 7, 9 of periods C, D, E, C, D. */
#define FIVE_CARS                                                                                  \
    "number,driver,navigator,make,model,year,category\n"                                           \
    "1,Ann Alder,,Calder,Six,1925,\n2,Cai Birch,,Thornbeck,Ten,1934,\n"                            \
    "4,Dot Cedar,,Garrodine,Sport,1955,\n7,Eva Elder,,Calder,Four,1921,\n"                         \
    "9,Fay Fir,,Hexley,Stint,1938,\n"

/* Late by 3, 1, 0, 2 and 4 minutes: standings 4, 2, 7, 1, 9. */
#define READINGS "point,car,time\nTC1,1,08:14\nTC1,2,08:13\nTC1,4,08:14\nTC1,7,08:19\nTC1,9,08:23\n"

static struct event_text two_days(const char *readings, const char *decisions) {
    return (struct event_text){.rules = RULES_OF_TWO_DAYS(FIVA, RATES, ROUTE),
                               .entries = FIVE_CARS,
                               .readings = readings,
                               .decisions = decisions};
}

/* "4 09:01, 2 09:03, ..." for a day and a plan in JSON with ' for "; then each thing that was said
 * in a line of its own. The caller frees it. */
static char *listed(const struct event_text *texts, int day, const char *plan_text) {
    struct model *model = event_text_good(texts);
    struct problems problems = {0};
    struct start_plan plan;
    struct start_list list = {0};
    struct textbuf b = {0};
    bool flag = false;
    char *json = quoted(plan_text);
    assert_int_equal(start_plan_init(&plan, &model->event, day - 1), ERR_OK);
    int err = start_plan_read(&plan, json, strlen(json), "save", &flag, &problems);
    if (err == ERR_OK)
        err = start_list_make(&plan, &problems, &list);
    assert_int_equal(err, problems_fatal(&problems) ? ERR_INPUT : ERR_OK);
    for (int i = 0; err == ERR_OK && i < list.count; i++) {
        textbuf_printf(&b, "%s%d ", i > 0 ? ", " : "",
                       model->entries->list[list.rows[i].car].number);
        time_write_short(&b, list.rows[i].time);
    }
    char *said = problems_text(&problems);
    if (*said != '\0')
        textbuf_printf(&b, "\n%s", said);
    textbuf_puts(&b, "");
    free(said);
    free(json);
    start_list_clear(&list);
    start_plan_clear(&plan);
    problems_clear(&problems);
    model_free(model);
    assert_false(b.failed);
    return b.bytes;
}

static void check(int day, const char *plan, const char *expected) {
    struct event_text texts = two_days(READINGS, NULL);
    char *got = listed(&texts, day, plan);
    assert_string_equal(got, expected);
    free(got);
}

static void check_with(const char *decisions, const char *plan, const char *expected) {
    struct event_text texts = two_days(READINGS, decisions);
    char *got = listed(&texts, 2, plan);
    assert_string_equal(got, expected);
    free(got);
}

BEHAVIOUR(by_number_no_gap_is_left_for_a_number_that_nobody_has) {
    check(1, "{}", "1 08:01, 2 08:02, 4 08:03, 7 08:04, 9 08:05");
    check(2, "{'order': 'number', 'first': '10:00', 'interval': 90}",
          "1 10:00, 2 10:01:30, 4 10:03, 7 10:04:30, 9 10:06");
    check(1, "{'order': 'reversed'}", "9 08:01, 7 08:02, 4 08:03, 2 08:04, 1 08:05");
}

BEHAVIOUR(by_standings_of_the_days_before) {
    check(2, "{'order': 'standings'}", "4 09:01, 2 09:03, 7 09:05, 1 09:07, 9 09:09");
    check(2, "{'order': 'standings-reversed'}", "9 09:01, 1 09:03, 7 09:05, 2 09:07, 4 09:09");
    check(1, "{'order': 'standings'}",
          "\nstarts.csv: day 1 follows no standings: order it by number, reversed or by era\n");
}

BEHAVIOUR(the_first_so_many_are_reversed_and_the_rest_follows) {
    check(2, "{'order': 'standings-reversed', 'reverse_first': 3}",
          "7 09:01, 2 09:03, 4 09:05, 1 09:07, 9 09:09");
    check(2,
          "{'order': 'standings-reversed', 'reverse_first': 2, 'rest': 'number', "
          "'interval_first': '00:05'}",
          "2 09:01, 4 09:06, 1 09:11, 7 09:13, 9 09:15");
    check(2, "{'order': 'standings-reversed', 'reverse_first': 99}",
          "9 09:01, 1 09:03, 7 09:05, 2 09:07, 4 09:09");
}

BEHAVIOUR(by_era_the_oldest_first) {
    check(1, "{'order': 'era'}", "1 08:01, 7 08:02, 2 08:03, 9 08:04, 4 08:05");
}

BEHAVIOUR(a_group_has_its_interval_and_a_car_its_gap) {
    check(1, "{'order': 'era', 'intervals': {'C': '00:03:00'}, 'gaps': {'2': '00:10'}}",
          "1 08:01, 7 08:04, 2 08:07, 9 08:18, 4 08:19");
}

BEHAVIOUR(late_cars_start_at_the_end_or_at_their_time) {
    check(1, "{'late': {'1': 'end'}}", "2 08:01, 4 08:02, 7 08:03, 9 08:04, 1 08:05");
    check(1, "{'late': {'2': '08:02:30', '9': 'end'}}",
          "1 08:01, 4 08:02, 2 08:02:30, 7 08:03, 9 08:04");
    check(1, "{'late': {'9': '08:01'}}",
          "1 08:01, 9 08:01, 2 08:02, 4 08:03, 7 08:04\n"
          "starts.csv: cars 1 and 9 start together\n");
}

BEHAVIOUR(retired_and_disqualified_cars_are_left_out) {
    check_with("kind,car,point,value,reason\nretire,2,TC1,,axle\ndisqualify,7,,,short cut\n",
               "{'order': 'standings'}", "4 09:01, 1 09:03, 9 09:05");
    check_with("kind,car,point,value,reason\nretire,2,TC1,,axle\nrejoin,2,,2,mended\n",
               "{'order': 'number'}", "1 09:01, 2 09:03, 4 09:05, 7 09:07, 9 09:09");
    check_with("kind,car,point,value,reason\nretire,2,TC1,,axle\n", "{'late': {'2': 'end'}}",
               "\nstarts.csv: car 2 is out before day 2 and cannot start it\n");
}

BEHAVIOUR(a_car_without_a_place_starts_behind_the_others_and_is_told) {
    struct event_text texts =
        two_days("point,car,time\nTC1,1,08:14\nTC1,4,08:14\nTC1,7,08:19\nTC1,9,08:23\n", NULL);
    char *got = listed(&texts, 2, "{'order': 'standings-reversed'}");
    assert_string_equal(
        got,
        "9 09:01, 1 09:03, 7 09:05, 4 09:07, 2 09:09\nstarts.csv: car 2 still awaits a reading and starts behind those with a place\n");
    free(got);
}

BEHAVIOUR(what_the_public_does_not_see_yet_is_told) {
    struct event_text texts = {
        .rules =
            RULES_OF_TWO_DAYS(FIVA, RATES,
                              "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
                              "'speed': 40}], 'checks': [{'at': 5}]}, " ROUTE)};
    char *got = listed(&texts, 2, "{'order': 'standings'}");
    assert_non_null(strstr(got, "the order tells of R1, which the public does not see yet"));
    free(got);
}

BEHAVIOUR(a_wrong_plan_is_told_place_by_place) {
    check(1,
          "{'order': 'luck', 'first': '8', 'late': {'3': 'end', '1': 'soon'}, 'colour': 1, "
          "'intervals': {'Z': 60}, 'gaps': [], 'rest': {}, 'reverse_first': 0}",
          "\nplan: colour: unknown key\n"
          "plan: order: “luck” must be number, reversed, standings, standings-reversed or era\n"
          "plan: first: “8” is no time of day: write HH:MM:SS\n"
          "plan: reverse_first: “0” is no whole number from 1\n"
          "plan: rest: must be a text or a number\n"
          "plan: intervals: “Z” is no class, category or period\n"
          "plan: gaps: must be an object\n"
          "plan: late: car “3” is not in the entry list\n"
          "plan: late: “soon” is no time of day: write HH:MM:SS\n");
    check(1, "[]", "\nplan: (the whole file): must be an object\n");
    check(1, "{'first': '47:57'}",
          "\nstarts.csv: car 7 would start later than 47:59:59\n"
          "starts.csv: car 9 would start later than 47:59:59\n");
}

BEHAVIOUR(an_interval_of_a_class_goes_before_one_of_its_period) {
    struct event_text texts = {
        .rules = RULES("{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1000}, {'id': '2'}], "
                       "'categories': [{'id': 'club', 'name': 'Club'}]}",
                       "{}", "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': 60}"),
        .entries = "number,driver,navigator,make,model,year,engine_cc,category\n"
                   "1,A,,M,X,1925,900,\n2,B,,M,X,1925,2000,\n3,C,,M,X,1925,2000,club\n"
                   "4,D,,M,X,1955,2000,\n"};
    char *got = listed(&texts, 1, "{'intervals': {'C': 120, 'C-1': 180, 'club': 240}}");
    assert_string_equal(got, "1 08:01, 2 08:04, 3 08:06, 4 08:10");
    free(got);
}

/* What starts.csv becomes when day two is saved into it. */
static void check_merge(const char *old, const char *expected) {
    struct event_text texts = two_days(READINGS, NULL);
    struct model *model = event_text_good(&texts);
    struct start_row rows[] = {{2, 34260000, 1}, {0, 34320500, 2}};
    struct start_list list = {1, rows, 2};
    struct textbuf b = {0};
    assert_int_equal(start_list_merge(&list, &model->event, old, old == NULL ? 0 : strlen(old), &b),
                     expected == NULL ? ERR_INPUT : ERR_OK);
    if (expected != NULL)
        assert_string_equal(textbuf_text(&b), expected);
    textbuf_clear(&b);
    model_free(model);
}

BEHAVIOUR(other_days_of_starts_csv_stay_as_they_are) {
    check_merge(NULL, "day,car,time\r\n2,4,09:31:00\r\n2,1,09:32:00.5\r\n");
    check_merge("car;time;note;day\n2;8:05;\"fog; \"\"ice\"\"\";1\n4;09:00;;2\n",
                "day,car,time,note\r\n1,2,8:05,\"fog; \"\"ice\"\"\"\r\n2,4,09:31:00,\r\n"
                "2,1,09:32:00.5,\r\n");
    check_merge("day,car\n1,2\n", NULL);
    check_merge("day,car,time\nx,2,08:00\n", NULL);
    check_merge("day,car,time\n1,2\n", NULL);
}

BEHAVIOUR(a_list_for_people_has_room_for_remarks) {
    struct event_text texts = two_days(READINGS, NULL);
    struct model *model = event_text_good(&texts);
    struct start_row rows[] = {{2, 34260000, 1}, {0, 34320000, 0}};
    struct start_list list = {1, rows, 2};
    struct textbuf b = {0};
    start_list_text(&list, &model->event, &b);
    assert_non_null(strstr(textbuf_text(&b), "Fell Trial — start list, day 2, 2027-05-21\n"));
    assert_non_null(strstr(textbuf_text(&b), "Remarks"));
    assert_non_null(strstr(textbuf_text(&b), "09:31   4  Dot Cedar  Garrodine Sport  1955  E"));
    textbuf_reset(&b);
    start_write_json(&b, &model->event, 0, 34320000);
    assert_string_equal(textbuf_text(&b),
                        "{\"car\":1,\"time\":\"09:32:00\",\"crew\":[\"Ann Alder\"],"
                        "\"vehicle\":\"Calder Six\",\"year\":1925,\"class\":\"C\"}");
    textbuf_clear(&b);
    model_free(model);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_number_no_gap_is_left_for_a_number_that_nobody_has),
        cmocka_unit_test(by_standings_of_the_days_before),
        cmocka_unit_test(the_first_so_many_are_reversed_and_the_rest_follows),
        cmocka_unit_test(by_era_the_oldest_first),
        cmocka_unit_test(a_group_has_its_interval_and_a_car_its_gap),
        cmocka_unit_test(late_cars_start_at_the_end_or_at_their_time),
        cmocka_unit_test(retired_and_disqualified_cars_are_left_out),
        cmocka_unit_test(a_car_without_a_place_starts_behind_the_others_and_is_told),
        cmocka_unit_test(what_the_public_does_not_see_yet_is_told),
        cmocka_unit_test(a_wrong_plan_is_told_place_by_place),
        cmocka_unit_test(an_interval_of_a_class_goes_before_one_of_its_period),
        cmocka_unit_test(other_days_of_starts_csv_stay_as_they_are),
        cmocka_unit_test(a_list_for_people_has_room_for_remarks),
    };
    RUN_BEHAVIOURS(tests);
}
