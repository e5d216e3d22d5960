/* SPDX-License-Identifier: MIT */
#include "scoring/standings.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "scene.h"
#include "testing.h"

#define CLASSES                                                                                    \
    "{'scheme': 'custom', 'periods': [{'id': 'old', 'to': 1930}, {'id': 'mid', 'from': 1931, "     \
    "'to': 1950}, {'id': 'new', 'from': 1951, 'overall': false}], 'categories': [{'id': "          \
    "'touring', 'overall': false}, {'id': 'open'}], 'groups': [{'id': 'low'}, {'id': 'none'}, "    \
    "{'id': 'ladies', 'name': 'Ladies'}]}"

#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'A', 'kind': 'passage-control', 'penalty': {'missed': 10}}, "                \
    "{'day': 1, 'id': 'R', 'kind': 'set-time', 'targets': [9], 'penalty': {'missed': 40}}, "       \
    "{'day': 2, 'id': 'B', 'kind': 'passage-control', 'penalty': {'missed': 20}}, "                \
    "{'day': 2, 'id': 'S', 'kind': 'set-time', 'targets': [9]}"

#define CARS                                                                                       \
    "number,driver,navigator,make,model,year,category,team,groups\n"                               \
    "1,A,,M,X,1925,open,Alder,\n2,B,,M,X,1925,touring,Alder,low;ladies\n"                          \
    "3,C,,M,X,1934,open,Birch,ladies\n4,D,,M,X,1940,open,Birch,low\n"                              \
    "5,E,,M,X,1955,open,Birch,low\n6,F,,M,X,1925,,,\n"

#define READ_BY_ALL                                                                                \
    "point,car,elapsed\n"                                                                          \
    "A,1,\nA,2,\nA,3,\nA,4,\nA,5,\nA,6,\nB,1,\nB,2,\nB,3,\nB,4,\nB,5,\nB,6,\n"                     \
    "R/1,1,10\nR/1,2,11\nR/1,3,12\nR/1,4,13\nR/1,5,14\nR/1,6,15\n"                                 \
    "S/1,1,9\nS/1,2,9\nS/1,3,9\nS/1,4,9\nS/1,5,9\nS/1,6,9\n"

#define DECISIONS "kind,car,point,value,reason\n"

/* Every group in one line: "NAME: 1:1 4:2= | unplaced | pending". */
static char *summary(const struct scene *scene, enum standings_by by) {
    struct standings *st = NULL;
    struct textbuf b = {0};
    assert_int_equal(standings_new(scene->scores, by, &st), ERR_OK);
    const struct entry *list = scene->event->entries->list;
    for (int i = 0; i < st->group_count; i++) {
        const struct standings_group *g = &st->groups[i];
        if (i > 0)
            textbuf_puts(&b, "; ");
        output_group_name(&b, st->scores->event->rules, st->by, g->index);
        textbuf_putc(&b, ':');
        for (int r = 0; r < g->placed_count; r++)
            textbuf_printf(&b, " %d:%d%s", list[g->placed[r].car].number, g->placed[r].position,
                           g->placed[r].equal ? "=" : "");
        textbuf_puts(&b, " |");
        for (int r = 0; r < g->unplaced_count; r++)
            textbuf_printf(&b, " %d", list[g->unplaced[r].car].number);
        if (!st->with_pending)
            continue;
        textbuf_puts(&b, " |");
        for (int r = 0; r < g->pending_count; r++)
            textbuf_printf(&b, " %d", list[g->pending[r].car].number);
    }
    for (int t = 0; t < st->team_count; t++) {
        const struct team_standing *team = &st->teams[t];
        textbuf_printf(&b, "%s%s:%d%s", t > 0 ? "; " : "", scene->event->entries->teams[team->team],
                       team->position, team->equal ? "=" : "");
        for (int c = 0; c < team->car_count; c++)
            textbuf_printf(&b, " %d", list[team->cars[c]].number);
    }
    textbuf_puts(&b, "");
    standings_free(st);
    return b.bytes;
}

