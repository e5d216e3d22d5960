/* SPDX-License-Identifier: MIT */
#include "output/output.h"

#include <jansson.h>
#include <stdlib.h>
#include <string.h>

#include "base/utf8.h"
#include "scene.h"
#include "testing.h"

#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'name': 'Saltmill', 'target': '00:45:00', "   \
    "'penalty': {'precision': 'minute', 'late': 10, 'early': 60, 'missed': 900}}, "                \
    "{'day': 2, 'id': 'R1', 'kind': 'regularity', 'name': 'Hollin <Moor>', 'speeds': [{'from': "   \
    "0, "                                                                                          \
    "'speed': 36}], 'checks': [{'at': 1}]}"

#define READINGS                                                                                   \
    "point,car,time\nTC1,1,08:46:59\nTC1,2,08:48:10\nTC1,3,08:48:00\n"                             \
    "R1/start,1,09:10:00\nR1/1,1,09:11:43\n"                                                       \
    "R1/start,2,09:12:00\nR1/1,2,09:13:40\nR1/start,3,09:12:00\nR1/1,3,09:13:40\n"

static const char cars[] = "number,driver,navigator,make,model,year,team\n"
                           "1,\"Ann \"\"Al\"\" Alder\",=SUM(1),Calder,Six,1925,Withy\n"
                           "2,Sándor Győrfalvi,,Thornbeck,Ten,1934,Withy\n"
                           "3,דוד,伊藤,Garrodine,,1934,\n";

static void open_scene(struct scene *scene, const char *decisions, struct viewpoint viewpoint) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, "{'teams': {'count': 2}}", ROUTE),
                               .entries = cars,
                               .readings = READINGS,
                               .decisions = decisions};
    scene_open(scene, &texts, viewpoint);
}

static json_t *parsed_so(char *text, size_t flags) {
    json_error_t error;
    json_t *root = json_loads(text, flags, &error);
    if (root == NULL)
        fail_msg("line %d: %s in\n%s", error.line, error.text, text);
    free(text);
    return root;
}

static json_t *parsed(char *text) {
    return parsed_so(text, JSON_REJECT_DUPLICATES);
}

/* A card, whose keys another test looks at. */
static json_t *parsed_card(const struct scene *scene, int number) {
    return parsed_so(scene_card(scene, number, FORM_JSON), 0);
}

static const char *text_at(const json_t *object, const char *key) {
    const char *text = json_string_value(json_object_get(object, key));
    assert_non_null(text);
    return text;
}

#define DECISIONS "kind,car,point,value,reason\n"
static const struct viewpoint the_end = {.live = false};

BEHAVIOUR(standings_have_exactly_the_shape_that_was_promised) {
    struct scene scene;
    open_scene(&scene, DECISIONS "retire,1,R1,,engine\n", the_end);
    char *text = scene_standings(&scene, BY_OVERALL, FORM_JSON);
    assert_string_equal(
        text,
        "{\"event\":\"fell-trial\",\"status\":\"provisional\",\"revision\":0,\"after\":null,"
        "\"by\":\"overall\",\n"
        "\"standings\":[\n"
        "{\"position\":1,\"equal\":false,\"car\":3,\"crew\":[\"דוד\",\"伊藤\"],\"vehicle\":"
        "\"Garrodine\",\"year\":1934,\"class\":\"D\",\"class_position\":1,\"fails\":0,\"penalty\":"
        "\"0.000\",\"behind_leader\":\"0.000\",\"behind_next\":\"0.000\",\"fails_behind_leader\":0,"
        "\"fails_behind_next\":0,\"days\":[\"0.000\",\"0.000\"],\"through\":\"R1/"
        "1\",\"status\":\"finished\",\"awaiting\":0,\"doubtful\":0},\n"
        "{\"position\":2,\"equal\":false,\"car\":2,\"crew\":[\"Sándor Győrfalvi\"],\"vehicle\":"
        "\"Thornbeck Ten\",\"year\":1934,\"class\":\"D\",\"class_position\":2,\"fails\":0,"
        "\"penalty\":\"10.000\",\"behind_leader\":\"10.000\",\"behind_next\":\"10.000\","
        "\"fails_behind_leader\":0,\"fails_behind_next\":0,\"days\":[\"10.000\",\"0.000\"],"
        "\"through\":\"R1/1\",\"status\":\"finished\",\"awaiting\":0,"
        "\"doubtful\":0}],\n"
        "\"unplaced\":[\n"
        "{\"position\":null,\"equal\":false,\"car\":1,\"crew\":[\"Ann \\\"Al\\\" Alder\","
        "\"=SUM(1)\"],\"vehicle\":\"Calder Six\",\"year\":1925,\"class\":\"C\",\"class_position\":"
        "null,\"fails\":0,\"penalty\":\"3.000\",\"behind_leader\":null,\"behind_next\":null,"
        "\"fails_behind_leader\":null,\"fails_behind_next\":null,\"days\":[\"0.000\",\"3.000\"],"
        "\"through\":\"R1/1\",\"status\":\"retired\",\"awaiting\":0,"
        "\"doubtful\":0}]}\n");
    free(text);
    scene_close(&scene);
}

