/* SPDX-License-Identifier: MIT */
/* Lateness on the road that holds, and lateness that adds up. */
#include "road_events.h"

#define HOLD_ROUTE                                                                                 \
    CONTROL("TC1", "00:30", "")                                                                    \
    ", {'day': 1, 'id': 'P1', 'kind': 'passage-control'}, " SECTION(                               \
        "R1", "") ", "                                                                             \
                  "{'day': 1, 'id': 'S1', 'kind': 'special-test'}, "                               \
                  "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 2}, " CONTROL(            \
                      "TC2", "00:30", "") ", {'day': 1, 'id': 'P2', 'kind': 'passage-control'}"
#define HOLD_READINGS "P1,1,\nR1/1,1,09:19\nR1/2,1,09:24\nS1/finish,1,,50\nL1/1,1,,60\nL1/2,1,,60\n"

/* Motorsport UK, p457 5.8: over 30 min late counts as not having visited a control or check. */
BEHAVIOUR(what_follows_a_control_beyond_the_limit_is_missed) {
    static const struct folder f = {
        HOLDS, HOLD_ROUTE, "TC1,1,09:11\n" HOLD_READINGS "TC2,1,09:31\nP2,1,09:35\n", NULL, {0}};
    CHECK(f, {1, "TC1", STATE_MISSED, 100, "08:31", CAUSE_MAX_LATENESS},
          {1, "P1", STATE_MISSED, 30, NULL, CAUSE_LATENESS_HOLDS},
          {1, "R1/1", STATE_MISSED, 50, NULL, CAUSE_LATENESS_HOLDS},
          {1, "R1/2", STATE_MISSED, 50, NULL, CAUSE_LATENESS_HOLDS},
          {1, "S1", STATE_MISSED, 70, NULL, CAUSE_LATENESS_HOLDS},
          {1, "L1/2", STATE_MISSED, 20, NULL, CAUSE_LATENESS_HOLDS},
          /* 30 min behind the schedule is within it again, and within the lateness carried. */
          {1, "TC2", STATE_CLEAN, 0, "09:41", 0}, {1, "P2", STATE_CLEAN, 0, NULL, 0});
    assert_why(f, 1, "P1", "Seen. Since TC1 more than 30 min late: missed, 30.");
}

/* Attempts that are added up are missed one by one; and what is missed may cost the maximum, 90. */
BEHAVIOUR(a_special_test_is_missed_at_its_own_price) {
    static const char readings[] =
        "TC1,1,09:11\nS1/finish,1,,50\nS1/finish-2,1,,40\nS2/finish,1,,50\n";
    static const struct folder f = {
        HOLDS,
        CONTROL("TC1", "00:30", "") ", {'day': 1, 'id': 'S1', 'kind': 'special-test', 'attempts': "
                                    "2, 'counts': 'sum'}, "
                                    "{'day': 1, 'id': 'S2', 'kind': 'special-test', 'maximum': 90, "
                                    "'penalty': {'missed': 'maximum'}}",
        readings,
        NULL,
        {0}};
    CHECK(f, {1, "S1", STATE_MISSED, 140, NULL, CAUSE_LATENESS_HOLDS},
          {1, "S2", STATE_MISSED, 90, NULL, CAUSE_LATENESS_HOLDS});
    assert_why(
        f, 1, "S2",
        "Measured 50 s, but too late on the road. Since TC1 more than 30 min late: missed, 90 (as at the maximum 1 min 30 s; 90 at 1 a second = 90).");
    assert_why(
        f, 1, "S1",
        "Attempt 1. Measured 50 s, but too late on the road: missed, 70. Attempt 2. Measured 40 s, but too late on the road: missed, 70. Together 70 + 70 = 140. Since TC1 more than 30 min late: missed, 140 for 2 attempts.");
}

/* One attempt was read and is missed; the other may still come. */
BEHAVIOUR(attempts_that_may_come_are_awaited_as_ever) {
    static const char route[] = CONTROL(
        "TC1", "00:30", "") ", {'day': 1, 'id': 'S1', 'kind': 'special-test', 'attempts': 2}";
    static const char readings[] = "TC1,1,09:11\nS1/finish-2,1,,40\n";
    CHECK(((struct folder){HOLDS, route, readings, NULL, {.live = true}}),
          {1, "S1", STATE_AWAITING, 0, NULL, 0});
    CHECK(((struct folder){HOLDS, route, readings, NULL, {0}}),
          {1, "S1", STATE_MISSED, 70, NULL, CAUSE_LATENESS_HOLDS});
    assert_why(
        ((struct folder){HOLDS, route, readings, NULL, {0}}), 1, "S1",
        "Attempt 1. No finish. Attempt 2. Measured 40 s, but too late on the road. Since TC1 more than 30 min late: missed, 70.");
}