static void check(const char *decisions, struct viewpoint viewpoint, enum standings_by by,
                  const char *expected) {
    struct event_text texts = {.rules =
                                   RULES_OF_TWO_DAYS(CLASSES, "{'teams': {'count': 2}}", ROUTE),
                               .entries = CARS,
                               .readings = READ_BY_ALL,
                               .decisions = decisions};
    struct scene scene;
    scene_open(&scene, &texts, viewpoint);
    char *line = summary(&scene, by);
    assert_string_equal(line, expected);
    free(line);
    scene_close(&scene);
}

static const struct viewpoint the_end = {.live = false};

BEHAVIOUR(overall_leaves_out_cars_whose_period_or_category_says_so) {
    check(NULL, the_end, BY_OVERALL, "Overall: 1:1 3:2 4:3 6:4 | 2 5");
}

BEHAVIOUR(classes_and_categories_take_all_their_cars) {
    check(NULL, the_end, BY_CLASS, "old: 1:1 2:2 6:3 |; mid: 3:1 4:2 |; new: 5:1 |");
    check(NULL, the_end, BY_CATEGORY, "touring: 2:1 |; open: 1:1 3:2 4:3 5:4 |");
}

BEHAVIOUR(groups_take_all_their_cars_and_a_car_may_stand_in_several) {
    check(NULL, the_end, BY_GROUP, "low: 2:1 4:2 5:3 |; Ladies: 2:1 3:2 |");
    check(DECISIONS "disqualify,2,,,r\nretire,5,A,,r\n", the_end, BY_GROUP,
          "low: 4:1 | 2 5; Ladies: 3:1 | 2");
}

BEHAVIOUR(a_group_without_cars_is_left_out) {
    struct event_text texts = {
        .rules = RULES(CLASSES, "{}", "{'day': 1, 'id': 'A', 'kind': 'passage-control'}"),
        .entries = "number,driver,navigator,make,model,year,category\n"
                   "1,A,,M,X,1955,open\n",
        .readings = "point,car\nA,1\n"};
    struct scene scene;
    scene_open(&scene, &texts, the_end);
    char *line = summary(&scene, BY_CLASS);
    assert_string_equal(line, "new: 1:1 |");
    free(line);
    line = summary(&scene, BY_CATEGORY);
    assert_string_equal(line, "open: 1:1 |");
    free(line);
    line = summary(&scene, BY_OVERALL);
    assert_string_equal(line, "Overall: | 1");
    free(line);
    scene_close(&scene);
}

BEHAVIOUR(cars_without_a_place_follow_in_number_order) {
    check(DECISIONS "disqualify,3,,,r\nretire,1,A,,r\nretire,6,,,r\n", the_end, BY_OVERALL,
          "Overall: 4:1 | 1 2 3 5 6");
}

BEHAVIOUR(days_are_ranked_each_by_itself) {
    check(NULL, the_end, BY_DAY,
          "Day 1: 1:1 2:2 3:3 4:4 5:5 6:6 |; Day 2: 1:1= 2:1= 3:1= 4:1= 5:1= 6:1= |");
}

BEHAVIOUR(days_behind_the_point_are_left_out) {
    check(NULL, (struct viewpoint){.after = "R"}, BY_DAY, "Day 1: 1:1 2:2 3:3 4:4 5:5 6:6 | |");
}

BEHAVIOUR(tests_are_ranked_and_an_absent_car_is_unplaced_there) {
    /* car 1 went out after A and came back on day two: it missed R, and stands in S */
    check(DECISIONS "retire,1,A,,r\nrejoin,1,,2,r\n", the_end, BY_TEST,
          "R: 2:1 3:2 4:3 5:4 6:5 | 1 |; S: 1:1= 2:1= 3:1= 4:1= 5:1= 6:1= | |");
}