BEHAVIOUR(every_grouping_is_well_formed_json_under_its_key) {
    static const char *const keys[BY_COUNT] = {NULL,  "class", "category", "group",
                                               "day", "test",  NULL};
    struct scene scene;
    open_scene(&scene, NULL, the_end);
    for (int by = 0; by < BY_COUNT; by++) {
        char *text = scene_standings(&scene, (enum standings_by)by, FORM_JSON);
        if (by == BY_CATEGORY || by == BY_GROUP) {
            assert_null(text);
            continue;
        }
        json_t *root = parsed(text);
        assert_string_equal(text_at(root, "by"), by_word((enum standings_by)by));
        if (keys[by] != NULL) {
            const json_t *groups = json_object_get(root, "groups");
            assert_true(json_array_size(groups) > 0);
            const json_t *group = json_array_get(groups, 0);
            assert_non_null(json_object_get(group, keys[by]));
            assert_true(json_is_array(json_object_get(group, "standings")));
            assert_true(json_is_array(json_object_get(group, "unplaced")));
            assert_int_equal(json_is_array(json_object_get(group, "pending")), by == BY_TEST);
        }
        json_decref(root);
    }
    scene_close(&scene);
}

BEHAVIOUR(teams_have_their_own_rows) {
    struct scene scene;
    open_scene(&scene, NULL, the_end);
    char *text = scene_standings(&scene, BY_TEAM, FORM_JSON);
    assert_string_equal(text, "{\"event\":\"fell-trial\",\"status\":\"provisional\",\"revision\":0,"
                              "\"after\":null,\"by\":\"team\",\n\"standings\":[\n{\"position\":1,"
                              "\"equal\":false,\"team\":\"Withy\",\"fails\":0,\"penalty\":"
                              "\"13.000\",\"cars\":[1,2]}],\n\"unplaced\":[]}\n");
    free(text);
    scene_close(&scene);
}

BEHAVIOUR(equal_places_are_told_on_all_of_them) {
    struct scene scene;
    open_scene(&scene, DECISIONS "penalty,3,,10,r\n", the_end);
    json_t *root = parsed(scene_standings(&scene, BY_OVERALL, FORM_JSON));
    const json_t *rows = json_object_get(root, "standings");
    static const int64_t positions[] = {1, 2, 2};
    for (size_t i = 0; i < 3; i++) {
        const json_t *row = json_array_get(rows, i);
        assert_int_equal(json_integer_value(json_object_get(row, "position")), positions[i]);
        assert_int_equal(json_is_true(json_object_get(row, "equal")), i > 0);
    }
    json_decref(root);
    scene_close(&scene);
}