BEHAVIOUR(without_the_key_only_the_control_itself_is_missed) {
    CHECK(((struct folder){"{'timing': 'scheduled', 'max_lateness': '00:30:00', " DEFAULTS "}",
                           HOLD_ROUTE,
                           "TC1,1,09:11\n" HOLD_READINGS,
                           NULL,
                           {0}}),
          {1, "TC1", STATE_MISSED, 100, "08:31", CAUSE_MAX_LATENESS},
          {1, "P1", STATE_CLEAN, 0, NULL, 0}, {1, "S1", STATE_SCORED, 50, NULL, 0});
}

BEHAVIOUR(a_point_not_read_is_awaited_as_ever_while_it_is_open) {
    CHECK(((struct folder){HOLDS, HOLD_ROUTE, "TC1,1,09:11\nP1,1,\n", NULL, {.live = true}}),
          {1, "P1", STATE_MISSED, 30, NULL, CAUSE_LATENESS_HOLDS},
          {1, "R1/1", STATE_AWAITING, 0, NULL, 0}, {1, "S1", STATE_AWAITING, 0, NULL, 0},
          {1, "TC2", STATE_AWAITING, 0, NULL, 0});
    CHECK(((struct folder){HOLDS, HOLD_ROUTE, "TC1,1,09:11\nP1,1,\n", NULL, {0}}),
          {1, "R1/1", STATE_MISSED, 50, NULL, CAUSE_NO_READING});
}

/* A lap that was read, without the one before it while that may come. */
BEHAVIOUR(what_was_read_is_missed_though_it_waits_for_another) {
    static const struct folder f = {
        HOLDS, HOLD_ROUTE, "TC1,1,09:11\nL1/2,1,09:20\n", NULL, {.live = true}};
    CHECK(f, {1, "L1/2", STATE_MISSED, 20, NULL, CAUSE_NO_NEIGHBOUR});
    assert_why(
        f, 1, "L1/2",
        "Passed 09:20, but the passage before has no time of day. Since TC1 more than 30 min late: missed, 20.");
}

/* A control that was not read says nothing; the point is told since the first that was beyond. */
BEHAVIOUR(it_holds_past_controls_that_were_not_read_or_are_beyond_it) {
    CHECK(((struct folder){HOLDS, HOLD_ROUTE, "TC1,1,09:11\nP2,1,09:35\n", NULL, {0}}),
          {1, "TC2", STATE_MISSED, 100, NULL, CAUSE_NO_READING},
          {1, "P2", STATE_MISSED, 30, NULL, CAUSE_LATENESS_HOLDS});
    static const struct folder f = {
        HOLDS, HOLD_ROUTE, "TC1,1,09:11\nTC2,1,09:40\nP2,1,09:45\n", NULL, {0}};
    CHECK(f, {1, "TC2", STATE_MISSED, 100, NULL, CAUSE_MAX_LATENESS},
          {1, "P2", STATE_MISSED, 30, NULL, CAUSE_LATENESS_HOLDS});
    assert_why(f, 1, "P2", "Seen at 09:45. Since TC1 more than 30 min late: missed, 30.");
}

BEHAVIOUR(rulings_come_before_it) {
    CHECK(((struct folder){HOLDS,
                           HOLD_ROUTE,
                           "TC1,1,09:11\n" HOLD_READINGS,
                           "waive,1,P1,,marshals late\nnotional,1,S1,12,blocked\n",
                           {0}}),
          {1, "P1", STATE_WAIVED, 0, NULL, 0}, {1, "S1", STATE_NOTIONAL, 12, NULL, 0},
          {1, "R1/1", STATE_MISSED, 50, NULL, CAUSE_LATENESS_HOLDS});
}

/* Up to and including M, read there or not; and one beyond the limit at M itself is free behind it.
 */