/* Car 3 is awaited at R, car 4 at S; car 6 was read nowhere. */
#define SOME_AWAITED                                                                               \
    "point,car,elapsed\nA,1,\nA,2,\nA,3,\nA,4,\nA,5,\nR/1,1,10\nR/1,2,11\nR/1,4,13\nR/1,5,9\n"     \
    "B,1,\nB,2,\nB,3,\nB,4,\nB,5,\nS/1,1,9\nS/1,2,9\nS/1,3,9\nS/1,5,9\n"

static void check_awaited(struct viewpoint viewpoint, enum standings_by by, const char *expected) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(CLASSES, "{}", ROUTE),
                               .entries = CARS,
                               .readings = SOME_AWAITED};
    struct scene scene;
    scene_open(&scene, &texts, viewpoint);
    char *line = summary(&scene, by);
    assert_string_equal(line, expected);
    free(line);
    scene_close(&scene);
}

BEHAVIOUR(a_live_overall_ranks_cars_that_are_awaited) {
    check_awaited((struct viewpoint){.live = true}, BY_OVERALL, "Overall: 3:1 1:2 4:3 | 2 5 6");
}

BEHAVIOUR(with_a_point_cars_awaited_before_it_are_pending) {
    check_awaited((struct viewpoint){.live = true, .after = "R"}, BY_OVERALL,
                  "Overall: 1:1 4:2 | 2 5 6 | 3");
    check_awaited((struct viewpoint){.live = true, .after = "S"}, BY_OVERALL,
                  "Overall: 1:1 | 2 5 6 | 3 4");
    check_awaited((struct viewpoint){.live = true, .after = "R"}, BY_CLASS,
                  "old: 1:1 2:2 | 6 |; mid: 4:1 | | 3; new: 5:1 | |");
}

BEHAVIOUR(a_day_with_a_point_looks_at_its_own_part) {
    check_awaited((struct viewpoint){.live = true, .after = "S"}, BY_DAY,
                  "Day 1: 5:1 1:2 2:3 4:4 | 6 | 3; Day 2: 1:1= 2:1= 3:1= 5:1= | 6 | 4");
}

BEHAVIOUR(a_test_lists_those_awaited_in_it) {
    check_awaited((struct viewpoint){.live = true}, BY_TEST,
                  "R: 5:1 1:2 2:3 4:4 | 6 | 3; S: 1:1= 2:1= 3:1= 5:1= | 6 | 4");
}

BEHAVIOUR(teams_need_their_count_of_placed_cars) {
    /* Alder: 1 is placed, 2 is touring; Birch: 3 and 4 count, 5 is outside the overall */
    check(NULL, the_end, BY_TEAM, "Birch:1 3 4; Alder:0 1");
    check(DECISIONS "disqualify,4,,,r\n", the_end, BY_TEAM, "Alder:0 1; Birch:0 3");
}

static void check_teams(const char *entries, const char *decisions, const char *expected) {
    struct event_text texts = {.rules = RULES(FIVA, "{'teams': {'count': 2}}",
                                              "{'day': 1, 'id': 'A', 'kind': 'passage-control'}"),
                               .entries = entries,
                               .readings = "point,car\nA,1\nA,2\nA,3\nA,4\nA,5\n",
                               .decisions = decisions};
    struct scene scene;
    scene_open(&scene, &texts, the_end);
    char *line = summary(&scene, BY_TEAM);
    assert_string_equal(line, expected);
    free(line);
    scene_close(&scene);
}

BEHAVIOUR(only_a_teams_best_cars_count) {
    check_teams("number,driver,navigator,make,model,year,team\n1,A,,M,X,1925,Alder\n"
                "2,B,,M,X,1925,Alder\n3,C,,M,X,1925,Alder\n4,D,,M,X,1925,Birch\n"
                "5,E,,M,X,1925,Birch\n",
                DECISIONS "penalty,1,,9,r\npenalty,2,,1,r\npenalty,3,,2,r\npenalty,4,,0,r\n"
                          "penalty,5,,2.5,r\n",
                "Birch:1 4 5; Alder:2 2 3");
}

