/* SPDX-License-Identifier: MIT */
#include "office/check_schedule.h"

#include "told_doubts.h"

#define AT_TC1(more) "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:09:00'" more "}"
#define TEST(more)                                                                                 \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'checks': [{'ideal': '00:05:00'}]" more "}"
#define GROUPS "{'scheme': 'fiva', 'groups': [{'id': 'low', 'name': 'Low'}]}"

BEHAVIOUR(what_says_something_is_not_doubted) {
    check_part(check_schedule,
               RULES(GROUPS, "{}",
                     AT_TC1(", 'shortest': '00:09:00'") ", " TEST(
                         ", 'finish': 'control', 'target': '00:10:00'")),
               "");
    check_part(check_schedule,
               RULES(GROUPS,
                     "{'timing': 'scheduled', 'max_lateness': '00:30', 'max_lateness_holds': true}",
                     AT_TC1(", 'early_from': 'due'")),
               "");
    check_part(check_schedule,
               RULES(GROUPS, "{'max_lateness': '00:30', 'lateness': 'cumulative'}", AT_TC1("")),
               "");
    check_part(check_schedule, RULES(GROUPS, "{'max_lateness_holds': false}", AT_TC1("")), "");
}

BEHAVIOUR(a_shortest_time_above_the_target_is_doubted) {
    check_part(
        check_schedule, RULES(GROUPS, "{}", AT_TC1(", 'shortest': '00:10:00'")),
        "event.json: route[0].shortest: the shortest time of 10 min is longer than the target of 9 min, so that a car on time is early; shorten it, or allow more\n");
    /* A line that differs is told by itself, one that does not is not. */
    check_part(
        check_schedule,
        RULES(GROUPS, "{}",
              AT_TC1(", 'shortest': '00:08:00', 'for': [{'group': 'low', 'target': '00:07:00'}, "
                     "{'group': 'low', 'halt': '00:01:00'}]")),
        "event.json: route[0].for[0].shortest: the shortest time of 8 min is longer than the target of 7 min, so that a car on time is early; shorten it, or allow more\n");
}

BEHAVIOUR(an_end_on_the_road_and_its_target_go_together) {
    check_part(
        check_schedule, RULES(GROUPS, "{}", TEST(", 'finish': 'control'")),
        "event.json: route[0].finish: no “target” is given, so no time is allowed on the road to here; say how long after the control before the car is due at the test's last point\n");
    check_part(
        check_schedule, RULES(GROUPS, "{}", TEST(", 'target': '00:10:00'")),
        "event.json: route[0].target: it counts on the road only where the test has “finish”: “control”; add that, or leave the target out\n");
    check_part(
        check_schedule,
        RULES(GROUPS, "{}", TEST(", 'for': [{'group': 'low', 'target': '00:10:00'}]")),
        "event.json: route[0].for[0].target: it counts on the road only where the test has “finish”: “control”; add that, or leave the target out\n");
}

BEHAVIOUR(keys_that_change_nothing_in_this_timing_are_doubted) {
    check_part(
        check_schedule, RULES(GROUPS, "{}", AT_TC1(", 'early_from': 'due'")),
        "event.json: route[0].early_from: in target timing early is measured against due everywhere, so this changes nothing; leave it out, or set “timing” to “scheduled”\n");
    check_part(
        check_schedule,
        RULES(GROUPS, "{'timing': 'scheduled', 'max_lateness': '00:30', 'lateness': 'cumulative'}",
              AT_TC1("")),
        "event.json: scoring.lateness: in scheduled timing lateness is held against the schedule, so “cumulative” changes nothing; leave it out, or set “timing” to “target”\n");
}

BEHAVIOUR(lateness_without_a_limit_is_doubted) {
    check_part(
        check_schedule,
        RULES(GROUPS, "{'max_lateness_holds': true, 'lateness': 'cumulative'}", AT_TC1("")),
        "event.json: scoring.max_lateness_holds: no car is ever beyond “max_lateness”, which is not set; set it, or leave this out\n"
        "event.json: scoring.lateness: the sum is held against “max_lateness”, which is not set; set it, or leave this out\n");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_says_something_is_not_doubted),
        cmocka_unit_test(a_shortest_time_above_the_target_is_doubted),
        cmocka_unit_test(an_end_on_the_road_and_its_target_go_together),
        cmocka_unit_test(keys_that_change_nothing_in_this_timing_are_doubted),
        cmocka_unit_test(lateness_without_a_limit_is_doubted),
    };
    RUN_BEHAVIOURS(tests);
}
