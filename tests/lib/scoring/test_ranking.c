/* SPDX-License-Identifier: MIT */
#include "scoring/ranking.h"

#include <stdio.h>
#include <string.h>

#include "base/textbuf.h"
#include "scene.h"
#include "testing.h"

/* A passage control each; "R" and "S" are tests whose cost is given by decisions. */
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'A', 'kind': 'passage-control', 'penalty': {'missed': 10}}, "                \
    "{'day': 1, 'id': 'R', 'kind': 'set-time', 'targets': [9]}, "                                  \
    "{'day': 1, 'id': 'S', 'kind': 'set-time', 'targets': [9]}, "                                  \
    "{'day': 1, 'id': 'B', 'kind': 'passage-control', 'penalty': {'missed': {'fails': 1}}}, "      \
    "{'day': 1, 'id': 'C', 'kind': 'passage-control', 'penalty': {'missed': 0}}"

#define CARS                                                                                       \
    "number,driver,navigator,make,model,year,engine_cc,born\n"                                     \
    "1,A,,M,X,1925,1500,1950-01-02\n2,B,,M,X,1925,3000,1950\n3,C,,M,X,1934,,\n"                    \
    "4,D,,M,X,1911,1500,1950-01-01\n"

/* Everything is read everywhere unless a test says otherwise. */
#define ALL_READ                                                                                   \
    "A,1,\nA,2,\nA,3,\nA,4,\nB,1,\nB,2,\nB,3,\nB,4,\nC,1,\nC,2,\nC,3,\nC,4,\n"                     \
    "R/1,1,9\nR/1,2,9\nR/1,3,9\nR/1,4,9\nS/1,1,9\nS/1,2,9\nS/1,3,9\nS/1,4,9\n"

struct case_text {
    const char *ties;      /* JSON list, with ' for " */
    const char *readings;  /* rows of point,car,elapsed */
    const char *decisions; /* rows of kind,car,point,value,reason */
};

/* Positions of the cars, "1=2 =2 ..." as standings show them: "4:1 1:2= 2:2= 3:4". */
static void check_by(const struct case_text *c, enum ranked_by by, int index,
                     const char *expected) {
    char rules[4096];
    struct textbuf readings = {0};
    struct textbuf decisions = {0};
    struct textbuf out = {0};
    struct scene scene;
    (void)snprintf(rules, sizeof rules, RULES(FIVA, "{'ties': %s}", ROUTE), c->ties);
    textbuf_printf(&readings, "point,car,elapsed\n%s", c->readings);
    textbuf_printf(&decisions, "kind,car,point,value,reason\n%s", c->decisions);
    struct event_text texts = {.rules = rules,
                               .entries = CARS,
                               .readings = textbuf_text(&readings),
                               .decisions = textbuf_text(&decisions)};
    scene_open(&scene, &texts, (struct viewpoint){.live = false});
    struct ranking ranking = {scene.scores, by, BASIS_CORRECTED, index};
    struct ranked list[] = {{.car = 3}, {.car = 1}, {.car = 0}, {.car = 2}, {.position = -1}};
    ranking_sort(&ranking, list, 4);
    assert_int_equal(list[4].position, -1); /* behind the list nothing changes */
    for (int i = 0; i < 4; i++)
        textbuf_printf(&out, "%s%d:%d%s", i > 0 ? " " : "",
                       scene.event->entries->list[list[i].car].number, list[i].position,
                       list[i].equal ? "=" : "");
    assert_string_equal(textbuf_text(&out), expected);
    scene_close(&scene);
    textbuf_clear(&readings);
    textbuf_clear(&decisions);
    textbuf_clear(&out);
}

static void check(const struct case_text *c, const char *expected) {
    check_by(c, RANKED_BY_TOTAL, 0, expected);
}

BEHAVIOUR(fewer_fails_go_before_lower_totals) {
    struct case_text c = {"[]",
                          "A,1,\nA,2,\nA,4,\nB,1,\nB,3,\nB,4,\nC,1,\nR/1,1,9\nR/1,2,9\nR/1,3,9\n"
                          "R/1,4,9\nS/1,1,9\nS/1,2,9\nS/1,3,9\nS/1,4,9\n",
                          "penalty,1,,500,r\n"};
    check(&c, "4:1 3:2 1:3 2:4");
}