BEHAVIOUR(a_live_event_names_the_point_and_lists_who_is_pending) {
    struct scene scene;
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, "{}", ROUTE),
                               .readings = "point,car,time\nTC1,1,08:46\n"};
    scene_open(&scene, &texts, (struct viewpoint){.live = true, .after = "TC1"});
    json_t *root = parsed(scene_standings(&scene, BY_OVERALL, FORM_JSON));
    assert_string_equal(text_at(root, "status"), "live");
    assert_string_equal(text_at(root, "after"), "TC1");
    assert_int_equal(json_array_size(json_object_get(root, "pending")), 0);
    assert_int_equal(json_array_size(json_object_get(root, "unplaced")), 2);
    const json_t *row = json_array_get(json_object_get(root, "standings"), 0);
    assert_int_equal(json_array_size(json_object_get(row, "days")), 1);
    /* it was read at the last time control, behind which no other comes */
    assert_string_equal(text_at(row, "status"), "finished");
    json_decref(root);
    scene_close(&scene);
}

BEHAVIOUR(csv_has_a_header_and_keeps_formulas_as_text) {
    struct scene scene;
    open_scene(&scene, DECISIONS "retire,1,R1,,engine\n", the_end);
    char *text = scene_standings(&scene, BY_OVERALL, FORM_CSV);
    assert_string_equal(
        text,
        "list,position,equal,car,driver,navigator,make,model,year,class,class_position,fails,"
        "penalty,behind_leader,behind_next,fails_behind_leader,fails_behind_next,day_1,day_2,"
        "through,status,awaiting,doubtful\r\n"
        "standings,1,no,3,דוד,伊藤,Garrodine,,1934,D,1,0,0.000,0.000,0.000,0,0,0.000,0.000,R1/1,"
        "finished,0,0\r\n"
        "standings,2,no,2,Sándor Győrfalvi,,Thornbeck,Ten,1934,D,2,0,10.000,10.000,10.000,0,0,"
        "10.000,0.000,R1/1,finished,0,0\r\n"
        "unplaced,,no,1,\"Ann \"\"Al\"\" Alder\",'=SUM(1),Calder,Six,1925,C,,0,3.000,,,,,0.000,"
        "3.000,R1/1,retired,0,0\r\n");
    free(text);
    text = scene_standings(&scene, BY_TEST, FORM_CSV);
    assert_int_equal(strncmp(text, "test,list,", 10), 0);
    free(text);
    scene_close(&scene);
}

/* Column at which a piece of text ends in its line, in columns of a text table; -1 where it is not.
 */
static int end_column(const char *line, const char *piece) {
    const char *found = strstr(line, piece);
    if (found == NULL)
        return -1;
    struct textbuf before = {0};
    textbuf_add(&before, line, (size_t)(found - line) + strlen(piece));
    int width = utf8_width(textbuf_text(&before));
    textbuf_clear(&before);
    return width;
}

BEHAVIOUR(a_board_is_aligned_whatever_the_script) {
    struct scene scene;
    open_scene(&scene, DECISIONS "penalty,3,,10,r\n", the_end);
    char *text = scene_standings(&scene, BY_OVERALL, FORM_TEXT);
    static const char *const penalties[] = {" 3.000 ", " 10.000 ", " 10.000 "};
    int column = -1;
    int row = 0;
    char *rest = NULL;
    for (char *line = strtok_r(text, "\n", &rest); line != NULL;
         line = strtok_r(NULL, "\n", &rest)) {
        if (strstr(line, "Calder") == NULL && strstr(line, "Thornbeck") == NULL &&
            strstr(line, "Garrodine") == NULL)
            continue;
        int end = end_column(line, penalties[row++]);
        assert_true(end > 0);
        if (column >= 0)
            assert_int_equal(end, column);
        column = end;
    }
    assert_int_equal(row, 3);
    free(text);
    scene_close(&scene);
}

BEHAVIOUR(a_board_marks_equal_places_and_says_why_a_car_has_none) {
    struct scene scene;
    open_scene(&scene, DECISIONS "penalty,3,,10,r\nretire,1,R1,,engine at Withy Ford\n", the_end);
    char *text = scene_standings(&scene, BY_OVERALL, FORM_TEXT);
    assert_non_null(strstr(text, "Fell Trial\nOverall classification, provisional\n"));
    assert_non_null(strstr(text, "   =1 "));
    assert_non_null(strstr(text, "Without a place"));
    assert_non_null(strstr(text, "retired: engine at Withy Ford"));
    free(text);
    scene_close(&scene);
}

