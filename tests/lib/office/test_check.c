/* SPDX-License-Identifier: MIT */
#include "office/check.h"

#include <string.h>

#include "base/textbuf.h"
#include "told_doubts.h"

#define REGULARITY(speed, checks)                                                                  \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': " speed          \
    "}], 'checks': [" checks "]}"

BEHAVIOUR(an_event_in_order_raises_no_doubt) {
    struct event_text texts = {
        .rules = RULES(FIVA, "{}",
                       CONTROL("TC1", ", 'distance': 30") ", " REGULARITY(
                           "50", "{'at': 5}") ", " CONTROL("TC2", ", 'distance': 37.5")),
        .entries = ALIKE,
        .readings = "point,car,time\nTC1,1,08:46\nR1/start,1,09:00:00\nR1/1,1,09:06:00\n"
                    "TC2,1,09:31\n"};
    check(&texts, "");
}

BEHAVIOUR(a_key_of_a_special_test_that_changes_nothing_is_told) {
    static const struct {
        const char *keys, *doubt;
    } rows[] = {
        {"'counts': 'sum'",
         "event.json: route[0].counts: changes nothing, since there is one attempt: say how many in “attempts”\n"},
        {"'attempts': 2, 'counts': 'sum'", ""},
        {"'best': 'result'",
         "event.json: route[0].best: changes nothing, since no best is looked for: say “behind-best” as method, or a maximum by the best\n"},
        {"'best': 'result', 'method': 'behind-best'", ""},
        {"'best': 'faultless', 'maximum': {'best': 'class', 'plus': 30}, 'faults': {'cone': 5}",
         ""},
        {"'best': 'faultless', 'maximum': {'best': 'class', 'plus': 30}",
         "event.json: route[0].best: changes nothing, since the test names no faults: name them in “faults”\n"},
        {"'maximum': {'best': 'category', 'plus': 30}",
         "event.json: route[0].maximum.best: is that of all cars, since there are no categories: name them in “classes.categories”, or say “overall”\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf rules = {0};
        textbuf_printf(&rules,
                       RULES(FIVA, "{}", "{'day': 1, 'id': 'S1', 'kind': 'special-test', %s}"),
                       rows[i].keys);
        check_route(textbuf_text(&rules), rows[i].doubt);
        textbuf_clear(&rules);
    }
}

/* A second attempt in another round: its times rise along the test's own attempts alone. */
BEHAVIOUR(attempts_are_in_order_among_themselves) {
    static const char route[] =
        "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'attempts': 2}, "
        "{'day': 1, 'id': 'S2', 'kind': 'special-test', 'attempts': 2, 'counts': 'sum'}";
    static const struct {
        const char *readings, *doubts;
    } rows[] = {
        {"S1/start,1,09:00\nS1/finish,1,09:01\nS2/start,1,09:10\nS2/finish,1,09:11\n"
         "S1/start-2,1,09:20\nS1/finish-2,1,09:21\nS2/start-2,1,09:30\nS2/finish-2,1,09:31\n",
         ""},
        {"S1/start,1,09:00\nS1/finish,1,09:01\nS2/start,1,09:10\nS2/finish,1,09:11\n", ""},
        {"S1/start,1,09:20\nS1/finish,1,09:21\nS1/start-2,1,09:10\nS1/finish-2,1,09:09\n",
         "readings.csv: car 1 at S1/start-2: 09:10:00 is before S1/finish at 09:21:00\n"
         "readings.csv: car 1 at S1/finish-2: 09:09:00 is before S1/start-2 at 09:10:00\n"},
        {"S1/start,1,09:00\nS1/start-2,1,09:10\nS2/finish,1,09:20\n",
         "readings.csv: car 1 at S1/finish: no reading, but the car was read further on\n"
         "readings.csv: car 1 at S1/finish-2: no reading, but the car was read further on\n"},
        {"S2/finish,1,09:20\n",
         "readings.csv: car 1 at S1/finish: no reading, but the car was read further on\n"},
        {"S1/finish-2,1,09:20\n",
         "readings.csv: car 1 at S1/finish: no reading, but the car was read further on\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf readings = {0};
        textbuf_printf(&readings, "point,car,time\n%s", rows[i].readings);
        struct textbuf rules = {0};
        textbuf_printf(&rules, RULES(FIVA, "{}", "%s"), route);
        check(&(struct event_text){.rules = textbuf_text(&rules),
                                   .entries = ALIKE,
                                   .readings = textbuf_text(&readings)},
              rows[i].doubts);
        textbuf_clear(&readings);
        textbuf_clear(&rules);
    }
}

BEHAVIOUR(a_fast_average_is_doubted_with_the_caution) {
    check_route(
        RULES(FIVA, "{}", REGULARITY("50.001", "{'at': 5}")),
        "event.json: route[0].speeds[0].speed: average of 50.001 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n");
    check_route(
        RULES(FIVA, "{}", CONTROL("TC1", ", 'distance': 37.501")),
        "event.json: route[0].target: average of 50.001 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n");
}

BEHAVIOUR(a_given_ideal_is_too_fast_by_its_own_distance) {
    check_route(
        RULES(FIVA, "{}",
              "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'checks': [{'at': 5, "
              "'ideal': '00:05:00'}]}"),
        "event.json: route[0].checks[0]: average of 60 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n");
}

BEHAVIOUR(miles_have_their_own_limit) {
    check_route("{'name': 'X', 'slug': 'x', 'timezone': 'UTC', 'unit': 'mi', 'days': "
                "[{'date': '2027-05-20', 'first_start': '08:01', 'interval': 60}], 'classes': " FIVA
                ", 'route': [" REGULARITY("30", "{'at': 3}") "]}",
                "");
    check_route(
        "{'name': 'X', 'slug': 'x', 'timezone': 'UTC', 'unit': 'mi', 'days': "
        "[{'date': '2027-05-20', 'first_start': '08:01', 'interval': 60}], 'classes': " FIVA
        ", 'route': [" REGULARITY("30.5", "{'at': 3}") "]}",
        "event.json: route[0].speeds[0].speed: average of 30.5 mph is above the published limit of 30 mph (UK rules); local law and permits decide, and speed limits come first\n");
}

BEHAVIOUR(a_check_too_near_its_start_is_doubted) {
    check_route(
        RULES(FIVA, "{}", REGULARITY("36", "{'at': 0.59}, {'at': 5}")),
        "event.json: route[0].checks[0]: is less than a minute from the start: nearer than it could be timed\n");
    check_route(RULES(FIVA, "{}", REGULARITY("36", "{'at': 0.6}, {'at': 5}")), "");
}

BEHAVIOUR(ideals_that_do_not_grow_are_doubted) {
    check_route(
        RULES(FIVA, "{}",
              "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'checks': [{'ideal': 300}, "
              "{'ideal': 300}]}"),
        "event.json: route[0].checks[1]: its ideal time is not after that of the check before\n");
}

BEHAVIOUR(a_target_shorter_than_the_tests_inside_it_is_doubted) {
    check_route(
        RULES(
            FIVA, "{}",
            REGULARITY(
                "36",
                "{'at': 9}") ", {'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:14:00'}"),
        "event.json: route[1].target: the target of 14 min is shorter than the tests inside it, 15 min\n");
    /* A test's own end on the road, and the control behind it, which holds nothing any more. */
    check_route(
        RULES(FIVA, "{}",
              "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'checks': [{'ideal': '00:15:00'}], "
              "'finish': 'control', 'target': '00:14:00'}, "
              "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:01:00'}"),
        "event.json: route[0].target: the target of 14 min is shorter than the tests inside it, 15 min\n");
    check_route(
        RULES(
            FIVA, "{}",
            REGULARITY(
                "36",
                "{'at': 9}") ", {'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:15:00'}"),
        "");
}

BEHAVIOUR(a_distance_without_time_is_doubted) {
    check_route(
        RULES(FIVA, "{}",
              "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': 0, 'distance': 5}"),
        "event.json: route[0].target: no time is allowed for a distance\n");
}

BEHAVIOUR(a_kind_of_share_without_a_share_is_doubted) {
    check_route(RULES(FIVA, "{'finisher': {'of': 'tests'}}", CONTROL("TC1", "")),
                "event.json: scoring.finisher.of: says of what a share is, and no “share” is asked "
                "for; give one, such as “1/2”, or leave this out\n");
}

BEHAVIOUR(a_class_with_one_car_is_doubted) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", CONTROL("TC1", "")),
                               .entries = "number,driver,navigator,make,model,year\n"
                                          "1,A,,M,X,1925\n7,B,,M,X,1934\n3,C,,M,X,1927\n"};
    check(&texts, "entries.csv:3: car 7 is alone in class D\n");
}