BEHAVIOUR(equal_cars_share_a_position_and_the_next_is_skipped) {
    struct case_text c = {"[]", ALL_READ, "penalty,1,,5,r\npenalty,2,,5,r\npenalty,3,,9,r\n"};
    check(&c, "4:1 1:2= 2:2= 3:4");
    struct case_text all = {"[]", ALL_READ, ""};
    check(&all, "1:1= 2:1= 3:1= 4:1=");
    struct case_text pairs = {"[]", ALL_READ, "penalty,1,,5,r\npenalty,3,,5,r\n"};
    check(&pairs, "2:1= 4:1= 1:3= 3:3=");
}

BEHAVIOUR(a_thousandth_decides) {
    struct case_text c = {"[]", ALL_READ,
                          "penalty,1,,5,r\npenalty,2,,5.001,r\npenalty,3,,4.999,r\n"};
    check(&c, "4:1 3:2 1:3 2:4");
}

BEHAVIOUR(the_older_car_is_ahead) {
    struct case_text c = {"['older-car']", ALL_READ, ""};
    check(&c, "4:1 1:2= 2:2= 3:4");
}

BEHAVIOUR(the_smaller_engine_is_ahead_and_an_unknown_one_is_last) {
    struct case_text c = {"['smaller-engine']", ALL_READ, ""};
    check(&c, "1:1= 4:1= 2:3 3:4");
}

BEHAVIOUR(ties_are_tried_in_turn) {
    struct case_text c = {"['older-car', 'smaller-engine']", ALL_READ, ""};
    check(&c, "4:1 1:2 2:3 3:4");
    struct case_text other = {"['smaller-engine', 'older-car']", ALL_READ, ""};
    check(&other, "4:1 1:2 2:3 3:4");
}

BEHAVIOUR(more_clean_points_are_ahead) {
    /* C costs nothing where it is missed, but is not clean then; a notional nought is no reading */
    struct case_text c = {
        "['most-clean']",
        "A,1,\nA,2,\nA,3,\nA,4,\nB,1,\nB,2,\nB,3,\nB,4,\nC,1,\nC,2,\nC,4,\n"
        "R/1,1,9\nR/1,2,9\nR/1,3,9\nR/1,4,9\nS/1,1,9\nS/1,2,9\nS/1,3,9\nS/1,4,9\n",
        "notional,1,R/1,0,r\nnotional,1,S/1,0,r\nwaive,2,R/1,,r\n"};
    check(&c, "4:1 2:2= 3:2= 1:4");
}

BEHAVIOUR(the_longer_clean_run_from_the_start_is_ahead) {
    /* car 1 breaks at the first point of all; car 2 passes over a waived point */
    struct case_text c = {
        "['furthest-clean']",
        "A,1,\nA,2,\nA,3,\nA,4,\nB,1,\nB,2,\nB,3,\nB,4,\nC,1,\nC,2,\nC,3,\nC,4,\n"
        "R/1,1,9\nR/1,2,9\nR/1,3,9\nR/1,4,9\nS/1,1,9\nS/1,2,9\nS/1,3,9\nS/1,4,9\n",
        "notional,1,A,0,r\nwaive,2,A,,r\nnotional,3,B,0,r\n"};
    check(&c, "4:1 2:2 3:3 1:4");
}

BEHAVIOUR(the_first_test_that_differs_decides) {
    struct case_text c = {"['first-difference']", ALL_READ,
                          "notional,1,R,3,r\nnotional,1,S,2,r\n"
                          "notional,2,R,1,r\nnotional,2,S,4,r\n"
                          "notional,3,R,3,r\nnotional,3,S,2,r\n"
                          "notional,4,R,2,r\nnotional,4,S,3,r\n"};
    check(&c, "2:1 4:2 1:3= 3:3=");
}

BEHAVIOUR(a_named_test_decides) {
    struct case_text c = {"['test:S']", ALL_READ,
                          "notional,1,R,3,r\nnotional,1,S,2,r\n"
                          "notional,2,R,1,r\nnotional,2,S,4,r\n"
                          "notional,3,R,3,r\nnotional,3,S,2,r\n"
                          "notional,4,R,2,r\nnotional,4,S,3,r\n"};
    check(&c, "1:1= 3:1= 4:3 2:4");
}

