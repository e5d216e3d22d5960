/* SPDX-License-Identifier: MIT */
#include "scoring/told_faults.h"

#include <stdio.h>
#include <stdlib.h>

#include "scene.h"
#include "testing.h"

/* A control, a passage, a regularity of two checks 100 s and 200 s after its start, and three laps
 * against the first. */
#define FAULTS "'faults': {'board': 30, 'sign': {'fails': 2}, 'doubtful': 'missed', 'remark': 0}"
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', " FAULTS                \
    ", 'penalty': {'precision': 'minute', 'late': 10, 'missed': 900, 'cap': 20}}, "                \
    "{'day': 1, 'id': 'PC1', 'kind': 'passage-control', " FAULTS ", 'penalty': {'missed': "        \
    "{'fails': 1}}}, "                                                                             \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 36}], "          \
    "'checks': [{'at': 1}, {'at': 2}], " FAULTS ", 'test_cap': 200, 'penalty': {'cap': 60, "       \
    "'missed': 120}}, "                                                                            \
    "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 3, " FAULTS                             \
    ", 'penalty': {'cap': 10, 'missed': 50}}"
#define SCORING "{'finisher': {'share': '2/2'}}"

#define READ "point,car,time,faults\n"
#define DECIDED "kind,car,point,value,reason\n"

static const struct viewpoint the_end = {.live = false};
static const struct viewpoint live = {.live = true};

/* Readings of car 1, which is due at TC1 at 08:46. */
static void open_scene(struct scene *scene, const char *readings, const char *decisions,
                       struct viewpoint viewpoint) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, SCORING, ROUTE),
                               .readings = readings,
                               .decisions = decisions};
    scene_open(scene, &texts, viewpoint);
}

/* Fails where the point of car 1 is not in that state, or costs otherwise. */
static void assert_point(const struct scene *scene, const char *id, enum state state,
                         int64_t penalty, int fails) {
    struct scored_point sp = scene_point(scene, 1, id);
    if (sp.state != state || sp.penalty != penalty || sp.fails != fails)
        fail_msg("%s: %s, %lld and %d fails", id, state_word(sp.state), (long long)sp.penalty,
                 sp.fails);
}

static void assert_why(const struct scene *scene, const char *id, const char *why) {
    char *said = scene_why(scene, 1, id);
    assert_string_equal(said, why);
    free(said);
}

static int64_t sum_of(const struct scene *scene, int item) {
    return scene_car(scene, 1)->item_penalty[item];
}

BEHAVIOUR(faults_are_added_to_their_point_outside_its_cap) {
    struct scene scene;
    open_scene(&scene,
               READ "TC1,1,08:50,board=2\nPC1,1,,sign=1\nR1/start,1,09:00,\n"
                    "R1/1,1,09:03:00,board=1;sign=1\nR1/2,1,09:03:20,remark=1\n",
               NULL, the_end);
    assert_point(&scene, "TC1", STATE_SCORED, 80000, 0);
    assert_why(&scene, "TC1",
               "Start 08:01, 45 min allowed: due 08:46. Arrived 08:50:00: 4 min late at 10 a "
               "minute = 40, held to the cap of 20. Faults: 2 × board at 30 = 60. "
               "Together 80.");
    assert_point(&scene, "PC1", STATE_SCORED, 0, 2);
    assert_why(&scene, "PC1", "Seen. Faults: 1 × sign at 2 fails = 2 fails.");
    assert_point(&scene, "R1/1", STATE_SCORED, 90000, 2);
    assert_why(
        &scene, "R1/1",
        "Start 09:00:00; 1 km at 36 = ideal 1 min 40 s (to the second): due 09:01:40. "
        "Passed 09:03:00: 1 min 20 s late at 1 a second = 80, held to the "
        "cap of 60. Faults: 1 × board at 30 + 1 × sign at 2 fails = 30 and 2 fails. Together "
        "90 and 2 fails.");
    assert_point(&scene, "R1/2", STATE_SCORED, 0, 0);
    assert_int_equal(scene_car(&scene, 1)->clean, 0);
    scene_close(&scene);
}

BEHAVIOUR(faults_of_the_way_out_are_the_controls) {
    struct scene scene;
    open_scene(&scene, READ "TC1,1,08:46,\nTC1/out,1,08:50,board=1\n", NULL, the_end);
    assert_point(&scene, "TC1", STATE_SCORED, 30000, 0);
    scene_close(&scene);
    open_scene(&scene, READ "TC1,1,08:46,board=1\nTC1/out,1,08:50,doubtful=1;sign=1\n", NULL,
               the_end);
    assert_point(&scene, "TC1", STATE_MISSED, 930000, 2);
    scene_close(&scene);
}