BEHAVIOUR(a_car_without_a_category_is_doubted) {
    struct event_text texts = {.rules = RULES("{'scheme': 'fiva', 'categories': [{'id': 'open'}]}",
                                              "{}", CONTROL("TC1", "")),
                               .entries = "number,driver,navigator,make,model,year,category\n"
                                          "1,A,,M,X,1925,open\n2,B,,M,X,1926,\n"};
    check(&texts, "entries.csv:3: car 2 names no category and stands in none\n");
}

static void check_readings(const char *readings, const char *decisions, const char *expected) {
    struct event_text texts = {
        .rules =
            RULES(FIVA, "{}", CONTROL("TC1", "") ", " CONTROL("TC2", "") ", " CONTROL("TC3", "")),
        .entries = ALIKE,
        .readings = readings,
        .decisions = decisions};
    check(&texts, expected);
}

BEHAVIOUR(readings_out_of_time_order_are_doubted) {
    check_readings("point,car,time\nTC1,1,08:46\nTC2,1,08:40\nTC3,1,09:30\n", NULL,
                   "readings.csv: car 1 at TC2: 08:40:00 is before TC1 at 08:46:00\n");
}

BEHAVIOUR(readings_in_conflict_are_doubted) {
    check_readings("point,car,time,id\nTC1,1,08:46,a\nTC1,1,08:47,b\n", NULL,
                   "readings.csv: car 1 at TC1: readings differ; a counts\n");
}