BEHAVIOUR(a_card_tells_the_row_every_point_and_the_sum) {
    struct scene scene;
    open_scene(&scene, DECISIONS "penalty,2,,-2.5,helped\n", the_end);
    json_t *root = parsed_card(&scene, 2);
    assert_string_equal(text_at(root, "event"), "fell-trial");
    assert_int_equal(json_integer_value(json_object_get(root, "car")), 2);
    assert_string_equal(text_at(root, "penalty"), "7.500");
    const json_t *points = json_object_get(root, "points");
    assert_int_equal(json_array_size(points), 2);
    const json_t *tc = json_array_get(points, 0);
    assert_string_equal(text_at(tc, "point"), "TC1");
    assert_string_equal(text_at(tc, "kind"), "time-control");
    assert_int_equal(json_integer_value(json_object_get(tc, "day")), 1);
    assert_string_equal(text_at(tc, "scheduled"), "08:47:00");
    assert_string_equal(text_at(tc, "due"), "08:47:00");
    assert_string_equal(text_at(tc, "actual"), "08:48:00");
    assert_string_equal(text_at(tc, "deviation"), "00:01:00");
    assert_string_equal(text_at(tc, "penalty"), "10.000");
    assert_string_equal(text_at(tc, "state"), "scored");
    assert_int_equal(json_integer_value(json_object_get(tc, "fails")), 0);
    assert_true(strlen(text_at(tc, "why")) > 0);
    const json_t *check = json_array_get(points, 1);
    assert_true(json_is_null(json_object_get(check, "scheduled")));
    assert_string_equal(text_at(check, "state"), "clean");
    json_decref(root);
    scene_close(&scene);
}

BEHAVIOUR(no_key_of_a_card_stands_twice) {
    struct scene scene;
    open_scene(&scene, NULL, the_end);
    json_t *root = parsed(scene_card(&scene, 2, FORM_JSON));
    /* the row's own status: the car's */
    assert_string_equal(text_at(root, "status"), "finished");
    json_decref(root);
    scene_close(&scene);
}

BEHAVIOUR(deviations_keep_their_sign_and_precision) {
    struct event_text texts = {
        .rules = RULES(FIVA, "{}",
                       "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': ['11.70'], "
                       "'penalty': {'precision': 'hundredth'}}"),
        .readings = "point,car,elapsed\nT1/1,1,11.655\nT1/1,2,12\n"};
    struct scene scene;
    scene_open(&scene, &texts, the_end);
    json_t *root = parsed_card(&scene, 1);
    const json_t *pad = json_array_get(json_object_get(root, "points"), 0);
    assert_string_equal(text_at(pad, "due"), "00:00:11.70");
    assert_string_equal(text_at(pad, "actual"), "00:00:11.65");
    assert_string_equal(text_at(pad, "deviation"), "-00:00:00.05");
    json_decref(root);
    scene_close(&scene);
}

BEHAVIOUR(the_steps_of_a_card_add_up_to_its_penalty) {
    struct event_text texts = {
        .rules =
            RULES(FIVA,
                  "{'coefficient': {'by': 'year', 'apply': 'total'}, 'drop_worst': {'count': 1}, "
                  "'absent_day_cap': 15}",
                  "{'day': 1, 'id': 'A', 'kind': 'passage-control', 'penalty': {'missed': 10}}, "
                  "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': [9]}, {'day': 1, "
                  "'id': 'T2', 'kind': 'set-time', 'targets': [9], 'test_cap': 3}, {'day': 1, "
                  "'id': 'T3', 'kind': 'set-time', 'targets': [9]}, {'day': 1, 'id': 'B', "
                  "'kind': 'passage-control', 'penalty': {'missed': 20}}"),
        .readings = "point,car,elapsed\nT1/1,2,11\nT2/1,2,19\nT3/1,2,24\n",
        .decisions = DECISIONS "penalty,2,,-1.25,r\nretire,2,T3,,engine\n"};
    struct scene scene;
    scene_open(&scene, &texts, the_end);
    json_t *root = parsed_card(&scene, 2);
    /* (2 + 3) x 1.34 + 10 for A + 15 of absence, held - 1.25 */
    assert_string_equal(text_at(root, "penalty"), "30.450");
    const json_t *steps = json_object_get(root, "total");
    int64_t sum = 0;
    for (size_t i = 0; i < json_array_size(steps); i++) {
        const char *text = text_at(json_array_get(steps, i), "penalty");
        const char *point = strchr(text, '.');
        int64_t whole = strtoll(text, NULL, 10);
        int64_t part = strtoll(point + 1, NULL, 10);
        sum += whole * 1000 + (*text == '-' ? -part : part);
    }
    assert_int_equal(sum, 30450);
    json_decref(root);
    /* 10 for A, 2 + 3 and the 15 of T3, and 15 of absence */
    char *text = scene_card(&scene, 2, FORM_TEXT);
    assert_non_null(
        strstr(text, "penalty 45.000, dropped tests included, before the coefficient\n"));
    free(text);
    scene_close(&scene);
}

