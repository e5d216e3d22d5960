/* SPDX-License-Identifier: MIT */
/* The road's schedule: road points in tests, early from due, shortest times. */
#include "scoring/road.h"

#include "road_events.h"

/* Motorsport UK NCR 2026 #11, ch. 13, p453 6.4 and p457 5.5: what was lost in a regularity is not
 * charged again. Car 1 is 3:20 late at the end, counted as 3 min; TC2 at 09:01 + 3. */
BEHAVIOUR(lateness_at_the_end_of_a_test_is_carried_on) {
    static const struct folder f = {
        SCHEDULED,
        FINISH_ROUTE,
        "TC1,1,08:31\nR1/1,1,08:36:00\nR1/2,1,08:44:20\nTC2,1,09:04:20\n"
        "TC1,2,08:32\nR1/2,2,08:39:00\nTC2,2,09:02\n",
        NULL,
        {0}};
    CHECK(f, {1, "R1/1", STATE_CLEAN, 0, "08:36", 0}, {1, "R1/2", STATE_SCORED, 60, "08:41", 0},
          {1, "TC2", STATE_CLEAN, 0, "09:04", 0},
          /* 3 min early at the end carries nothing. */
          {2, "R1/2", STATE_SCORED, 60, "08:42", 0}, {2, "TC2", STATE_CLEAN, 0, "09:02", 0});
    assert_why(
        f, 1, "R1/2",
        "Start 08:31: left TC1 at 08:31; given ideal 10 min: due 08:41. Passed 08:44:20: 3 min 20 s late at 1 a second = 200, held to the cap of 60. On the road: Start 08:01, 40 min allowed: due 08:41. Counted there as 08:44, 3 min late carried on.");
    assert_why(
        f, 1, "TC2",
        "Start 08:01, 1 h allowed: scheduled 09:01, 3 min late carried from R1: due 09:04. Arrived 09:04:20, counted as 09:04: on time.");
}

BEHAVIOUR(the_end_of_a_test_is_a_departure_in_target_timing) {
    static const struct folder f = {
        TARGET, FINISH_ROUTE, "TC1,1,08:31\nR1/2,1,08:44:20\nTC2,1,09:05\n", NULL, {0}};
    CHECK(f, {1, "TC2", STATE_SCORED, 15, "09:04", 0});
    assert_why(
        f, 1, "R1/2",
        "Start 08:31: left TC1 at 08:31; given ideal 10 min: due 08:41. Passed 08:44:20: 3 min 20 s late at 1 a second = 200, held to the cap of 60. On the road: Left TC1 at 08:31, 10 min allowed: due 08:41. Counted there as 08:44, 3 min late.");
}

/* TC2 is 60 min after the start, R1's 10 among them. */
BEHAVIOUR(an_end_that_was_not_read_is_as_a_control_that_was_not) {
    CHECK(((struct folder){
              TARGET, FINISH_ROUTE, "TC1,1,08:33\nR1/1,1,08:50\nTC2,1,09:05\n", NULL, {0}}),
          {1, "TC2", STATE_SCORED, 30, "09:03", 0});
    CHECK(((struct folder){SCHEDULED, FINISH_ROUTE, "TC1,1,08:33\nTC2,1,09:05\n", NULL, {0}}),
          {1, "TC2", STATE_SCORED, 30, "09:03", 0});
}

BEHAVIOUR(an_elapsed_at_the_finish_says_nothing_of_the_road) {
    static const char route[] =
        "{'day': 1, 'id': 'S1', 'kind': 'special-test'" FINISH "}, " CONTROL("TC1", "00:20", "");
    CHECK(((struct folder){TARGET, route, "S1/finish,1,,60\nTC1,1,08:31\n", NULL, {0}}),
          {1, "S1", STATE_SCORED, 60, NULL, 0}, {1, "TC1", STATE_CLEAN, 0, "08:31", 0});
    CHECK(((struct folder){
              TARGET, route, "S1/start,1,08:14\nS1/finish,1,08:15:30\nTC1,1,08:35\n", NULL, {0}}),
          {1, "S1", STATE_SCORED, 90, NULL, 0}, {1, "TC1", STATE_CLEAN, 0, "08:35", 0});
}

/* An allowance of 4 min at R1/1 moves the road point, TC2 and the check; 2 late against 08:45. */
BEHAVIOUR(an_allowance_in_a_test_moves_its_road_point) {
    CHECK(((struct folder){SCHEDULED,
                           FINISH_ROUTE,
                           "TC1,1,08:31\nR1/2,1,08:47\nTC2,1,09:07\n",
                           "allowance,1,R1/1,00:04:00,sheep\n",
                           {0}}),
          {1, "R1/2", STATE_SCORED, 60, "08:45", 0}, {1, "TC2", STATE_CLEAN, 0, "09:07", 0});
}