BEHAVIOUR(a_fault_may_make_its_point_missed_and_others_are_added) {
    struct scene scene;
    open_scene(&scene,
               READ "TC1,1,08:46,doubtful=1;board=1\nPC1,1,,doubtful=2\nR1/start,1,09:00,\n"
                    "R1/1,1,09:01:40,doubtful=1\nR1/2,1,09:03:20,\n",
               NULL, the_end);
    assert_point(&scene, "TC1", STATE_MISSED, 930000, 0);
    assert_int_equal(scene_point(&scene, 1, "TC1").cause, CAUSE_FAULT);
    assert_point(&scene, "PC1", STATE_MISSED, 0, 1);
    assert_why(&scene, "PC1", "Seen. Fault doubtful: counts as missed, 1 fail.");
    assert_point(&scene, "R1/1", STATE_MISSED, 120000, 0);
    assert_point(&scene, "R1/2", STATE_CLEAN, 0, 0);
    assert_int_equal(scene_car(&scene, 1)->status, STATUS_NOT_CLASSIFIED);
    scene_close(&scene);
}

BEHAVIOUR(faults_at_a_start_are_part_of_the_test_under_its_cap) {
    struct scene scene;
    open_scene(&scene, READ "R1/start,1,09:00,board=1;sign=1\nR1/1,1,09:01:41,\nR1/2,1,09:03:20,\n",
               NULL, the_end);
    assert_point(&scene, "R1/1", STATE_SCORED, 1000, 0);
    assert_int_equal(sum_of(&scene, 2), 31000);
    assert_int_equal(scene_car(&scene, 1)->item_fails[2], 2);
    assert_why(&scene, "R1/1",
               "Start 09:00:00; 1 km at 36 = ideal 1 min 40 s (to the second): due 09:01:40. "
               "Passed 09:01:41: 1 s late at 1 a second = 1. Faults at R1/start: 1 × board at 30 + "
               "1 × sign at 2 fails = 30 and 2 fails, added to the test.");
    scene_close(&scene);
    open_scene(&scene, READ "R1/start,1,09:00,board=9\nR1/1,1,09:01:41,\nR1/2,1,09:03:20,\n", NULL,
               the_end);
    assert_int_equal(sum_of(&scene, 2), 200000);
    scene_close(&scene);
}

/* The start of R1 and the first lap of L1 are not scored: they add what a missed point costs, once.
 */
BEHAVIOUR(missed_at_a_point_that_is_not_scored_adds_what_a_missed_one_costs) {
    struct scene scene;
    open_scene(&scene,
               READ "R1/start,1,09:00,doubtful=3\nR1/1,1,09:01:40,\nR1/2,1,09:03:20,\n"
                    "L1/start,1,10:00,\nL1/1,1,10:01,doubtful=1\nL1/2,1,10:02,\nL1/3,1,10:03,\n",
               NULL, the_end);
    assert_int_equal(sum_of(&scene, 2), 120000);
    assert_int_equal(sum_of(&scene, 3), 50000);
    assert_point(&scene, "L1/2", STATE_CLEAN, 0, 0);
    assert_why(&scene, "R1/1",
               "Start 09:00:00; 1 km at 36 = ideal 1 min 40 s (to the second): due 09:01:40. "
               "Passed 09:01:40: on time. Fault at R1/start: doubtful, as a missed point: 120, "
               "added to the test.");
    scene_close(&scene);
}

BEHAVIOUR(what_a_missed_one_costs_may_be_fails) {
    struct event_text texts = {
        .rules =
            RULES_OF_TWO_DAYS(FIVA, "{}",
                              "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': [9], " FAULTS
                              ", 'penalty': {'missed': {'fails': 3}}}"),
        .readings = READ "T1/start,1,09:00,doubtful=1;sign=1\nT1/1,1,09:00:09,\n"};
    struct scene scene;
    scene_open(&scene, &texts, the_end);
    assert_int_equal(sum_of(&scene, 0), 0);
    assert_int_equal(scene_car(&scene, 1)->item_fails[0], 5);
    assert_why(&scene, "T1/1",
               "Start 09:00:00, target 9 s: due 09:00:09. Passed 09:00:09: on time. "
               "Faults at T1/start: 1 × sign at 2 fails = 2 fails, added to the test. "
               "Fault at T1/start: doubtful, as a missed point: 3 fails, added to the test.");
    scene_close(&scene);
}

BEHAVIOUR(a_lap_stays_clean_with_a_fault_but_is_missed_for_one_that_says_so) {
    struct scene scene;
    open_scene(&scene,
               READ "L1/start,1,10:00,\nL1/1,1,10:01,\nL1/2,1,10:02,board=1\n"
                    "L1/3,1,10:03,doubtful=1;board=1\n",
               NULL, the_end);
    assert_point(&scene, "L1/2", STATE_CLEAN, 0, 0);
    assert_point(&scene, "L1/3", STATE_MISSED, 50000, 0);
    assert_int_equal(sum_of(&scene, 3), 110000);
    scene_close(&scene);
}