/* Three tests of the driver's own timing: 2, 3.1 (held there) and 30 points, and one to come. */
#define FOUR_TESTS                                                                                 \
    "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': [9]}, "                                 \
    "{'day': 1, 'id': 'T2', 'kind': 'set-time', 'targets': [9], 'test_cap': '3.1'}, "              \
    "{'day': 1, 'id': 'T3', 'kind': 'set-time', 'targets': [9]}, "                                 \
    "{'day': 1, 'id': 'T4', 'kind': 'set-time', 'targets': [9, 9]}"

/* Checks a step of car 2, built in 1934, in an event with these rules of scoring. */
static void check_step(const char *scoring, bool live, const char *of, const char *penalty,
                       const char *why) {
    struct textbuf rules = {0};
    textbuf_printf(&rules, RULES(FIVA, "%s", FOUR_TESTS), scoring);
    struct event_text texts = {.rules = textbuf_text(&rules),
                               .readings = "point,car,elapsed\nT1/1,2,11\nT2/1,2,19\nT3/1,2,39\n"};
    struct scene scene;
    scene_open(&scene, &texts, (struct viewpoint){.live = live});
    json_t *root = parsed_card(&scene, 2);
    size_t i;
    const json_t *step;
    bool found = false;
    json_array_foreach(json_object_get(root, "total"), i, step) {
        if (strcmp(text_at(step, "of"), of) != 0)
            continue;
        const json_t *cost = json_object_get(step, "penalty");
        found = true;
        assert_string_equal(text_at(step, "why"), why);
        if (penalty == NULL)
            assert_true(json_is_null(cost));
        else
            assert_string_equal(json_string_value(cost), penalty);
    }
    assert_true(found);
    json_decref(root);
    scene_close(&scene);
    textbuf_clear(&rules);
}

BEHAVIOUR(the_steps_of_a_card_can_be_redone_with_a_pocket_calculator) {
    static const char on_total[] =
        "{'coefficient': {'by': 'year', 'round': 'whole'}, 'drop_worst': {'count': 1, "
        "'when': 'always'}}";
    static const char on_tests[] =
        "{'coefficient': {'by': 'year', 'apply': 'test'}, 'drop_worst': {'count': 1, "
        "'when': 'always'}}";
    check_step(on_total, true, "T1", "2.000", "points 2");
    check_step(on_total, true, "T2", "3.100", "points 10, held to the test's cap of 3.1");
    check_step(on_total, true, "T3", "0.000",
               "points 30; dropped as the costliest, would have cost 40.2 (30 × 1.34)");
    check_step(
        on_total, true, "coefficient", "1.900",
        "coefficient of 1934 on regularity, set-time, special-test, consistency: 5.1 × 1.34 = 6.834, rounded to 7, less 5.1 = 1.9");
    check_step(on_tests, true, "T1", "2.680", "points 2, × 1.34 (coefficient of 1934) = 2.68");
    check_step(
        on_tests, true, "T3", "0.000",
        "points 30, × 1.34 (coefficient of 1934) = 40.2; dropped as the costliest, would have cost 40.2");
    check_step("{'drop_worst': {'count': 1, 'when': 'always'}}", true, "T3", "0.000",
               "points 30; dropped as the costliest, would have cost 30");
}