BEHAVIOUR(equal_teams_are_parted_by_their_best_car_or_stay_equal) {
    static const char entries[] = "number,driver,navigator,make,model,year,team\n"
                                  "1,A,,M,X,1925,Alder\n2,B,,M,X,1925,Alder\n"
                                  "3,C,,M,X,1925,Birch\n4,D,,M,X,1925,Birch\n5,E,,M,X,1925,\n";
    check_teams(entries,
                DECISIONS "penalty,1,,4,r\npenalty,2,,6,r\npenalty,3,,3,r\npenalty,4,,7,r\n",
                "Birch:1 3 4; Alder:2 1 2");
    check_teams(entries,
                DECISIONS "penalty,1,,4,r\npenalty,2,,6,r\npenalty,3,,4,r\npenalty,4,,6,r\n",
                "Alder:1= 1 2; Birch:1= 3 4");
}

BEHAVIOUR(a_copy_has_the_same_tables_before_anything_is_scored_anew) {
    struct event_text texts = {.rules =
                                   RULES_OF_TWO_DAYS(CLASSES, "{'teams': {'count': 2}}", ROUTE),
                               .entries = CARS,
                               .readings = READ_BY_ALL};
    struct scene scene;
    scene_open(&scene, &texts, the_end);
    struct scene copy = scene;
    assert_int_equal(
        scores_copy(scene.scores, scene.scores->event, scene.scores->view, &copy.scores), ERR_OK);
    for (int by = 0; by < BY_COUNT; by++) {
        char *expected = summary(&scene, (enum standings_by)by);
        char *line = summary(&copy, (enum standings_by)by);
        assert_string_equal(line, expected);
        free(expected);
        free(line);
    }
    scores_free(copy.scores);
    scene_close(&scene);
}

static void check_gap(struct gap gap, int fails, int64_t penalty) {
    assert_int_equal(gap.fails, fails);
    assert_int_equal(gap.penalty, penalty);
}

BEHAVIOUR(gaps_are_to_the_leader_and_the_row_above) {
    struct event_text texts = {
        .rules = RULES_OF_TWO_DAYS(CLASSES, "{}", ROUTE), .entries = CARS, .readings = READ_BY_ALL};
    struct scene scene;
    struct standings *st = NULL;
    scene_open(&scene, &texts, the_end);
    assert_int_equal(standings_new(scene.scores, BY_OVERALL, &st), ERR_OK);
    const struct standing *rows = st->groups[0].placed;
    check_gap(rows[0].behind_leader, 0, 0);
    check_gap(rows[0].behind_next, 0, 0);
    check_gap(rows[1].behind_leader, 0, 2000);
    check_gap(rows[1].behind_next, 0, 2000);
    check_gap(rows[2].behind_leader, 0, 3000);
    check_gap(rows[2].behind_next, 0, 1000);
    standings_free(st);
    scene_close(&scene);
}

/* Whether a car's figure in the group of a day or test is a result. */
static bool is_known(const struct scene *scene, enum standings_by by, int group, int number) {
    struct standings *st = NULL;
    assert_int_equal(standings_new(scene->scores, by, &st), ERR_OK);
    bool known =
        standings_known(st, &st->groups[group], entries_find(scene->event->entries, number));
    standings_free(st);
    return known;
}