BEHAVIOUR(readings_missing_between_others_are_doubted) {
    check_readings("point,car,time\nTC1,1,08:46\nTC3,1,10:16\nTC1,2,08:47\n", NULL,
                   "readings.csv: car 1 at TC2: no reading, but the car was read further on\n");
}

BEHAVIOUR(where_it_is_ruled_no_reading_is_missing) {
    static const char *const rulings[] = {"waive,1,TC2,,held up", "notional,1,TC2,3,held up",
                                          "cancel,,TC2,,closed by the police"};
    for (size_t i = 0; i < COUNT_OF(rulings); i++) {
        struct textbuf decisions = {0};
        textbuf_printf(&decisions, "kind,car,point,value,reason\n%s\n", rulings[i]);
        check_readings("point,car,time\nTC1,1,08:46\nTC3,1,10:16\n", textbuf_text(&decisions), "");
        textbuf_clear(&decisions);
    }
    check_readings("point,car,time\nTC1,1,08:46\nTC3,1,10:16\n",
                   "kind,car,point,value,reason\nwaive,2,TC2,,held up\n",
                   "readings.csv: car 1 at TC2: no reading, but the car was read further on\n");
}

BEHAVIOUR(readings_while_out_of_the_event_are_doubted) {
    check_readings("point,car,time\nTC1,1,08:46\nTC3,1,10:16\n",
                   "kind,car,point,value,reason\nretire,1,TC1,,engine\n",
                   "readings.csv: car 1 at TC3: read while out of the event; it does not count\n");
}

BEHAVIOUR(another_day_begins_its_own_clock) {
    struct event_text texts = {
        .rules = RULES_OF_TWO_DAYS(
            FIVA, "{}",
            CONTROL("TC1", "") ", {'day': 2, 'id': 'TC2', 'kind': 'time-control', 'target': 60}"),
        .entries = ALIKE,
        .readings = "point,car,time\nTC1,1,25:46\nTC2,1,09:02\n"};
    check(&texts, "");
}

BEHAVIOUR(readings_that_replace_each_other_in_a_circle_are_doubted) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", CONTROL("TC1", "")),
                               .entries = ALIKE,
                               .readings = "point,car,time,replaces,void,reason,id\n"
                                           "TC1,1,08:46,b,,slip,a\n"
                                           "TC1,1,08:47,a,,slip,b\n"
                                           "TC1,2,08:47,e,,slip,c\n"
                                           "TC1,2,08:48,c,,slip,d\n"
                                           "TC1,3,08:49,d,yes,wrong car,e\n"};
    check(
        &texts,
        "readings.csv: car 1 at TC1: readings replace each other in a circle, so that none of them counts: a, b\n"
        "readings.csv: car 2 at TC1: readings replace each other in a circle, so that none of them counts: c, e, d\n");
}

BEHAVIOUR(corrections_in_a_row_are_no_circle) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", CONTROL("TC1", "")),
                               .entries = ALIKE,
                               .readings = "point,car,time,replaces,reason,id\n"
                                           "TC1,1,08:48,b,slip,c\n"
                                           "TC1,1,08:46,,,a\n"
                                           "TC1,1,08:47,a,slip,b\n"
                                           "TC1,2,08:49,a,slip,d\n"
                                           "TC1,2,08:49,x,slip,e\n"};
    check(&texts, "");
}

