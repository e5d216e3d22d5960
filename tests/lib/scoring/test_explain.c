/* SPDX-License-Identifier: MIT */
#include "scoring/explain.h"

#include <stdlib.h>
#include <string.h>

#include "scene.h"
#include "testing.h"

/* One point of one car, and what its explanation must say. */
struct sentence {
    const char *scoring;
    const char *route;
    const char *readings;  /* rows of point,car,time,elapsed,faults */
    const char *decisions; /* rows of kind,car,point,value,reason */
    bool live;
    int car;
    const char *point;
    const char *why;
};

static void check(const struct sentence *t) {
    struct textbuf rules = {0};
    struct textbuf readings = {0};
    struct textbuf decisions = {0};
    struct scene scene;
    textbuf_printf(&rules, RULES(FIVA, "%s", "%s"), t->scoring, t->route);
    textbuf_printf(&readings, "point,car,time,elapsed,faults\n%s", t->readings);
    textbuf_printf(&decisions, "kind,car,point,value,reason\n%s",
                   t->decisions == NULL ? "" : t->decisions);
    struct event_text texts = {.rules = textbuf_text(&rules),
                               .readings = textbuf_text(&readings),
                               .decisions = textbuf_text(&decisions)};
    scene_open(&scene, &texts, (struct viewpoint){.live = t->live});
    char *why = scene_why(&scene, t->car, t->point);
    assert_string_equal(why, t->why);
    free(why);
    scene_close(&scene);
    textbuf_clear(&rules);
    textbuf_clear(&readings);
    textbuf_clear(&decisions);
}

static void check_all(const struct sentence *rows, size_t count) {
    for (size_t i = 0; i < count; i++)
        check(&rows[i]);
}

#define MINUTES "{'precision': 'minute', 'early': 60, 'late': 10, 'missed': 900}"
#define TWO_CONTROLS                                                                               \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', 'halt': '00:10:00', "   \
    "'penalty': " MINUTES "}, "                                                                    \
    "{'day': 1, 'id': 'TC2', 'kind': 'time-control', 'target': '00:30:00', 'penalty': {"           \
    "'precision': 'minute', 'early': 60, 'late': 10, 'missed': 900, 'cap': {'late': 25}, "         \
    "'late_limit': '00:20:00'}}"

