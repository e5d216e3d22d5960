/* SPDX-License-Identifier: MIT */
#include "scoring/score_sheet.h"

#include <stdio.h>

#include "base/err.h"
#include "scene.h"
#include "testing.h"

/* A control, a regularity of two checks 100 s and 200 s after its start, a test and a control
 * behind them; then a day with one control. */
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', 'penalty': "            \
    "{'precision': 'minute', 'late': 10, 'early': 60, 'missed': 900, 'late_limit': "               \
    "'00:30:00'}}, "                                                                               \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 36}], "          \
    "'checks': [{'at': 1}, {'at': 2}], 'penalty': {'precision': 'second', 'late': 1, 'early': 1, " \
    "'missed': 300}}, "                                                                            \
    "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'faults': {'cone': 0, 'line': "                \
    "5}, 'penalty': {'precision': 'second', 'grace': '00:01:00', 'late': 1, 'missed': 200}}, "     \
    "{'day': 1, 'id': 'TC2', 'kind': 'time-control', 'target': '00:30:00', 'penalty': "            \
    "{'precision': 'minute', 'late': 10, 'early': 60, 'missed': 900}}, "                           \
    "{'day': 2, 'id': 'TC3', 'kind': 'time-control', 'target': '00:20:00', 'penalty': "            \
    "{'precision': 'minute', 'late': 10, 'early': 60, 'missed': 900}}"

/* Car 1 starts at 08:01, car 2 at 08:02, car 5 at 08:05; on the second day car 1 at 09:01. */
#define READINGS                                                                                   \
    "point,car,time,elapsed,faults\n"                                                              \
    "TC1,1,08:46:30,,\nR1/start,1,09:10:00,,\nR1/1,1,09:11:40,,\nR1/2,1,09:13:25,,\n"              \
    "S1/finish,1,,58,cone=1\nTC2,1,09:16:00,,\n"                                                   \
    "TC1,2,08:48:10,,\nR1/start,2,09:12:00,,\nR1/2,2,09:15:20,,\n"

#define DECISIONS "kind,car,point,value,reason\n"

static const struct viewpoint the_end = {.live = false};
static const struct viewpoint live = {.live = true};

static void open_scene(struct scene *scene, const char *more_readings, const char *decisions,
                       struct viewpoint viewpoint) {
    char readings[1024];
    (void)snprintf(readings, sizeof readings, "%s%s", READINGS, more_readings);
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE),
                               .readings = readings,
                               .decisions = decisions};
    scene_open(scene, &texts, viewpoint);
}

/* The sheet of a car by its number, for score_sheet_clear. */
static void work_out(const struct scene *scene, int number, struct score_sheet *sheet) {
    int car = entries_find(scene->event->entries, number);
    assert_int_equal(scores_sheet(scene->scores, car, sheet), ERR_OK);
}

static int point_of(const struct scene *scene, const char *id) {
    int point = strmap_get(&scene->event->rules->point_by_id, id);
    assert_true(point >= 0);
    return point;
}

/* Fails where the point is not in that state, or costs other thousandths. */
static void assert_point(const struct scene *scene, int number, const char *id, enum state state,
                         int64_t penalty) {
    struct scored_point sp = scene_point(scene, number, id);
    if (sp.state != state || sp.penalty != penalty)
        fail_msg("car %d at %s: %s, %lld", number, id, state_word(sp.state), (long long)sp.penalty);
}

BEHAVIOUR(each_state_has_the_word_of_the_card) {
    static const char *const words[] = {
        [STATE_SCORED] = "scored",     [STATE_CLEAN] = "clean",     [STATE_MISSED] = "missed",
        [STATE_AWAITING] = "awaiting", [STATE_WAIVED] = "waived",   [STATE_CANCELLED] = "cancelled",
        [STATE_NOTIONAL] = "notional", [STATE_DROPPED] = "dropped", [STATE_ABSENT] = "absent"};
    for (size_t i = 0; i < COUNT_OF(words); i++)
        assert_string_equal(state_word((enum state)i), words[i]);
}

BEHAVIOUR(a_point_is_clean_or_scored_by_what_its_kind_found) {
    struct scene scene;
    open_scene(&scene, "", NULL, the_end);
    assert_point(&scene, 1, "TC1", STATE_CLEAN, 0);
    assert_point(&scene, 1, "R1/1", STATE_CLEAN, 0);
    assert_point(&scene, 1, "R1/2", STATE_SCORED, 5000);
    assert_point(&scene, 2, "TC1", STATE_SCORED, 10000);
    assert_point(&scene, 2, "R1/2", STATE_CLEAN, 0);
    scene_close(&scene);
}