BEHAVIOUR(it_ends_at_a_main_control) {
    static const char route[] =
        CONTROL("TC1", "00:30", "") ", {'day': 1, 'id': 'P1', 'kind': 'passage-control'}, " CONTROL(
            "M", "00:30", ", 'main': true") ", {'day': 1, 'id': 'P2', 'kind': 'passage-control'}";
    CHECK(((struct folder){HOLDS, route, "TC1,1,09:11\nP1,1,\nP2,1,\n", NULL, {0}}),
          {1, "P1", STATE_MISSED, 30, NULL, CAUSE_LATENESS_HOLDS},
          {1, "M", STATE_MISSED, 100, NULL, CAUSE_NO_READING}, {1, "P2", STATE_CLEAN, 0, NULL, 0});
    CHECK(((struct folder){HOLDS, route, "TC1,1,08:31\nP1,1,\nM,1,09:40\nP2,1,\n", NULL, {0}}),
          {1, "M", STATE_MISSED, 100, NULL, CAUSE_MAX_LATENESS},
          {1, "P2", STATE_CLEAN, 0, NULL, 0});
}

BEHAVIOUR(it_ends_with_the_day) {
    struct scene scene;
    struct event_text texts = {
        .rules = RULES_OF_TWO_DAYS(FIVA, HOLDS,
                                   CONTROL("TC1", "00:30", "") ", {'day': 2, 'id': 'P1', 'kind': "
                                                               "'passage-control'}"),
        .readings = "point,car,time\nTC1,1,09:11\nP1,1,\n"};
    scene_open(&scene, &texts, (struct viewpoint){0});
    assert_int_equal(scene_point(&scene, 1, "TC1").cause, CAUSE_MAX_LATENESS);
    assert_int_equal(scene_point(&scene, 1, "P1").state, STATE_CLEAN);
    scene_close(&scene);
}

/* R1's end is scheduled for 08:41. Car 1 was within at TC1 and is 31 late there: all of R1 is
 * missed. Car 2 was 31 late at TC1 and is 30 late there: none is. Car 5 was not read there. */
BEHAVIOUR(a_road_point_decides_for_its_whole_test) {
    static const struct folder f = {HOLDS,
                                    FINISH_ROUTE,
                                    "TC1,1,08:31\nR1/1,1,08:36\nR1/2,1,09:12\nTC2,1,09:20\n"
                                    "TC1,2,09:03\nR1/1,2,09:08\nR1/2,2,09:12\nTC2,2,09:32\n"
                                    "TC1,5,09:06\nR1/1,5,09:11\nTC2,5,09:35\n",
                                    NULL,
                                    {0}};
    CHECK(f, {1, "R1/1", STATE_MISSED, 50, NULL, CAUSE_LATENESS_HOLDS},
          {1, "R1/2", STATE_MISSED, 50, NULL, CAUSE_LATENESS_HOLDS},
          {1, "TC2", STATE_CLEAN, 0, "09:32", 0},
          {2, "TC1", STATE_MISSED, 100, NULL, CAUSE_MAX_LATENESS},
          {2, "R1/1", STATE_CLEAN, 0, NULL, 0}, {2, "R1/2", STATE_SCORED, 60, NULL, 0},
          {2, "TC2", STATE_CLEAN, 0, "09:32", 0},
          {5, "R1/1", STATE_MISSED, 50, NULL, CAUSE_LATENESS_HOLDS},
          {5, "R1/2", STATE_MISSED, 50, NULL, CAUSE_NO_READING},
          {5, "TC2", STATE_CLEAN, 0, "09:36", 0});
}

#define FIVE_CONTROLS(more)                                                                        \
    CONTROL("TC1", "00:30", "")                                                                    \
    ", " CONTROL("TC2", "00:30", "") ", " CONTROL("TC3", "00:30", more) ", " CONTROL(              \
        "TC4", "00:30", "") ", " CONTROL("TC5", "00:30", "")
/* 12 late, 5 early, 12, 6 and 1 late. */
#define MAKING_UP "TC1,1,08:43\nTC2,1,09:08\nTC3,1,09:50\nTC4,1,10:26\nTC5,1,10:57\n"

/* Motorsport UK, p489 9.1, and a bulletin of 2017: lateness adds up and is never reduced. 12, 12,
 * 24, 30 and 31 min. */