BEHAVIOUR(a_judge_tells_faults_as_a_reading_would) {
    struct scene scene;
    open_scene(&scene, READ "R1/start,1,09:00,\nR1/1,1,09:01:40,board=1\nR1/2,1,09:03:20,\n",
               DECIDED "faults,1,R1/1,board=1;sign=1,post 3\nfaults,1,R1/start,board=1,post 1\n",
               the_end);
    assert_point(&scene, "R1/1", STATE_SCORED, 60000, 2);
    assert_int_equal(sum_of(&scene, 2), 90000);
    assert_why(
        &scene, "R1/1",
        "Start 09:00:00; 1 km at 36 = ideal 1 min 40 s (to the second): due 09:01:40. "
        "Passed 09:01:40: on time. Faults at R1/start: 1 × board at 30 (decided: post 1) = "
        "30, added to the test. Faults: 1 × board at 30 + 1 × board at 30 (decided: post 3) + "
        "1 × sign at 2 fails (decided: post 3) = 60 and 2 fails.");
    scene_close(&scene);
}

/* The third lap has neither the one before it nor, while that is open, anything to go by. */
BEHAVIOUR(a_lap_that_lacks_its_reference_may_be_missed_for_a_fault) {
    struct scene scene;
    open_scene(&scene, READ "L1/2,1,10:02,\nL1/3,1,10:03,doubtful=1\n", NULL, live);
    assert_point(&scene, "L1/3", STATE_MISSED, 50000, 0);
    assert_int_equal(scene_point(&scene, 1, "L1/3").cause, CAUSE_NO_REFERENCE);
    assert_why(&scene, "L1/3",
               "Lap from 10:02:00 to 10:03:00 = 1 min, but there is no reference (the first lap). "
               "Fault doubtful: counts as missed, 50.");
    scene_close(&scene);
}

/* What is decided is certain, read or not. */
BEHAVIOUR(a_fault_told_at_an_open_point_is_charged_at_once) {
    struct scene scene;
    open_scene(&scene, READ "R1/start,1,09:00,\n",
               DECIDED "faults,1,R1/1,board=1,post 3\nfaults,1,R1/2,doubtful=1,post 4\n", live);
    assert_point(&scene, "R1/1", STATE_AWAITING, 30000, 0);
    assert_why(
        &scene, "R1/1",
        "No reading yet; the point is still open. Faults: 1 × board at 30 (decided: post 3) = "
        "30.");
    assert_point(&scene, "R1/2", STATE_MISSED, 120000, 0);
    assert_int_equal(scene_car(&scene, 1)->item_flags[2] & ITEM_TO_COME, 0);
    scene_close(&scene);
}

BEHAVIOUR(faults_count_for_nothing_where_a_ruling_holds_or_the_car_is_out) {
    struct scene scene;
    open_scene(&scene,
               READ "TC1,1,08:46,board=1\nR1/start,1,09:00,board=1\nR1/1,1,09:01:40,board=1\n"
                    "R1/2,1,09:03:20,board=1\n",
               DECIDED "waive,1,TC1,,x\nwaive,1,R1/1,,x\nretire,1,R1,,x\n"
                       "faults,1,L1/2,board=1,post 3\n",
               the_end);
    assert_point(&scene, "TC1", STATE_WAIVED, 0, 0);
    assert_point(&scene, "R1/1", STATE_WAIVED, 0, 0);
    assert_int_equal(sum_of(&scene, 2), 60000);
    assert_int_equal(sum_of(&scene, 3), 0);
    scene_close(&scene);
    open_scene(&scene, READ "R1/start,1,09:00,board=1\nR1/1,1,09:01:40,board=1\n",
               DECIDED "cancel,,R1,,x\n", the_end);
    assert_int_equal(sum_of(&scene, 2), 0);
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(faults_are_added_to_their_point_outside_its_cap),
        cmocka_unit_test(faults_of_the_way_out_are_the_controls),
        cmocka_unit_test(a_fault_may_make_its_point_missed_and_others_are_added),
        cmocka_unit_test(faults_at_a_start_are_part_of_the_test_under_its_cap),
        cmocka_unit_test(missed_at_a_point_that_is_not_scored_adds_what_a_missed_one_costs),
        cmocka_unit_test(what_a_missed_one_costs_may_be_fails),
        cmocka_unit_test(a_lap_stays_clean_with_a_fault_but_is_missed_for_one_that_says_so),
        cmocka_unit_test(a_judge_tells_faults_as_a_reading_would),
        cmocka_unit_test(a_lap_that_lacks_its_reference_may_be_missed_for_a_fault),
        cmocka_unit_test(a_fault_told_at_an_open_point_is_charged_at_once),
        cmocka_unit_test(faults_count_for_nothing_where_a_ruling_holds_or_the_car_is_out),
    };
    RUN_BEHAVIOURS(tests);
}