/* The test was done within the grace, and a cone costs nothing here. */
BEHAVIOUR(a_point_with_a_fault_is_not_clean) {
    struct scene scene;
    open_scene(&scene, "S1/finish,2,,58,\n", NULL, the_end);
    assert_point(&scene, 1, "S1", STATE_SCORED, 0);
    assert_point(&scene, 2, "S1", STATE_CLEAN, 0);
    scene_close(&scene);
}

BEHAVIOUR(what_was_not_read_is_awaited_and_then_missed) {
    struct scene scene;
    open_scene(&scene, "", NULL, live);
    assert_point(&scene, 2, "S1", STATE_AWAITING, 0);
    assert_point(&scene, 5, "TC1", STATE_AWAITING, 0);
    scene_close(&scene);
    open_scene(&scene, "", DECISIONS "close,,TC1,,all through\n", live);
    assert_point(&scene, 5, "TC1", STATE_MISSED, 900000);
    assert_point(&scene, 5, "R1/1", STATE_AWAITING, 0);
    scene_close(&scene);
    open_scene(&scene, "", NULL, the_end);
    assert_point(&scene, 2, "S1", STATE_MISSED, 200000);
    assert_point(&scene, 2, "R1/1", STATE_MISSED, 300000);
    assert_int_equal(scene_point(&scene, 2, "R1/1").cause, CAUSE_NO_READING);
    scene_close(&scene);
}

/* A whole unit past the limit, since the control counts in minutes. */
BEHAVIOUR(a_reading_past_the_late_limit_is_as_good_as_none) {
    struct scene scene;
    open_scene(&scene, "TC1,5,09:20:59,,\n", NULL, the_end);
    assert_point(&scene, 5, "TC1", STATE_SCORED, 300000);
    scene_close(&scene);
    open_scene(&scene, "TC1,5,09:21:00,,\n", NULL, the_end);
    assert_point(&scene, 5, "TC1", STATE_MISSED, 900000);
    assert_int_equal(scene_point(&scene, 5, "TC1").cause, CAUSE_LATE_LIMIT);
    scene_close(&scene);
}

/* Rulings on R1 of car 1, whose checks are clean and 5 s late. */
BEHAVIOUR(of_rulings_the_one_on_the_whole_test_goes_first_then_cancel_notional_waive) {
    static const struct {
        const char *rows;
        enum state first, second;
        int64_t first_penalty, second_penalty;
    } cases[] = {
        {"waive,1,R1/2,,x\n", STATE_CLEAN, STATE_WAIVED, 0, 0},
        {"waive,1,R1/2,,x\nnotional,1,R1/2,7,x\n", STATE_CLEAN, STATE_NOTIONAL, 0, 7000},
        {"waive,1,R1/2,,x\nnotional,1,R1/2,7,x\ncancel,,R1/2,,x\n", STATE_CLEAN, STATE_CANCELLED, 0,
         0},
        {"cancel,,R1/2,,x\nwaive,1,R1,,x\n", STATE_WAIVED, STATE_WAIVED, 0, 0},
        {"waive,1,R1,,x\nnotional,1,R1,40,x\n", STATE_NOTIONAL, STATE_NOTIONAL, 40000, 0},
        {"waive,1,R1,,x\nnotional,1,R1,40,x\ncancel,,R1,,x\n", STATE_CANCELLED, STATE_CANCELLED, 0,
         0},
        {"notional,1,R1/1,3,x\nnotional,1,R1/2,4,x\n", STATE_NOTIONAL, STATE_NOTIONAL, 3000, 4000},
        {"waive,2,R1,,x\n", STATE_CLEAN, STATE_SCORED, 0, 5000}, /* another car's */
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct scene scene;
        char decisions[256];
        (void)snprintf(decisions, sizeof decisions, "%s%s", DECISIONS, cases[i].rows);
        open_scene(&scene, "", decisions, the_end);
        assert_point(&scene, 1, "R1/1", cases[i].first, cases[i].first_penalty);
        assert_point(&scene, 1, "R1/2", cases[i].second, cases[i].second_penalty);
        scene_close(&scene);
    }
}

BEHAVIOUR(a_ruling_says_whether_it_is_about_the_whole_test) {
    struct scene scene;
    open_scene(&scene, "", DECISIONS "waive,1,R1,,x\nwaive,2,R1/2,,x\n", the_end);
    assert_true(scene_point(&scene, 1, "R1/2").ruling_whole);
    assert_false(scene_point(&scene, 2, "R1/2").ruling_whole);
    assert_non_null(scene_point(&scene, 2, "R1/2").ruling);
    assert_null(scene_point(&scene, 2, "R1/1").ruling);
    struct score_sheet sheet;
    work_out(&scene, 2, &sheet);
    assert_true(score_sheet_point_ruled(&sheet, point_of(&scene, "R1/2")));
    assert_false(score_sheet_point_ruled(&sheet, point_of(&scene, "R1/1")));
    assert_false(score_sheet_point_ruled(&sheet, point_of(&scene, "R1/start")));
    score_sheet_clear(&sheet);
    work_out(&scene, 1, &sheet);
    assert_true(score_sheet_point_ruled(&sheet, point_of(&scene, "R1/start")));
    score_sheet_clear(&sheet);
    scene_close(&scene);
}

