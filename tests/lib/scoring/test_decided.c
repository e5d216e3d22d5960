/* SPDX-License-Identifier: MIT */
#include "scoring/decided.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "scene.h"
#include "testing.h"

/* A control, a regularity of one check 100 s after its start, hidden until it is closed, and a
 * special test. */
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', 'penalty': "            \
    "{'precision': 'minute', 'late': 10, 'missed': 900}}, "                                        \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 36}], "          \
    "'checks': [{'at': 1}], 'test_cap': 80, 'penalty': {'cap': 60, 'missed': 120}}, "              \
    "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'faults': {'cone': 5}, 'penalty': {'late': "   \
    "1, 'missed': 200}}"
#define SCORING "{'coefficient': {'by': 'class', 'apply': 'test', 'table': {'C': '2'}}}"

#define READ                                                                                       \
    "point,car,time,elapsed\nTC1,1,08:46,\nR1/start,1,09:00,\nR1/1,1,09:01:40,\n"                  \
    "S1/finish,1,,0\n"
#define DECIDED "kind,car,point,value,reason\n"

static const struct viewpoint the_end = {.live = false};

static void open_scene(struct scene *scene, const char *decisions, struct viewpoint viewpoint) {
    struct event_text texts = {
        .rules = RULES_OF_TWO_DAYS(FIVA, SCORING, ROUTE), .readings = READ, .decisions = decisions};
    scene_open(scene, &texts, viewpoint);
}

static void assert_total(const char *decisions, int64_t penalty, int fails) {
    struct scene scene;
    open_scene(&scene, decisions, the_end);
    struct tally tally = scene_car(&scene, 1)->tally[BASIS_CORRECTED];
    if (tally.total != penalty || tally.fails != fails)
        fail_msg("%s: %lld and %d fails", decisions, (long long)tally.total, tally.fails);
    scene_close(&scene);
}

static enum state state_of(const char *decisions, const char *id) {
    struct scene scene;
    open_scene(&scene, decisions, the_end);
    enum state state = scene_point(&scene, 1, id).state;
    scene_close(&scene);
    return state;
}

/* Car 1 is of period C, whose tests count double. */
BEHAVIOUR(a_penalty_without_a_point_is_added_as_it_is_and_one_with_it_is_part_of_its_item) {
    assert_total(NULL, 0, 0);
    assert_total(DECIDED "penalty,1,,7.5,x\n", 7500, 0);
    assert_total(DECIDED "penalty,1,R1,7.5,x\n", 15000, 0);
    assert_total(DECIDED "penalty,1,R1/1,7.5,x\npenalty,1,R1/start,1,x\n", 17000, 0);
    assert_total(DECIDED "penalty,1,R1,100,x\n", 200000, 0);
    assert_total(DECIDED "penalty,1,TC1,7.5,x\npenalty,1,TC1/out,1,x\n", 8500, 0);
    assert_total(DECIDED "penalty,1,R1,-7.5,x\n", -15000, 0);
}

BEHAVIOUR(fails_count_in_the_total_and_in_their_item) {
    struct scene scene;
    open_scene(&scene, DECIDED "fails,1,,2,x\nfails,1,R1/1,3,x\nfails,1,TC1,4,x\n", the_end);
    const struct car_score *car = scene_car(&scene, 1);
    assert_int_equal(car->tally[BASIS_CORRECTED].fails, 9);
    assert_int_equal(car->decided_fails, 2);
    assert_int_equal(car->item_fails[1], 3);
    assert_int_equal(car->day_fails[0], 7);
    scene_close(&scene);
}

BEHAVIOUR(what_is_cancelled_notional_or_waived_gets_nothing_more) {
    static const char *const aside[] = {"waive,1,R1,,x\n",       "cancel,,R1,,x\n",
                                        "waive,1,R1/1,,x\n",     "cancel,,R1/1,,x\n",
                                        "notional,1,R1/1,0,x\n", "notional,1,R1,0,x\n"};
    for (size_t i = 0; i < COUNT_OF(aside); i++) {
        char decisions[160];
        (void)snprintf(decisions, sizeof decisions,
                       DECIDED "penalty,1,R1/1,10,x\nfails,1,R1/1,1,x\n%s", aside[i]);
        assert_total(decisions, 0, 0);
    }
    /* A ruling on the point is none on the whole test. */
    assert_total(DECIDED "penalty,1,R1,10,x\nwaive,1,R1/1,,x\n", 20000, 0);
}

BEHAVIOUR(it_counts_where_the_car_is_out) {
    struct scene scene;
    open_scene(&scene, DECIDED "retire,1,TC1,,x\npenalty,1,R1,10,x\nfails,1,S1,1,x\n", the_end);
    const struct car_score *car = scene_car(&scene, 1);
    assert_int_equal(car->item_penalty[1], 10000);
    assert_int_equal(car->item_fails[2], 1);
    assert_int_equal(car->absent, 320000);
    scene_close(&scene);
}