/* Car 1 has driven all of day 1, car 2 its control; car 3 retired there, before the test. */
BEHAVIOUR(what_nobody_drove_yet_is_no_result) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(CLASSES, "{}", ROUTE),
                               .entries = CARS,
                               .readings = "point,car,elapsed\nA,1,\nR/1,1,9\nA,2,\nA,3,\n",
                               .decisions = DECISIONS "retire,3,A,,engine\n"};
    struct scene scene;
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    assert_true(is_known(&scene, BY_DAY, 0, 1) && is_known(&scene, BY_DAY, 0, 2));
    assert_true(is_known(&scene, BY_DAY, 0, 3));
    assert_false(is_known(&scene, BY_DAY, 0, 4));
    for (int car = 1; car <= 4; car++)
        assert_false(is_known(&scene, BY_DAY, 1, car));
    assert_true(is_known(&scene, BY_TEST, 0, 1));
    assert_false(is_known(&scene, BY_TEST, 0, 2) || is_known(&scene, BY_TEST, 0, 3));
    assert_true(is_known(&scene, BY_OVERALL, 0, 4)); /* a total stands as it is */
    char *text = scene_standings(&scene, BY_DAY, FORM_TEXT);
    assert_non_null(strstr(text, " 0.000 "));
    assert_non_null(strstr(text, " – "));
    free(text);
    scene_close(&scene);
    /* All closed: what was not driven was missed, or is charged as absent in its day. */
    scene_open(&scene, &texts, (struct viewpoint){.live = false});
    assert_true(is_known(&scene, BY_DAY, 1, 2) && is_known(&scene, BY_DAY, 1, 3));
    assert_true(is_known(&scene, BY_TEST, 0, 2));
    assert_false(is_known(&scene, BY_TEST, 0, 3));
    scene_close(&scene);
}

BEHAVIOUR(an_event_without_teams_or_categories_has_no_such_table) {
    struct event_text texts = {
        .rules = RULES(FIVA, "{}", "{'day': 1, 'id': 'A', 'kind': 'passage-control'}")};
    struct scene scene;
    struct standings *st = NULL;
    scene_open(&scene, &texts, the_end);
    assert_int_equal(standings_new(scene.scores, BY_TEAM, &st), ERR_UNKNOWN);
    assert_null(st);
    assert_int_equal(standings_new(scene.scores, BY_CATEGORY, &st), ERR_UNKNOWN);
    assert_int_equal(standings_new(scene.scores, BY_GROUP, &st), ERR_UNKNOWN);
    assert_null(st);
    standings_free(NULL);
    scene_close(&scene);
}

BEHAVIOUR(groupings_have_words) {
    for (int i = 0; i < BY_COUNT; i++) {
        enum standings_by by = BY_COUNT;
        assert_int_equal(by_parse(by_word((enum standings_by)i), &by), ERR_OK);
        assert_int_equal(by, i);
    }
    enum standings_by by = BY_CLASS;
    assert_int_equal(by_parse("era", &by), ERR_UNKNOWN);
    assert_int_equal(by, BY_CLASS);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(overall_leaves_out_cars_whose_period_or_category_says_so),
        cmocka_unit_test(classes_and_categories_take_all_their_cars),
        cmocka_unit_test(groups_take_all_their_cars_and_a_car_may_stand_in_several),
        cmocka_unit_test(a_group_without_cars_is_left_out),
        cmocka_unit_test(cars_without_a_place_follow_in_number_order),
        cmocka_unit_test(days_are_ranked_each_by_itself),
        cmocka_unit_test(days_behind_the_point_are_left_out),
        cmocka_unit_test(tests_are_ranked_and_an_absent_car_is_unplaced_there),
        cmocka_unit_test(a_live_overall_ranks_cars_that_are_awaited),
        cmocka_unit_test(with_a_point_cars_awaited_before_it_are_pending),
        cmocka_unit_test(a_day_with_a_point_looks_at_its_own_part),
        cmocka_unit_test(a_test_lists_those_awaited_in_it),
        cmocka_unit_test(teams_need_their_count_of_placed_cars),
        cmocka_unit_test(only_a_teams_best_cars_count),
        cmocka_unit_test(equal_teams_are_parted_by_their_best_car_or_stay_equal),
        cmocka_unit_test(a_copy_has_the_same_tables_before_anything_is_scored_anew),
        cmocka_unit_test(gaps_are_to_the_leader_and_the_row_above),
        cmocka_unit_test(what_nobody_drove_yet_is_no_result),
        cmocka_unit_test(an_event_without_teams_or_categories_has_no_such_table),
        cmocka_unit_test(groupings_have_words),
    };
    RUN_BEHAVIOURS(tests);
}