BEHAVIOUR(a_time_control_tells_due_arrival_and_price) {
    static const struct sentence rows[] = {
        {"{}", TWO_CONTROLS, "TC1,1,08:47:20,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:47:20, counted as 08:47: 1 min late at 10 a minute = 10."},
        {"{}", TWO_CONTROLS, "TC1,1,08:46:59.9,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:46:59.9, counted as 08:46: on time."},
        {"{}", TWO_CONTROLS, "TC1,1,08:45:59,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:45:59, counted as 08:45: 1 min early at 60 a minute = 60."},
        {"{}", TWO_CONTROLS, "", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. No reading: missed, 900."},
        {"{}", TWO_CONTROLS, "", NULL, true, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. No reading yet; the point is still open and costs nothing so far."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(halts_allowances_caps_and_limits_of_a_control_are_told) {
    static const struct sentence rows[] = {
        {"{}", TWO_CONTROLS, "TC1,1,08:46,,\nTC2,1,09:30,,\n", "allowance,1,TC2,00:02:00,cattle\n",
         false, 1, "TC2",
         "Left TC1 at 08:56 (arrival 08:46 + halt 10 min), 30 min allowed, allowance 2 min: due 09:28. Arrived 09:30:00: 2 min late at 10 a minute = 20."},
        {"{}", TWO_CONTROLS, "TC2,1,09:30,,\n", NULL, false, 1, "TC2",
         "Start 08:01, 1 h 15 min allowed, halts 10 min: due 09:26. Arrived 09:30:00: 4 min late at 10 a minute = 40, held to the cap of 25."},
        {"{}", TWO_CONTROLS, "TC1,1,08:46,,\nTC2,1,09:47,,\n", NULL, false, 1, "TC2",
         "Left TC1 at 08:56 (arrival 08:46 + halt 10 min), 30 min allowed: due 09:26. Arrived 09:47:00: 21 min late is beyond the limit of 20 min. Counts as missed: 900."},
        {"{'max_lateness': '00:15:00'}", TWO_CONTROLS, "TC1,1,09:02,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 09:02:00: later than scheduled 08:46 (start 08:01 + 45 min allowed) by more than 15 min. Counts as missed: 900."},
        {"{'max_lateness': '00:15:00'}", TWO_CONTROLS,
         "TC1,1,08:50,,\nTC1/out,1,09:20,,\nTC2,1,09:50,,\n", "allowance,1,TC1,60,cattle\n", false,
         1, "TC2",
         "Left TC1 at 09:20 (TC1/out), 30 min allowed: due 09:50. Arrived 09:50:00: later than scheduled 09:27 (start 08:01 + 1 h 15 min allowed + halts 10 min + allowance 1 min) by more than 15 min. Counts as missed: 900."},
        {"{'max_lateness': '00:15:00', 'timing': 'scheduled'}", TWO_CONTROLS, "TC1,1,09:02,,\n",
         NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 09:02:00: later than scheduled 08:46 by more than 15 min. Counts as missed: 900."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(lateness_that_is_carried_is_told) {
    static const struct sentence rows[] = {
        {"{'timing': 'scheduled'}", TWO_CONTROLS, "TC1,1,08:50,,\nTC2,1,09:28,,\n", NULL, false, 1,
         "TC2",
         "Start 08:01, 1 h 15 min allowed, halts 10 min: scheduled 09:26, 4 min late carried from TC1: due 09:30. Arrived 09:28:00: between scheduled and due, no penalty."},
        {"{'timing': 'scheduled'}", TWO_CONTROLS, "TC1,1,08:50,,\nTC2,1,09:25,,\n", NULL, false, 1,
         "TC2",
         "Start 08:01, 1 h 15 min allowed, halts 10 min: scheduled 09:26, 4 min late carried from TC1: due 09:30. Arrived 09:25:00: against the scheduled time 1 min early at 60 a minute = 60."},
        /* Nothing is carried: due as scheduled. */
        {"{'timing': 'scheduled'}", TWO_CONTROLS, "TC1,1,08:46,,\nTC2,1,09:25,,\n", NULL, false, 1,
         "TC2",
         "Start 08:01, 1 h 15 min allowed, halts 10 min: due 09:26. Arrived 09:25:00: 1 min early at 60 a minute = 60."},
    };
    check_all(rows, COUNT_OF(rows));
}

#define REGULARITY                                                                                 \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}, {'from': "  \
    "3.2, 'speed': 42.5}], 'checks': [{'at': 5.37}, {'at': 9.02}], 'penalty': {'cap': 60, "        \
    "'missed': 120}}"

BEHAVIOUR(a_check_tells_stretches_ideal_truncation_and_cap) {
    static const struct sentence rows[] = {
        {"{}", REGULARITY, "R1/start,1,10:00:05.4,,\nR1/1,1,10:07:12.9,,\n", NULL, false, 1, "R1/1",
         "Start 10:00:05.4, counted as 10:00:05; 3.2 km at 48 + 2.17 km at 42.5 = ideal 7 min 4 s (to the second): due 10:07:09. Passed 10:07:12.9, counted as 10:07:12: 3 s late at 1 a second = 3."},
        {"{}", REGULARITY, "R1/start,1,10:00:00,,\nR1/2,1,10:10:00,,\n", NULL, false, 1, "R1/2",
         "Start 10:00:00; 3.2 km at 48 + 5.82 km at 42.5 = ideal 12 min 13 s (to the second): due 10:12:13. Passed 10:10:00: 2 min 13 s early at 1 a second = 133, held to the cap of 60."},
        {"{}", REGULARITY, "R1/1,1,10:07:00,,\n", NULL, false, 1, "R1/1",
         "Passed 10:07, but there is no start to measure from. Counts as missed: 120."},
        {"{}", REGULARITY, "R1/1,1,10:07:00,,\n", NULL, true, 1, "R1/1",
         "Passed 10:07, but there is no start to measure from. Awaited: it costs nothing so far."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(a_check_measured_from_the_one_before_tells_the_difference) {
    static const struct sentence row = {
        "{}",
        "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'measured': 'previous', 'speeds': "
        "[{'from': 0, 'speed': 36}], 'checks': [{'at': 1}, {'at': 3}]}",
        "R1/start,1,10:00:00,,\nR1/1,1,10:01:45,,\nR1/2,1,10:05:00,,\n",
        "allowance,1,R1/2,7,gate\n",
        false,
        1,
        "R1/2",
        "From R1/1 at 10:01:45; 3 km at 36 = ideal 5 min (to the second), less 1 min 40 s to R1/1 = 3 min 20 s, allowance 7 s: due 10:05:12. Passed 10:05:00: 12 s early at 1 a second = 12."};
    check(&row);
}

BEHAVIOUR(a_start_from_the_control_is_told) {
    static const struct sentence row = {
        "{}",
        "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}, {'day': 1, "
        "'id': 'R1', 'kind': 'regularity', 'start': 'control', 'start_after': '00:02:00', "
        "'checks': [{'ideal': '00:05:00'}]}",
        "TC1,1,08:46:00,,\nR1/1,1,08:54:00,,\n",
        "allowance,1,R1/start,60,queue\n",
        false,
        1,
        "R1/1",
        "Start 08:49: left TC1 at 08:46 plus 2 min plus allowance 1 min; given ideal 5 min: due 08:54. Passed 08:54:00: on time."};
    check(&row);
}

BEHAVIOUR(grace_is_told_where_it_is_free_and_where_it_is_deducted) {
    static const char route[] =
        "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': ['11.70', '9.00'], "
        "'penalty': {'precision': 'hundredth', 'grace': '0.1', 'grace_deducted': true, "
        "'late': '0.5'}}";
    static const struct sentence rows[] = {
        {"{}", route, "T1/1,1,,11.809,\n", NULL, false, 1, "T1/1",
         "Target 11.7 s: measured 11.809 s, counted as 11.8 s: 0.1 s late, within the grace of 0.1 s: nothing."},
        {"{}", route, "T1/2,1,,9.25,\n", NULL, false, 1, "T1/2",
         "Target 9 s: measured 9.25 s: 0.25 s late, less the grace of 0.1 s = 0.15 s, 15 whole hundredths at 0.5 a hundredth = 7.5."},
    };
    check_all(rows, COUNT_OF(rows));
}

#define SPECIAL(more)                                                                              \
    "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'bogey': '00:01:10', 'maximum': '00:03:00', "  \
    "'faults': {'cone': 5, 'line': 10, 'wrong-route': 'maximum'}, 'penalty': {'cap': 100}" more    \
    "}"

BEHAVIOUR(a_special_test_tells_time_bogey_maximum_faults_and_cap) {
    static const struct sentence rows[] = {
        {"{}", SPECIAL(""), "S1/start,1,10:00:00.7,,\nS1/finish,1,10:01:05,,cone=2;line=1\n", NULL,
         false, 1, "S1",
         "Start 10:00:00.7, counted as 10:00, finish 10:01:05: 1 min 5 s, raised to the bogey 1 min 10 s; 70 at 1 a second + 2 × cone at 5 + 1 × line at 10 = 90."},
        {"{}", SPECIAL(""), "S1/start,1,10:00:00,,cone=2\nS1/finish,1,10:01:20,,line=1\n", NULL,
         false, 1, "S1",
         "Start 10:00:00, finish 10:01:20: 1 min 20 s; 80 at 1 a second + 2 × cone at 5 + 1 × line at 10 = 100."},
        {"{}", SPECIAL(""), "S1/finish,1,,200,\n", NULL, false, 1, "S1",
         "Measured 3 min 20 s, held to the maximum 3 min; 180 at 1 a second = 180, held to the cap of 100."},
        {"{}", "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'penalty': {'cap': {'late': 100}}}",
         "S1/finish,1,,200,\n", NULL, false, 1, "S1",
         "Measured 3 min 20 s; 200 at 1 a second = 200, held to the cap of 100."},
        {"{}", SPECIAL(", 'method': 'over-bogey'"), "S1/finish,1,,75,wrong-route=1;cone=3\n", NULL,
         false, 1, "S1",
         "Measured 1 min 15 s, wrong-route: the maximum 3 min, and no other fault is added; over the bogey of 1 min 10 s: 1 min 50 s; 110 at 1 a second = 110, held to the cap of 100."},
        {"{}", SPECIAL(", 'method': 'behind-best'"), "S1/finish,1,,75,\nS1/finish,2,,72,\n", NULL,
         false, 1, "S1",
         "Measured 1 min 15 s; behind the best, 1 min 12 s (car 2): 3 s; 3 at 1 a second = 3."},
        {"{}", SPECIAL(", 'method': 'behind-best'"), "S1/finish,1,,75,\nS1/finish,2,,72,\n", NULL,
         false, 2, "S1",
         "Measured 1 min 12 s; behind the best, 1 min 12 s (its own): 0 s; 0 at 1 a second = 0."},
        {"{}", SPECIAL(", 'method': 'behind-best', 'scope': 'class'"),
         "S1/finish,1,,75,\nS1/finish,2,,72,\n", NULL, false, 1, "S1",
         "Measured 1 min 15 s; behind the best of the class, 1 min 15 s (its own): 0 s; 0 at 1 a second = 0."},
        {"{}", SPECIAL(", 'method': 'behind-best'"), "S1/finish,1,,72,\nS1/finish,2,,75,\n",
         "disqualify,1,,,towed\n", false, 1, "S1",
         "Measured 1 min 12 s; behind the best, 1 min 12 s (its own): 0 s; 0 at 1 a second = 0."},
        {"{}", "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'method': 'behind-best'}",
         "S1/start,1,10:00:05,,\nS1/finish,1,10:00:00,,\nS1/finish,2,,2,\n", NULL, false, 2, "S1",
         "Measured 2 s; behind the best, -5 s (car 1): 7 s; 7 at 1 a second = 7."},
        {"{}", SPECIAL(""), "S1/finish,1,10:01:05,,\n", NULL, false, 1, "S1",
         "Finished 10:01:05, but there is no start to measure from. Counts as missed: 0."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(a_lap_tells_its_reference) {
    static const char first[] = "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 2, "
                                "'penalty': {'precision': 'tenth', 'early': '0.5', 'late': 1}}";
    static const char mean[] =
        "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 2, 'reference': 'mean', "
        "'penalty': {'precision': 'tenth'}}";
    static const char nominated[] =
        "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 1, 'reference': 'nominated', "
        "'penalty': {'precision': 'tenth'}}";
    static const struct sentence rows[] = {
        {"{}", first, "L1/start,1,10:00:00,,\nL1/1,1,10:01:00.05,,\nL1/2,1,10:01:59.39,,\n", NULL,
         false, 1, "L1/2",
         "Lap from 10:01:00.05, counted as 10:01 to 10:01:59.39, counted as 10:01:59.3 = 59.3 s; reference: the first lap, from 10:00:00 to 10:01:00.05, counted as 10:01 = 1 min: 0.7 s faster, 7 whole tenths at 0.5 a tenth = 3.5."},
        {"{}", first, "L1/1,1,,54.15,\nL1/2,1,,55.2,\n", NULL, false, 1, "L1/2",
         "Lap measured 55.2 s; reference: the first lap, measured 54.15 s, counted as 54.1 s: 1.1 s slower, 11 whole tenths at 1 a tenth = 11."},
        {"{}", nominated, "L1/nominated,1,,62.35,\nL1/1,1,,62.3,\n", NULL, false, 1, "L1/1",
         "Lap measured 1 min 2.3 s; reference: the nominated time, 1 min 2.35 s, counted as 1 min 2.3 s: no difference."},
        {"{}", mean, "L1/1,1,,60.1,\nL1/2,1,,60.4,\n", NULL, false, 1, "L1/1",
         "Lap measured 1 min 0.1 s; reference: the mean of the laps read, 2 min 0.5 s ÷ 2, cut to the tenth: 1 min 0.2 s: 0.1 s faster, 1 whole tenth at 1 a tenth = 1."},
        {"{}", first, "L1/start,1,10:01:00,,\nL1/1,1,10:00:17,,\nL1/2,1,10:00:18,,\n", NULL, false,
         1, "L1/2",
         "Lap from 10:00:17 to 10:00:18 = 1 s; reference: the first lap, from 10:01:00 to 10:00:17 = -43 s: 44 s slower, 440 whole tenths at 1 a tenth = 440."},
        {"{}", first, "L1/2,1,,60.4,\n", NULL, false, 1, "L1/2",
         "Lap measured 1 min 0.4 s, but there is no reference (the first lap). Counts as missed: 0."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(faults_on_laps_are_told_with_the_lap) {
    static const char laps[] =
        "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 3, 'faults': {'cone': 5, "
        "'line': '2.5'}}";
    static const char read[] = "L1/start,1,10:00:00,,line=1\nL1/1,1,10:01:00,,cone=1\n"
                               "L1/2,1,10:02:00,,cone=2;line=1\nL1/3,1,10:03:00,,\n";
    static const struct sentence rows[] = {
        {"{}", laps, read, NULL, false, 1, "L1/2",
         "Lap from 10:01:00 to 10:02:00 = 1 min; reference: the first lap, from 10:00:00 to 10:01:00 = 1 min: no difference. Faults: 2 × cone at 5 + 1 × line at 2.5 = 12.5, added to the test. Faults at L1/start: 1 × line at 2.5 = 2.5, added to the test. Faults at L1/1: 1 × cone at 5 = 5, added to the test."},
        {"{}", laps, read, NULL, false, 1, "L1/3",
         "Lap from 10:02:00 to 10:03:00 = 1 min; reference: the first lap, from 10:00:00 to 10:01:00 = 1 min: no difference."},
        {"{}", laps, read, "waive,1,L1/2,,sheep\n", false, 1, "L1/2",
         "Lap from 10:01:00 to 10:02:00 = 1 min; reference: the first lap, from 10:00:00 to 10:01:00 = 1 min: no difference. Faults at L1/start: 1 × line at 2.5 = 2.5, added to the test. Faults at L1/1: 1 × cone at 5 = 5, added to the test. This point is waived for this car: sheep. Costs nothing."},
        /* where the first lap that is scored was not read, or the car was out of the event */
        {"{}", laps, "L1/1,1,,60,cone=1\n", "waive,1,L1/2,,sheep\n", false, 1, "L1/2",
         "Faults at L1/1: 1 × cone at 5 = 5, added to the test. This point is waived for this car: sheep. Costs nothing."},
        {"{}", laps, "L1/1,1,,60,cone=1\n", "retire,1,L1/1,,engine\n", false, 1, "L1/2",
         "Faults at L1/1: 1 × cone at 5 = 5, added to the test. Out of the event here: charged as missed, 0, in the day's absence and not in the test."},
        {"{}", laps, read, "waive,1,L1,,sheep\n", false, 1, "L1/2",
         "Lap from 10:01:00 to 10:02:00 = 1 min; reference: the first lap, from 10:00:00 to 10:01:00 = 1 min: no difference. The whole test is waived for this car: sheep. Costs nothing."},
    };
    check_all(rows, COUNT_OF(rows));
}

#define ONE_CONTROL(rule)                                                                          \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', 'penalty': {" rule "}}"

BEHAVIOUR(begun_units_steps_and_amounts_once_are_told) {
    static const struct sentence rows[] = {
        {"{}", ONE_CONTROL("'precision': 'second', 'per': 'minute', 'part': true, 'late': 100"),
         "TC1,1,08:47:20,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:47:20: 1 min 20 s late, 2 begun minutes at 100 a minute = 200."},
        {"{}", ONE_CONTROL("'precision': 'minute', 'early': [{'to': 60, 'rate': 2}, {'rate': 5}]"),
         "TC1,1,08:43,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:43:00: 3 min early, 3 whole minutes at 2 up to 1 min, then 5: 1 × 2 + 2 × 5 = 12."},
        {"{}",
         ONE_CONTROL(
             "'precision': 'second', 'per': 'minute', 'early': [{'to': 60, 'rate': 2}, {'rate': 5}]"),
         "TC1,1,08:45:30,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:45:30: 30 s early, no whole minute at 2 up to 1 min, then 5 = 0."},
        {"{}", ONE_CONTROL("'precision': 'minute', 'early': {'once': 100}, 'cap': 60"),
         "TC1,1,08:43,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:43:00: 3 min early at 100 once = 100, held to the cap of 60."},
        {"{}", ONE_CONTROL("'precision': 'minute', 'early_limit': '00:02:00', 'missed': 900"),
         "TC1,1,08:43,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:43:00: 3 min early is beyond the limit of 2 min. Counts as missed: 900."},
        {"{}", ONE_CONTROL("'precision': '0.6'"), "TC1,1,08:46:04.0,,\n", NULL, false, 1, "TC1",
         "Start 08:01, 45 min allowed: due 08:46. Arrived 08:46:04, counted as 08:46:03.6: 3.6 s late, 6 whole units of 0.6 s at 1 per 0.6 s = 6."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(the_time_of_a_special_test_is_told_by_steps_or_once) {
    static const char steps[] =
        "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'faults': {'cone': 5}, "
        "'penalty': {'late': [{'to': 10, 'rate': 1}, {'rate': 2}]}}";
    static const char once[] = "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'bogey': 60, "
                               "'method': 'over-bogey', 'penalty': {'late': {'once': 30}}}";
    static const struct sentence rows[] = {
        {"{}", steps, "S1/finish,1,,14,cone=2\n", NULL, false, 1, "S1",
         "Measured 14 s; 14 whole seconds at 1 up to 10 s, then 2: 10 × 1 + 4 × 2 + 2 × cone at 5 = 28."},
        {"{}", once, "S1/finish,1,,64,\n", NULL, false, 1, "S1",
         "Measured 1 min 4 s; over the bogey of 1 min: 4 s; 30 once = 30."},
        {"{}", once, "S1/finish,1,,60,\n", NULL, false, 1, "S1",
         "Measured 1 min; over the bogey of 1 min: 0 s; nothing for time = 0."},
    };
    check_all(rows, COUNT_OF(rows));
}

#define PADS(more)                                                                                  \
    "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'penalty': {'missed': 30}, 'targets': "             \
    "[10, 11, {'target': '9.00', 'penalty': {'precision': 'tenth', 'late': 2, 'missed': 60}}]" more \
    "}"

BEHAVIOUR(a_check_or_pad_is_told_by_its_own_rule) {
    static const char cut[] =
        "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'ideals': 'down', "
        "'speeds': [{'from': 0, 'speed': 36.4}], 'checks': "
        "[{'at': 0.1}, {'at': 0.2, 'penalty': {'precision': 'tenth', 'late': {'once': 7}}}]}";
    static const struct sentence rows[] = {
        {"{}", PADS(""),
         "T1/start,1,10:00:00.5,,\nT1/1,1,10:00:10,,\nT1/2,1,10:00:21,,\nT1/3,1,10:00:30.35,,\n",
         NULL, false, 1, "T1/3",
         "From T1/2 at 10:00:21, target 9 s: due 10:00:30. Passed 10:00:30.35, counted as 10:00:30.3: 0.3 s late, 3 whole tenths at 2 a tenth = 6."},
        {"{}", PADS(""), "T1/1,1,10:00:10,,\n", NULL, false, 1, "T1/3", "No reading: missed, 60."},
        {"{}", PADS(", 'lost': 'next-too'"), "T1/1,1,10:00:10,,\nT1/3,1,10:00:30.35,,\n", NULL,
         false, 1, "T1/3",
         "Passed 10:00:30.35, counted as 10:00:30.3, but T1/2 before it was not read, which loses this one too. Counts as missed: 60."},
        {"{}", PADS(", 'lost': 'next-too'"), "T1/1,1,10:00:10,,\nT1/3,1,,9.2,\n", NULL, true, 1,
         "T1/3",
         "Measured 9.2 s, but T1/2 before it was not read, which loses this one too. Awaited: it costs nothing so far."},
        {"{}", cut, "R1/start,1,10:00:00,,\nR1/1,1,10:00:10.9,,\n", NULL, false, 1, "R1/1",
         "Start 10:00:00; 0.1 km at 36.4 = ideal 9 s (cut to the second): due 10:00:09. Passed 10:00:10.9, counted as 10:00:10: 1 s late at 1 a second = 1."},
        {"{}", cut, "R1/start,1,10:00:00,,\nR1/2,1,10:00:20.79,,\n", NULL, false, 1, "R1/2",
         "Start 10:00:00; 0.2 km at 36.4 = ideal 19.7 s (cut to the tenth): due 10:00:19.7. Passed 10:00:20.79, counted as 10:00:20.7: 1 s late at 7 once = 7."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(a_passage_tells_when_the_car_was_seen) {
    static const char route[] =
        "{'day': 1, 'id': 'PC1', 'kind': 'passage-control', 'penalty': {'missed': {'fails': 1}}}";
    static const struct sentence rows[] = {
        {"{}", route, "PC1,1,,,\n", NULL, false, 1, "PC1", "Seen."},
        {"{}", route, "PC1,1,10:00:30,,\n", NULL, false, 1, "PC1", "Seen at 10:00:30."},
        {"{}", route, "", NULL, false, 1, "PC1", "No reading: missed, 1 fail."},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(rulings_are_told_with_their_reason_beside_what_was_measured) {
    static const struct sentence rows[] = {
        {"{}", REGULARITY, "R1/start,1,10:00:00,,\nR1/1,1,10:07:04,,\n", "waive,1,R1/1,,sheep\n",
         false, 1, "R1/1",
         "Start 10:00:00; 3.2 km at 48 + 2.17 km at 42.5 = ideal 7 min 4 s (to the second): due 10:07:04. Passed 10:07:04: on time. This point is waived for this car: sheep. Costs nothing."},
        {"{}", REGULARITY, "", "cancel,,R1,,bridge closed\n", false, 1, "R1/2",
         "The whole test is cancelled for everybody: bridge closed. Costs nothing."},
        {"{}", REGULARITY, "", "notional,1,R1,30,clock failed\n", false, 1, "R1/1",
         "The whole test is given a notional result of 30: clock failed."},
        {"{}", REGULARITY, "", "notional,1,R1,30,clock failed\n", false, 1, "R1/2",
         "The whole test is given a notional result of 30: clock failed. It stands once, at the first point."},
    };
    check_all(rows, COUNT_OF(rows));
}

#define TWO_PADS                                                                                   \
    "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': [9, 9], 'penalty': {'missed': 300, "    \
    "'late_limit': '00:00:20'}}"

BEHAVIOUR(absence_and_dropping_are_told) {
    static const struct sentence rows[] = {
        {"{}",
         REGULARITY
         ", {'day': 1, 'id': 'PC1', 'kind': 'passage-control', 'penalty': {'missed': 300}}",
         "", "retire,1,R1,,engine\n", false, 1, "PC1",
         "Out of the event here: charged as missed, 300, in the day's absence and not in the test."},
        {"{}",
         REGULARITY
         ", {'day': 1, 'id': 'PC1', 'kind': 'passage-control', 'penalty': {'missed': 300}}",
         "", "retire,1,R1,,engine\n", true, 1, "PC1",
         "Out of the event here; nothing is charged so far."},
        {"{'drop_worst': {'count': 1}}",
         "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': [9]}", "T1/1,1,,11,\n", NULL, false,
         1, "T1/1",
         "Target 9 s: measured 11 s: 2 s late at 1 a second = 2. The test is dropped as the car's costliest: this 2 does not count."},
        {"{'drop_worst': {'count': 1}}", TWO_PADS, "T1/1,1,,9,\n", NULL, false, 1, "T1/2",
         "No reading: missed, 300. The test is dropped as the car's costliest: this 300 does not count."},
        {"{'drop_worst': {'count': 1}}", TWO_PADS, "T1/1,1,,9,\n", NULL, false, 1, "T1/1",
         "Target 9 s: measured 9 s: on time. The test is dropped as the car's costliest: it does not count."},
        {"{'drop_worst': {'count': 1}}", TWO_PADS, "T1/1,1,,9,\nT1/2,1,,30,\n", NULL, false, 1,
         "T1/2",
         "Target 9 s: measured 30 s: 21 s late is beyond the limit of 20 s. Counts as missed: 300. The test is dropped as the car's costliest: this 300 does not count."},
        {"{'drop_worst': {'count': 1}}", TWO_PADS, "T1/1,1,,9,\n", "notional,1,T1,40,hose\n", false,
         1, "T1/1",
         "Target 9 s: measured 9 s: on time. The whole test is given a notional result of 40: hose. The test is dropped as the car's costliest: this 40 does not count."},
    };
    check_all(rows, COUNT_OF(rows));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_time_control_tells_due_arrival_and_price),
        cmocka_unit_test(halts_allowances_caps_and_limits_of_a_control_are_told),
        cmocka_unit_test(lateness_that_is_carried_is_told),
        cmocka_unit_test(a_check_tells_stretches_ideal_truncation_and_cap),
        cmocka_unit_test(a_check_measured_from_the_one_before_tells_the_difference),
        cmocka_unit_test(a_start_from_the_control_is_told),
        cmocka_unit_test(grace_is_told_where_it_is_free_and_where_it_is_deducted),
        cmocka_unit_test(a_special_test_tells_time_bogey_maximum_faults_and_cap),
        cmocka_unit_test(a_lap_tells_its_reference),
        cmocka_unit_test(faults_on_laps_are_told_with_the_lap),
        cmocka_unit_test(begun_units_steps_and_amounts_once_are_told),
        cmocka_unit_test(the_time_of_a_special_test_is_told_by_steps_or_once),
        cmocka_unit_test(a_check_or_pad_is_told_by_its_own_rule),
        cmocka_unit_test(a_passage_tells_when_the_car_was_seen),
        cmocka_unit_test(rulings_are_told_with_their_reason_beside_what_was_measured),
        cmocka_unit_test(absence_and_dropping_are_told),
    };
    RUN_BEHAVIOURS(tests);
}