BEHAVIOUR(a_point_that_a_decision_names_is_not_clean) {
    assert_int_equal(state_of(DECIDED "penalty,1,R1,0,x\n", "R1/1"), STATE_CLEAN);
    assert_int_equal(state_of(DECIDED "penalty,1,R1/start,0,x\n", "R1/1"), STATE_CLEAN);
    assert_int_equal(state_of(DECIDED "penalty,1,,0,x\n", "TC1"), STATE_CLEAN);
    assert_int_equal(state_of(DECIDED "penalty,2,TC1,0,x\n", "TC1"), STATE_CLEAN);
    assert_int_equal(state_of(DECIDED "penalty,1,R1/1,0,x\n", "R1/1"), STATE_SCORED);
    assert_int_equal(state_of(DECIDED "penalty,1,TC1,0,x\n", "TC1"), STATE_SCORED);
    assert_int_equal(state_of(DECIDED "penalty,1,TC1/out,0,x\n", "TC1"), STATE_SCORED);
    assert_int_equal(state_of(DECIDED "fails,1,S1,1,x\n", "S1"), STATE_SCORED);
    assert_int_equal(state_of(DECIDED "faults,1,S1/start,cone=0,x\n", "S1"), STATE_SCORED);
}

static void assert_says(const char *card, const char *text) {
    if (strstr(card, text) == NULL)
        fail_msg("no “%s” in %s", text, card);
}

BEHAVIOUR(it_has_a_row_of_its_own_under_the_item) {
    struct scene scene;
    open_scene(&scene, DECIDED "penalty,1,R1,100,speed check\nfails,1,TC1,2,wrong side\n", the_end);
    char *json = scene_card(&scene, 1, FORM_JSON);
    assert_says(json,
                "\"why\":\"Start 09:00:00; 1 km at 36 = ideal 1 min 40 s (to the second): due "
                "09:01:40. Passed 09:01:40: on time.\"},\n"
                "{\"point\":\"R1\",\"kind\":\"penalty\",\"day\":1,\"scheduled\":null,"
                "\"due\":null,\"actual\":null,\"deviation\":null,\"penalty\":\"100.000\","
                "\"fails\":0,\"state\":\"scored\",\"why\":\"Decided: speed check: 100 for the "
                "test, outside every cap of it.\"}");
    assert_says(json, "\"points 0 + decided 100, × 2 (coefficient of period C) = 200\"");
    assert_says(json,
                "\"why\":\"Decided: wrong side: 2 fails for the control, outside every cap of "
                "it.\"");
    char *csv = scene_card(&scene, 1, FORM_CSV);
    assert_says(csv, "1,R1,penalty,1,,,,,100.000,0,scored,");
    char *text = scene_card(&scene, 1, FORM_TEXT);
    assert_says(text, "[scored] Decided: speed check: 100 for the test");
    free(json);
    free(csv);
    free(text);
    scene_close(&scene);
    open_scene(&scene, DECIDED "penalty,1,R1,100,speed check\nwaive,1,R1,,x\n", the_end);
    json = scene_card(&scene, 1, FORM_JSON);
    assert_says(json, "\"penalty\":\"0.000\",\"fails\":0,\"state\":\"waived\",\"why\":\"Decided: "
                      "speed check: counts for nothing, since this is waived for this car.\"");
    free(json);
    scene_close(&scene);
}

BEHAVIOUR(it_is_hidden_with_its_item) {
    struct scene scene;
    open_scene(&scene, DECIDED "penalty,1,R1,10,x\nfails,1,R1/1,1,x\n",
               (struct viewpoint){.live = true, .public_view = true});
    assert_int_equal(scene_car(&scene, 1)->tally[BASIS_CORRECTED].total, 0);
    assert_int_equal(scene_car(&scene, 1)->tally[BASIS_CORRECTED].fails, 0);
    scene_close(&scene);
    open_scene(&scene, DECIDED "penalty,1,R1,10,x\npenalty,1,,3,x\n",
               (struct viewpoint){.after = "TC1"});
    assert_int_equal(scene_car(&scene, 1)->tally[BASIS_CORRECTED].total, 3000);
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            a_penalty_without_a_point_is_added_as_it_is_and_one_with_it_is_part_of_its_item),
        cmocka_unit_test(fails_count_in_the_total_and_in_their_item),
        cmocka_unit_test(what_is_cancelled_notional_or_waived_gets_nothing_more),
        cmocka_unit_test(it_counts_where_the_car_is_out),
        cmocka_unit_test(a_point_that_a_decision_names_is_not_clean),
        cmocka_unit_test(it_has_a_row_of_its_own_under_the_item),
        cmocka_unit_test(it_is_hidden_with_its_item),
    };
    RUN_BEHAVIOURS(tests);
}