BEHAVIOUR(lateness_may_add_up) {
    static const struct folder f = {SUMMED(""), FIVE_CONTROLS(""), MAKING_UP, NULL, {0}};
    CHECK(f, {1, "TC1", STATE_SCORED, 180, "08:31", 0}, {1, "TC2", STATE_SCORED, 300, "09:13", 0},
          {1, "TC3", STATE_SCORED, 180, "09:38", 0}, {1, "TC4", STATE_SCORED, 90, "10:20", 0},
          {1, "TC5", STATE_MISSED, 100, "10:56", CAUSE_MAX_LATENESS});
    assert_why(
        f, 1, "TC5",
        "Left TC4 at 10:26, 30 min allowed: due 10:56. Arrived 10:57:00: 1 min late, with 30 min before it 31 min late in all since the start of the day, more than 30 min. Counts as missed: 100.");
}

/* Without the key it is held against the schedule, 26 min behind at the end. */
BEHAVIOUR(without_the_key_made_up_time_reduces_lateness) {
    CHECK(
        ((struct folder){
            "{'max_lateness': '00:30:00', " DEFAULTS "}", FIVE_CONTROLS(""), MAKING_UP, NULL, {0}}),
        {1, "TC5", STATE_SCORED, 15, "10:56", 0});
}

/* TC3 is a main control: its own 12 is summed with the 12 before it, and then from 0. */
BEHAVIOUR(the_sum_starts_anew_behind_a_main_control) {
    CHECK(((struct folder){SUMMED(""), FIVE_CONTROLS(", 'main': true"), MAKING_UP, NULL, {0}}),
          {1, "TC3", STATE_SCORED, 180, NULL, 0}, {1, "TC5", STATE_SCORED, 15, NULL, 0});
    CHECK(((struct folder){SUMMED(""),
                           FIVE_CONTROLS(", 'main': true"),
                           "TC1,1,08:50\nTC2,1,09:20\nTC3,1,10:02\nTC4,1,11:03\n",
                           NULL,
                           {0}}),
          /* 19, 0 and 12: 31. */
          {1, "TC3", STATE_MISSED, 100, NULL, CAUSE_MAX_LATENESS},
          {1, "TC4", STATE_MISSED, 100, NULL, CAUSE_MAX_LATENESS});
}

/* 20 late at R1's end and 11 at TC2: 31 in all; and what follows is missed. */
BEHAVIOUR(lateness_at_the_end_of_a_test_adds_up_too) {
    static const struct folder f = {SUMMED(", 'max_lateness_holds': true"),
                                    FINISH_ROUTE
                                    ", {'day': 1, 'id': 'P1', 'kind': 'passage-control'}",
                                    "TC1,1,08:31\nR1/2,1,09:01\nTC2,1,09:32\nP1,1,\n",
                                    NULL,
                                    {0}};
    CHECK(f, {1, "R1/2", STATE_SCORED, 60, NULL, 0},
          {1, "TC2", STATE_MISSED, 100, "09:21", CAUSE_MAX_LATENESS},
          {1, "P1", STATE_MISSED, 30, NULL, CAUSE_LATENESS_HOLDS});
    assert_why(f, 1, "P1", "Seen. Since TC2 more than 30 min late in all: missed, 30.");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_follows_a_control_beyond_the_limit_is_missed),
        cmocka_unit_test(a_special_test_is_missed_at_its_own_price),
        cmocka_unit_test(attempts_that_may_come_are_awaited_as_ever),
        cmocka_unit_test(without_the_key_only_the_control_itself_is_missed),
        cmocka_unit_test(a_point_not_read_is_awaited_as_ever_while_it_is_open),
        cmocka_unit_test(what_was_read_is_missed_though_it_waits_for_another),
        cmocka_unit_test(it_holds_past_controls_that_were_not_read_or_are_beyond_it),
        cmocka_unit_test(rulings_come_before_it),
        cmocka_unit_test(it_ends_at_a_main_control),
        cmocka_unit_test(it_ends_with_the_day),
        cmocka_unit_test(a_road_point_decides_for_its_whole_test),
        cmocka_unit_test(lateness_may_add_up),
        cmocka_unit_test(without_the_key_made_up_time_reduces_lateness),
        cmocka_unit_test(the_sum_starts_anew_behind_a_main_control),
        cmocka_unit_test(lateness_at_the_end_of_a_test_adds_up_too),
    };
    RUN_BEHAVIOURS(tests);
}