BEHAVIOUR(a_car_that_is_out_is_charged_when_the_point_closes) {
    struct scene scene;
    open_scene(&scene, "", DECISIONS "retire,2,R1/2,,engine\n", live);
    assert_point(&scene, 2, "R1/2", STATE_CLEAN, 0);
    assert_point(&scene, 2, "S1", STATE_ABSENT, 0);
    assert_false(scene_point(&scene, 2, "S1").charged);
    scene_close(&scene);
    open_scene(&scene, "", DECISIONS "retire,2,R1/2,,engine\nclose,,S1,,all through\n", live);
    assert_point(&scene, 2, "S1", STATE_ABSENT, 200000);
    assert_point(&scene, 2, "TC2", STATE_ABSENT, 0);
    scene_close(&scene);
    open_scene(&scene, "", DECISIONS "retire,2,R1/2,,engine\n", the_end);
    assert_point(&scene, 2, "TC3", STATE_ABSENT, 900000);
    scene_close(&scene);
}

BEHAVIOUR(a_car_that_rejoined_is_charged_at_once) {
    struct scene scene;
    open_scene(&scene, "", DECISIONS "retire,2,R1/2,,engine\nrejoin,2,,2,mended\n", live);
    assert_point(&scene, 2, "S1", STATE_ABSENT, 200000);
    assert_point(&scene, 2, "TC2", STATE_ABSENT, 900000);
    assert_point(&scene, 2, "TC3", STATE_AWAITING, 0);
    scene_close(&scene);
}

BEHAVIOUR(a_ruling_holds_for_a_car_that_is_out) {
    struct scene scene;
    open_scene(&scene, "", DECISIONS "retire,2,R1/2,,engine\nwaive,2,S1,,x\n", the_end);
    assert_point(&scene, 2, "S1", STATE_WAIVED, 0);
    assert_point(&scene, 2, "TC2", STATE_ABSENT, 900000);
    scene_close(&scene);
}

BEHAVIOUR(a_reading_made_while_out_does_not_count_and_is_doubtful) {
    struct scene scene;
    struct score_sheet sheet;
    bool doubtful = false;
    open_scene(&scene, "", DECISIONS "retire,1,R1/1,,engine\n", the_end);
    work_out(&scene, 1, &sheet);
    int check = point_of(&scene, "R1/2");
    int car = sheet.car;
    assert_true(score_sheet_absent(&sheet, car, check));
    assert_null(sheet.counted[check]);
    assert_null(score_sheet_read(&sheet, car, check, &doubtful));
    assert_true(doubtful);
    /* There, at the test and at the control behind it. */
    assert_int_equal(sheet.doubtful, 3);
    assert_int_equal(sheet.through, point_of(&scene, "R1/1"));
    assert_false(score_sheet_absent(&sheet, car, point_of(&scene, "R1/1")));
    assert_non_null(score_sheet_read(&sheet, car, point_of(&scene, "R1/1"), &doubtful));
    assert_false(doubtful);
    score_sheet_clear(&sheet);
    scene_close(&scene);
}

BEHAVIOUR(readings_that_differ_are_doubtful_and_one_of_them_counts) {
    struct scene scene;
    struct score_sheet sheet;
    open_scene(&scene, "R1/2,1,09:13:27,,\n", NULL, the_end);
    work_out(&scene, 1, &sheet);
    assert_int_equal(sheet.doubtful, 1);
    assert_non_null(sheet.counted[point_of(&scene, "R1/2")]);
    assert_null(sheet.counted[point_of(&scene, "TC3")]);
    score_sheet_clear(&sheet);
    work_out(&scene, 2, &sheet);
    assert_int_equal(sheet.doubtful, 0);
    score_sheet_clear(&sheet);
    scene_close(&scene);
}

BEHAVIOUR(a_sheet_ends_where_one_looks_from) {
    struct scene scene;
    struct score_sheet sheet;
    open_scene(&scene, "TC3,1,09:21:00,,\n", NULL, (struct viewpoint){.after = "TC1"});
    work_out(&scene, 1, &sheet);
    assert_int_equal(sheet.through, point_of(&scene, "TC1"));
    assert_null(sheet.counted[point_of(&scene, "R1/1")]);
    assert_true(sheet.read_anywhere);
    assert_true(sheet.at_last_control);
    score_sheet_clear(&sheet);
    work_out(&scene, 5, &sheet);
    assert_int_equal(sheet.through, -1);
    assert_false(sheet.read_anywhere);
    assert_false(sheet.at_last_control);
    score_sheet_clear(&sheet);
    scene_close(&scene);
    open_scene(&scene, "R1/1,5,09:20:00,,\n", NULL, (struct viewpoint){.after = "TC1"});
    work_out(&scene, 5, &sheet);
    assert_int_equal(sheet.through, -1);
    assert_true(sheet.read_anywhere);
    score_sheet_clear(&sheet);
    scene_close(&scene);
}