BEHAVIOUR(a_car_absent_from_a_test_comes_last_in_it) {
    /* all have 5; car 1 was out at S, which costs nothing there, so that its R decides the sum */
    struct case_text c = {"['test:S']", ALL_READ,
                          "notional,1,R,5,r\nretire,1,R,,r\n"
                          "notional,2,S,5,r\nnotional,3,S,3,r\nnotional,3,R,2,r\n"
                          "notional,4,R,5,r\n"
                          "waive,1,B,,r\n"};
    check(&c, "4:1 3:2 2:3 1:4");
}

BEHAVIOUR(more_noughts_then_more_ones_are_ahead) {
    /* all have 4; 1.5 and 2.5 of car 3 decide nothing */
    struct case_text c = {"['count-back']", ALL_READ,
                          "notional,1,R,4,r\nnotional,1,S,0,r\n"
                          "notional,2,R,1,r\nnotional,2,S,3,r\n"
                          "notional,3,R,1.5,r\nnotional,3,S,2.5,r\n"
                          "notional,4,R,2,r\nnotional,4,S,2,r\n"};
    check(&c, "1:1 2:2 4:3 3:4");
    struct case_text equal = {"['count-back']", ALL_READ,
                              "notional,1,R,1,r\nnotional,1,S,3,r\nnotional,2,R,3,r\n"
                              "notional,2,S,1,r\nnotional,3,R,4,r\nnotional,4,S,4,r\n"};
    check(&equal, "3:1= 4:1= 1:3= 2:3=");
}

BEHAVIOUR(the_older_or_the_younger_driver_is_ahead_and_an_unknown_one_last) {
    struct case_text older = {"['older-driver']", ALL_READ, ""};
    check(&older, "2:1= 4:1= 1:3 3:4");
    struct case_text younger = {"['younger-driver']", ALL_READ, ""};
    check(&younger, "1:1 2:2= 4:2= 3:4");
}

BEHAVIOUR(days_and_tests_are_ranked_without_ties) {
    struct case_text c = {"['older-car']", ALL_READ,
                          "notional,1,S,5,r\nnotional,2,S,3,r\nnotional,4,S,3,r\n"
                          "penalty,1,,-50,r\n"};
    check_by(&c, RANKED_BY_ITEM, 2, "3:1 2:2= 4:2= 1:4");
    check_by(&c, RANKED_BY_DAY, 0, "3:1 2:2= 4:2= 1:4");
}

BEHAVIOUR(no_cars_and_one_car_can_be_sorted) {
    struct event_text texts = {.rules = RULES(FIVA, "{}", ROUTE), .entries = CARS};
    struct scene scene;
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    struct ranking ranking = {scene.scores, RANKED_BY_TOTAL, BASIS_CORRECTED, 0};
    struct ranked line = {.car = 2, .equal = true};
    ranking_sort(&ranking, &line, 0);
    assert_int_equal(line.position, 0);
    ranking_sort(&ranking, &line, 1);
    assert_int_equal(line.car, 2);
    assert_int_equal(line.position, 1);
    assert_false(line.equal);
    scene_close(&scene);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fewer_fails_go_before_lower_totals),
        cmocka_unit_test(equal_cars_share_a_position_and_the_next_is_skipped),
        cmocka_unit_test(a_thousandth_decides),
        cmocka_unit_test(the_older_car_is_ahead),
        cmocka_unit_test(the_smaller_engine_is_ahead_and_an_unknown_one_is_last),
        cmocka_unit_test(ties_are_tried_in_turn),
        cmocka_unit_test(more_clean_points_are_ahead),
        cmocka_unit_test(the_longer_clean_run_from_the_start_is_ahead),
        cmocka_unit_test(the_first_test_that_differs_decides),
        cmocka_unit_test(a_named_test_decides),
        cmocka_unit_test(a_car_absent_from_a_test_comes_last_in_it),
        cmocka_unit_test(more_noughts_then_more_ones_are_ahead),
        cmocka_unit_test(the_older_or_the_younger_driver_is_ahead_and_an_unknown_one_last),
        cmocka_unit_test(days_and_tests_are_ranked_without_ties),
        cmocka_unit_test(no_cars_and_one_car_can_be_sorted),
    };
    RUN_BEHAVIOURS(tests);
}