BEHAVIOUR(what_is_to_come_is_no_perfect_result) {
    check_step("{}", true, "T4", NULL, "to come");
    check_step("{}", false, "T4", "0.000", "points 0");
    /* with nothing of them known, neither is what the coefficient makes of them */
    check_step("{'coefficient': {'by': 'year', 'kinds': ['regularity']}}", true, "T4", NULL,
               "to come");
    struct event_text texts = {.rules = RULES(FIVA, "{'coefficient': {'by': 'year'}}", FOUR_TESTS),
                               .readings = "point,car,elapsed\nT1/1,1,11\nT4/1,1,9\n"};
    struct scene scene;
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    char *text = scene_card(&scene, 2, FORM_TEXT);
    assert_non_null(strstr(text, "\n  T4/2                     –  [awaiting] "));
    assert_non_null(strstr(text, "\n  T4                       –  to come\n"));
    assert_non_null(strstr(text, "\n  coefficient              –  "));
    free(text);
    text = scene_card(&scene, 1, FORM_TEXT);
    assert_non_null(strstr(text, "\n  T4                   0.000  points 0; 1 awaited\n"));
    free(text);
    char *csv = scene_card(&scene, 1, FORM_CSV);
    assert_non_null(
        strstr(csv, "\r\n1,T4/1,set-time,1,,00:00:09,00:00:09,00:00:00,0.000,0,clean,"));
    assert_non_null(strstr(csv, "\r\n1,T4/2,set-time,1,,,,,,0,awaiting,"));
    free(csv);
    scene_close(&scene);
}

BEHAVIOUR(cards_come_as_csv_and_text_too) {
    struct scene scene;
    open_scene(&scene, NULL, the_end);
    char *csv = scene_card(&scene, 2, FORM_CSV);
    assert_int_equal(strncmp(csv,
                             "car,point,kind,day,scheduled,due,actual,deviation,penalty,fails,"
                             "state,why\r\n2,TC1,time-control,1,08:47:00,08:47:00,08:48:00,"
                             "00:01:00,10.000,0,scored,",
                             127),
                     0);
    free(csv);
    char *text = scene_card(&scene, 2, FORM_TEXT);
    assert_non_null(strstr(text, "Card of car 2"));
    assert_non_null(strstr(text, "Saltmill, time control"));
    assert_non_null(strstr(text, "Penalty 10.000"));
    assert_non_null(strstr(text, "Day 1, 2027-05-20, penalty 10.000\n"));
    free(text);
    scene_close(&scene);
}

BEHAVIOUR(no_line_of_a_card_ends_in_a_blank) {
    struct scene scene;
    open_scene(&scene, NULL, the_end);
    for (int number = 1; number <= 3; number++) {
        char *text = scene_card(&scene, number, FORM_TEXT);
        assert_null(strstr(text, " \n"));
        free(text);
    }
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(standings_have_exactly_the_shape_that_was_promised),
        cmocka_unit_test(every_grouping_is_well_formed_json_under_its_key),
        cmocka_unit_test(teams_have_their_own_rows),
        cmocka_unit_test(equal_places_are_told_on_all_of_them),
        cmocka_unit_test(a_live_event_names_the_point_and_lists_who_is_pending),
        cmocka_unit_test(csv_has_a_header_and_keeps_formulas_as_text),
        cmocka_unit_test(a_board_is_aligned_whatever_the_script),
        cmocka_unit_test(a_board_marks_equal_places_and_says_why_a_car_has_none),
        cmocka_unit_test(a_card_tells_the_row_every_point_and_the_sum),
        cmocka_unit_test(no_key_of_a_card_stands_twice),
        cmocka_unit_test(deviations_keep_their_sign_and_precision),
        cmocka_unit_test(the_steps_of_a_card_add_up_to_its_penalty),
        cmocka_unit_test(the_steps_of_a_card_can_be_redone_with_a_pocket_calculator),
        cmocka_unit_test(what_is_to_come_is_no_perfect_result),
        cmocka_unit_test(cards_come_as_csv_and_text_too),
        cmocka_unit_test(no_line_of_a_card_ends_in_a_blank),
    };
    RUN_BEHAVIOURS(tests);
}