/* The start of R2 follows from R1's end, at 08:43 as counted. */
BEHAVIOUR(a_test_may_start_from_the_end_of_the_one_before) {
    static const char two[] = SECTION("R1", FINISH) ", " SECTION("R2", "");
    CHECK(((struct folder){SCHEDULED, two, "R1/2,1,08:13:40\nR2/1,1,08:18:02\n", NULL, {0}}),
          {1, "R2/1", STATE_SCORED, 2, "08:18", 0});
    CHECK(((struct folder){SCHEDULED, two, "R2/1,1,08:18:02\n", NULL, {.live = true}}),
          {1, "R2/1", STATE_AWAITING, 0, NULL, 0});
    CHECK(((struct folder){SCHEDULED, two, "R2/1,1,08:18:02\n", NULL, {0}}),
          {1, "R2/1", STATE_MISSED, 50, NULL, CAUSE_NO_START});
}

/* R1 is open for car 5: to the public its 10 min count and nothing was read there. */
BEHAVIOUR(a_hidden_test_keeps_its_time_on_the_road) {
    static const char route[] = SECTION("R1", FINISH) ", " SECTION(
        "R2", ", 'reveal': 'at-once'") ", " CONTROL("TC2", "00:20", "");
    static const char readings[] = "R1/2,1,08:13:40\nR2/1,1,08:18:02\nTC2,1,08:34\n";
    CHECK(((struct folder){SCHEDULED, route, readings, NULL, {.live = true}}),
          {1, "R2/1", STATE_SCORED, 2, "08:18", 0}, {1, "TC2", STATE_SCORED, 15, "08:33", 0});
    CHECK(((struct folder){SCHEDULED, route, readings, NULL, {.live = true, .public_view = true}}),
          {1, "R2/1", STATE_AWAITING, 0, NULL, 0}, {1, "TC2", STATE_SCORED, 45, "08:31", 0});
}

/* R1/2 is not on the route of car 5: its road point is R1/1, at 08:15 on the schedule. */
BEHAVIOUR(the_road_point_is_the_last_one_on_the_car_s_route) {
    static const char route[] = SECTION(
        "R1", FINISH
        ", 'for': [{'group': 'tour', 'checks': [{'ideal': '00:05:00'}, null]}]") ", " CONTROL("TC2",
                                                                                              "00:20",
                                                                                              "");
    CHECK(
        ((struct folder){
            SCHEDULED, route, "R1/1,5,08:17\nTC2,5,08:37\nR1/1,1,08:13\nTC2,1,08:33\n", NULL, {0}}),
        {5, "R1/1", STATE_SCORED, 60, "08:10", 0}, {5, "TC2", STATE_CLEAN, 0, "08:37", 0},
        {1, "TC2", STATE_SCORED, 30, "08:31", 0});
}

/* Motorsport UK, p464 (g): before due time at the end of a neutral section. 8 late at TC1, N1 due
 * 09:19, scheduled 09:11; arrives 09:17. */
BEHAVIOUR(early_may_be_measured_against_due) {
    static const char readings[] = "TC1,1,08:39\nN1,1,09:17\nTC1,2,08:40\nN1,2,09:20\n";
    CHECK(((struct folder){
              SCHEDULED,
              CONTROL("TC1", "00:30", "") ", " CONTROL("N1", "00:40", ", 'early_from': 'due'"),
              readings,
              NULL,
              {0}}),
          {1, "N1", STATE_SCORED, 120, "09:19", 0}, {2, "N1", STATE_CLEAN, 0, "09:20", 0});
    CHECK(((struct folder){SCHEDULED,
                           CONTROL("TC1", "00:30", "") ", " CONTROL("N1", "00:40", ""),
                           readings,
                           NULL,
                           {0}}),
          {1, "N1", STATE_CLEAN, 0, "09:19", 0});
}

#define NINE_MINUTES                                                                               \
    CONTROL("TC1", "00:30", "") ", " CONTROL("TC2", "00:09", ", 'shortest': '00:06:00'")

/* Motorsport UK, p491: a section of 9 minutes not in less than 6. */
BEHAVIOUR(a_section_has_a_shortest_time) {
    static const struct folder f = {SCHEDULED,
                                    NINE_MINUTES,
                                    "TC1,1,08:41\nTC2,1,08:47\nTC1,2,08:42\nTC2,2,08:47\n"
                                    "TC1,5,08:35\nTC2,5,08:40\n",
                                    NULL,
                                    {0}};
    CHECK(f, {1, "TC2", STATE_CLEAN, 0, "08:50", 0}, {2, "TC2", STATE_SCORED, 60, "08:51", 0},
          /* 4 early against the schedule, 1 lacking: the larger. */
          {5, "TC2", STATE_SCORED, 240, "08:44", 0});
    assert_why(
        f, 2, "TC2",
        "Start 08:02, 39 min allowed: scheduled 08:41, 10 min late carried from TC1: due 08:51. Arrived 08:47:00: left TC1 at 08:42, at least 6 min: 1 min early at 60 a minute = 60.");
}