BEHAVIOUR(an_allowance_on_the_road_moves_the_control_behind_it) {
    struct scene scene;
    open_scene(&scene, "", NULL, the_end);
    int64_t due = scene_point(&scene, 1, "TC2").due;
    scene_close(&scene);
    open_scene(&scene, "", DECISIONS "allowance,1,R1/1,00:02:00,sheep\n", the_end);
    assert_int_equal(scene_point(&scene, 1, "TC2").due, due + INT64_C(2) * 60 * 1000);
    assert_int_equal(scene_point(&scene, 1, "TC1").due, (INT64_C(8) * 60 + 46) * 60 * 1000);
    scene_close(&scene);
}

/* However late it was the day before, the car is due from its own start. */
BEHAVIOUR(a_day_begins_anew) {
    struct scene scene;
    open_scene(&scene, "TC3,1,09:23:00,,\n", DECISIONS "allowance,1,R1/1,00:02:00,sheep\n",
               the_end);
    struct scored_point sp = scene_point(&scene, 1, "TC3");
    assert_int_equal(sp.due, (INT64_C(9) * 60 + 21) * 60 * 1000);
    assert_int_equal(sp.penalty, 20000);
    assert_int_equal(sp.base_point, -1);
    scene_close(&scene);
}

/* A sheet holds nothing of the car before. */
BEHAVIOUR(one_sheet_serves_all_cars_in_turn) {
    static const int order[] = {1, 5, 2, 1, 5};
    struct scene scene;
    struct score_sheet used;
    open_scene(&scene, "R1/2,1,09:13:27,,\n", DECISIONS "retire,2,R1/2,,engine\nwaive,1,R1/2,,x\n",
               live);
    assert_int_equal(score_sheet_init(&used, scene.event), ERR_OK);
    score_sheet_use(&used, scene.event, scene.view, &scene.scores->bests);
    for (size_t i = 0; i < COUNT_OF(order); i++) {
        struct score_sheet own;
        work_out(&scene, order[i], &own);
        score_sheet_score(&used, own.car);
        for (int n = 0; n < scene.event->rules->scored_count; n++) {
            assert_int_equal(used.scored[n].state, own.scored[n].state);
            assert_int_equal(used.scored[n].penalty, own.scored[n].penalty);
            assert_int_equal(used.scored[n].due, own.scored[n].due);
            assert_ptr_equal(used.scored[n].reading, own.scored[n].reading);
            assert_ptr_equal(used.scored[n].ruling, own.scored[n].ruling);
        }
        for (int p = 0; p < scene.event->rules->point_count; p++)
            assert_ptr_equal(used.counted[p], own.counted[p]);
        assert_int_equal(used.doubtful, own.doubtful);
        assert_int_equal(used.through, own.through);
        assert_int_equal(used.read_anywhere, own.read_anywhere);
        score_sheet_clear(&own);
    }
    score_sheet_clear(&used);
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_state_has_the_word_of_the_card),
        cmocka_unit_test(a_point_is_clean_or_scored_by_what_its_kind_found),
        cmocka_unit_test(a_point_with_a_fault_is_not_clean),
        cmocka_unit_test(what_was_not_read_is_awaited_and_then_missed),
        cmocka_unit_test(a_reading_past_the_late_limit_is_as_good_as_none),
        cmocka_unit_test(
            of_rulings_the_one_on_the_whole_test_goes_first_then_cancel_notional_waive),
        cmocka_unit_test(a_ruling_says_whether_it_is_about_the_whole_test),
        cmocka_unit_test(a_car_that_is_out_is_charged_when_the_point_closes),
        cmocka_unit_test(a_car_that_rejoined_is_charged_at_once),
        cmocka_unit_test(a_ruling_holds_for_a_car_that_is_out),
        cmocka_unit_test(a_reading_made_while_out_does_not_count_and_is_doubtful),
        cmocka_unit_test(readings_that_differ_are_doubtful_and_one_of_them_counts),
        cmocka_unit_test(a_sheet_ends_where_one_looks_from),
        cmocka_unit_test(an_allowance_on_the_road_moves_the_control_behind_it),
        cmocka_unit_test(a_day_begins_anew),
        cmocka_unit_test(one_sheet_serves_all_cars_in_turn),
    };
    RUN_BEHAVIOURS(tests);
}