/* The correction that follows a circle is no part of it, and counts. */
BEHAVIOUR(a_correction_of_one_in_a_circle_is_left_out_of_it) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", CONTROL("TC1", "")),
                               .entries = ALIKE,
                               .readings = "point,car,time,replaces,reason,id\n"
                                           "TC1,1,08:48,a,slip,c\n"
                                           "TC1,1,08:46,b,slip,a\n"
                                           "TC1,1,08:47,a,slip,b\n"};
    check(
        &texts,
        "readings.csv: car 1 at TC1: readings replace each other in a circle, so that none of them counts: a, b\n");
}

BEHAVIOUR(a_fault_that_makes_missed_what_costs_nothing_is_doubted) {
    check_route(
        RULES(FIVA, "{}", CONTROL("TC1", ", 'faults': {'board': 5, 'wrong-way': 'missed'}")),
        "event.json: route[0].faults.wrong-way: makes its point missed, which costs nothing here: say “missed” in the penalty\n");
    check_route(RULES(FIVA, "{}",
                      CONTROL("TC1", ", 'faults': {'wrong-way': 'missed'}, 'penalty': {'missed': "
                                     "{'fails': 1}}")),
                "");
}

BEHAVIOUR(decisions_that_change_nothing_are_doubted) {
    struct event_text texts = {
        .rules = RULES(
            FIVA, "{}",
            CONTROL("TC1", "") ", " CONTROL(
                "TC2",
                ", 'faults': {'board': 5}, 'for': [{'period': 'C', 'off': true}]") ", " CONTROL("TC3",
                                                                                                ", 'faults': {'board': 5}")),
        .entries = "number,driver,navigator,make,model,year\n1,A,,M,X,1925\n2,B,,M,X,1926\n"
                   "3,C,,M,X,1940\n4,D,,M,X,1941\n",
        .decisions = "kind,car,point,value,reason\npenalty,1,TC2,5,x\nretire,2,TC2,,x\n"
                     "faults,2,TC3,board=1,x\nfails,2,TC3,1,x\nfaults,3,TC2,board=1,x\n"
                     "allowance,1,TC2,60,x\nallowance,3,TC2,60,x\n"};
    check(
        &texts,
        "decisions.csv: penalty of car 1: TC2 is not on its route; the decision has no effect\n"
        "decisions.csv: faults of car 2: it was out of the event at TC3; they do not count\n"
        "decisions.csv: allowance of car 1: TC2 is not on its route; the decision has no effect\n");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_event_in_order_raises_no_doubt),
        cmocka_unit_test(a_key_of_a_special_test_that_changes_nothing_is_told),
        cmocka_unit_test(attempts_are_in_order_among_themselves),
        cmocka_unit_test(a_fast_average_is_doubted_with_the_caution),
        cmocka_unit_test(a_given_ideal_is_too_fast_by_its_own_distance),
        cmocka_unit_test(miles_have_their_own_limit),
        cmocka_unit_test(a_check_too_near_its_start_is_doubted),
        cmocka_unit_test(ideals_that_do_not_grow_are_doubted),
        cmocka_unit_test(a_target_shorter_than_the_tests_inside_it_is_doubted),
        cmocka_unit_test(a_distance_without_time_is_doubted),
        cmocka_unit_test(a_kind_of_share_without_a_share_is_doubted),
        cmocka_unit_test(a_class_with_one_car_is_doubted),
        cmocka_unit_test(a_car_without_a_category_is_doubted),
        cmocka_unit_test(readings_out_of_time_order_are_doubted),
        cmocka_unit_test(readings_in_conflict_are_doubted),
        cmocka_unit_test(readings_missing_between_others_are_doubted),
        cmocka_unit_test(where_it_is_ruled_no_reading_is_missing),
        cmocka_unit_test(readings_while_out_of_the_event_are_doubted),
        cmocka_unit_test(another_day_begins_its_own_clock),
        cmocka_unit_test(readings_that_replace_each_other_in_a_circle_are_doubted),
        cmocka_unit_test(corrections_in_a_row_are_no_circle),
        cmocka_unit_test(a_correction_of_one_in_a_circle_is_left_out_of_it),
        cmocka_unit_test(a_fault_that_makes_missed_what_costs_nothing_is_doubted),
        cmocka_unit_test(decisions_that_change_nothing_are_doubted),
    };
    RUN_BEHAVIOURS(tests);
}