/* TC1 was not read: nothing is known of when the car left it. At the first control the start is. */
BEHAVIOUR(a_shortest_time_needs_the_departure_before_it) {
    CHECK(((struct folder){SCHEDULED, NINE_MINUTES, "TC2,1,08:40\n", NULL, {0}}),
          {1, "TC2", STATE_CLEAN, 0, "08:40", 0});
    CHECK(((struct folder){SCHEDULED,
                           CONTROL("TC1", "00:09", ", 'shortest': '00:06:00'"),
                           "TC1,1,08:05\n",
                           NULL,
                           {0}}),
          {1, "TC1", STATE_SCORED, 300, "08:10", 0});
}

/* TC1 on time but left at 08:44 only: TC2, due 08:40, in 4 min at 08:48 is 8 late and 2 too soon.
 */
BEHAVIOUR(a_car_may_be_late_and_too_soon) {
    static const struct folder f = {
        SCHEDULED, NINE_MINUTES, "TC1,1,08:31\nTC1/out,1,08:44\nTC2,1,08:48\n", NULL, {0}};
    CHECK(f, {1, "TC2", STATE_SCORED, 240, "08:40", 0});
    assert_why(
        f, 1, "TC2",
        "Start 08:01, 39 min allowed: due 08:40. Arrived 08:48:00: 8 min late at 15 a minute = 120; and left TC1 at 08:44 (TC1/out), at least 6 min: 2 min early at 60 a minute = 120; in all 240.");
}

/* 8 late is 120 and 2 too soon 120: one figure holds them together, two each by itself. */
BEHAVIOUR(one_cap_holds_late_and_too_soon_together) {
    static const char readings[] = "TC1,1,08:31\nTC1/out,1,08:44\nTC2,1,08:48\n";
    struct folder f = {SCHEDULED,
                       CONTROL("TC1", "00:30", "") ", " CONTROL(
                           "TC2", "00:09", ", 'shortest': '00:06:00', 'penalty': {'cap': 150}"),
                       readings,
                       NULL,
                       {0}};
    CHECK(f, {1, "TC2", STATE_SCORED, 150, "08:40", 0});
    assert_why(
        f, 1, "TC2",
        "Start 08:01, 39 min allowed: due 08:40. Arrived 08:48:00: 8 min late at 15 a minute = 120; and left TC1 at 08:44 (TC1/out), at least 6 min: 2 min early at 60 a minute = 120; in all 240, held to the cap of 150.");
    f.route = CONTROL("TC1", "00:30", "") ", " CONTROL(
        "TC2", "00:09",
        ", 'shortest': '00:06:00', 'penalty': {'cap': {'early': 150, 'late': 150}}");
    CHECK(f, {1, "TC2", STATE_SCORED, 240, "08:40", 0});
    f.route = CONTROL("TC1", "00:30", "") ", " CONTROL(
        "TC2", "00:09", ", 'shortest': '00:06:00', 'penalty': {'early_limit': '00:01:00'}");
    CHECK(f, {1, "TC2", STATE_MISSED, 100, "08:40", CAUSE_EARLY_LIMIT});
    assert_why(
        f, 1, "TC2",
        "Start 08:01, 39 min allowed: due 08:40. Arrived 08:48:00: 8 min late at 15 a minute = 120; and left TC1 at 08:44 (TC1/out), at least 6 min: 2 min early is beyond the limit of 1 min. Counts as missed: 100.");
    f.route = CONTROL("TC1", "00:30", "") ", " CONTROL(
        "TC2", "00:09", ", 'shortest': '00:06:00', 'penalty': {'late_limit': '00:07:00'}");
    CHECK(f, {1, "TC2", STATE_MISSED, 100, "08:40", CAUSE_LATE_LIMIT});
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lateness_at_the_end_of_a_test_is_carried_on),
        cmocka_unit_test(the_end_of_a_test_is_a_departure_in_target_timing),
        cmocka_unit_test(an_end_that_was_not_read_is_as_a_control_that_was_not),
        cmocka_unit_test(an_elapsed_at_the_finish_says_nothing_of_the_road),
        cmocka_unit_test(an_allowance_in_a_test_moves_its_road_point),
        cmocka_unit_test(a_test_may_start_from_the_end_of_the_one_before),
        cmocka_unit_test(a_hidden_test_keeps_its_time_on_the_road),
        cmocka_unit_test(the_road_point_is_the_last_one_on_the_car_s_route),
        cmocka_unit_test(early_may_be_measured_against_due),
        cmocka_unit_test(a_section_has_a_shortest_time),
        cmocka_unit_test(a_shortest_time_needs_the_departure_before_it),
        cmocka_unit_test(a_car_may_be_late_and_too_soon),
        cmocka_unit_test(one_cap_holds_late_and_too_soon_together),
    };
    RUN_BEHAVIOURS(tests);
}
