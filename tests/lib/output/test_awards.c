/* SPDX-License-Identifier: MIT */
#include "output/awards.h"

#include <string.h>

#include "base/err.h"
#include "scene.h"
#include "testing.h"

/* A special test and a control; the control costs nothing. */
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': 60}, "                              \
    "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'name': 'Rope walk'}, "                        \
    "{'day': 2, 'id': 'S2', 'kind': 'special-test', 'name': 'Kiln'}"

#define RULES_WITH(classes, scoring, awards)                                                       \
    "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': 'Atlantic/Azores', 'unit': 'km', "   \
    "'days': [{'date': '2027-05-20', 'first_start': '08:01', 'interval': 60}, "                    \
    "{'date': '2027-05-21', 'first_start': '08:01', 'interval': 60}], 'classes': " classes         \
    ", 'scoring': " scoring ", 'awards': [" awards "], 'route': [" ROUTE "]}"

/* C-1, C-2, C-2, D-1. */
#define CARS                                                                                       \
    "number,driver,navigator,make,model,year,engine_cc,category,team,country,club,groups\n"        \
    "1,Ann,,Calder,Six,1925,900,club,Rooks,SAL,Withy,low;ladies\n"                                 \
    "2,Bea,,Hexley,Stint,1926,1500,club,Rooks,,Quay,ladies\n"                                      \
    "3,Cai,,Hexley,Pipit,1927,1500,,Herons,SAL,Withy,\n"                                           \
    "4,Dot,,Calder,Ten,1935,900,club,Herons,ALD,,ladies\n"

/* S1: 10, 20, 30, 40. S2: 40, 30, 20, 20. Sums: 50, 50, 50, 60. */
#define TIMES                                                                                      \
    "point,car,elapsed\nS1/finish,1,10\nS1/finish,2,20\nS1/finish,3,30\nS1/finish,4,40\n"          \
    "S2/finish,1,40\nS2/finish,2,30\nS2/finish,3,20\nS2/finish,4,20\n"

#define CLASSES                                                                                    \
    "{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1000}, {'id': '2'}], "                      \
    "'categories': [{'id': 'club', 'name': 'Club cars'}], 'groups': [{'id': 'low'}, {'id': "       \
    "'ladies'}]}"

/* "bowl 1= car 3; bowl 1= car 2; ..." as it is read out. */
static void check(const char *scoring_and_awards, const char *expected) {
    struct event_text texts = {.rules = scoring_and_awards, .entries = CARS, .readings = TIMES};
    struct scene scene;
    struct awards *awards = NULL;
    struct textbuf b = {0};
    scene_open(&scene, &texts, (struct viewpoint){0});
    assert_int_equal(awards_new(scene.scores, &awards), ERR_OK);
    for (int i = 0; i < awards->count; i++) {
        const struct award_call *c = &awards->calls[i];
        textbuf_printf(&b, "%s%s", i > 0 ? "; " : "", c->award->id);
        if (c->place > 0)
            textbuf_printf(&b, " %d%s", c->place, c->shared ? "=" : "");
        if (c->car >= 0)
            textbuf_printf(&b, " car %d", scene.event->entries->list[c->car].number);
        else
            textbuf_printf(&b, " %s",
                           c->team == NULL ? "nobody" : scene.event->entries->teams[c->team->team]);
    }
    assert_string_equal(textbuf_text(&b), expected);
    textbuf_clear(&b);
    awards_free(awards);
    scene_close(&scene);
}

BEHAVIOUR(equal_crews_share_a_place_and_the_next_is_skipped) {
    check(RULES_WITH(CLASSES, "{}", "{'id': 'bowl', 'name': 'B', 'by': 'overall', 'places': 3}"),
          "bowl 1= car 3; bowl 1= car 2; bowl 1= car 1");
    check(RULES_WITH(CLASSES, "{}", "{'id': 'bowl', 'name': 'B', 'by': 'overall', 'places': 4}"),
          "bowl 4 car 4; bowl 1= car 3; bowl 1= car 2; bowl 1= car 1");
}

BEHAVIOUR(a_period_with_capacity_classes_is_ranked_as_one) {
    check(RULES_WITH(CLASSES, "{'ties': ['older-car']}",
                     "{'id': 'era', 'name': 'E', 'by': 'class', 'of': 'C', 'places': 3}, "
                     "{'id': 'small', 'name': 'S', 'by': 'class', 'of': 'C-1'}"),
          "small 1 car 1; era 3 car 3; era 2 car 2; era 1 car 1");
}

BEHAVIOUR(without_of_there_is_one_for_each_group_with_cars) {
    check(
        RULES_WITH(CLASSES, "{}",
                   "{'id': 'day', 'name': 'D', 'by': 'day'}, {'id': 'test', 'name': 'T', "
                   "'by': 'test'}, {'id': 'cat', 'name': 'C', 'by': 'category'}"),
        "cat 1= car 2; cat 1= car 1; test 1= car 4; test 1= car 3; test 1 car 1; day 1= car 4; day 1= car 3; day 1 car 1");
}

BEHAVIOUR(a_category_has_a_prize_of_its_own) {
    check(RULES_WITH(CLASSES, "{}",
                     "{'id': 'club', 'name': 'C', 'by': 'category', 'of': 'club', 'places': 2}"),
          "club 1= car 2; club 1= car 1");
}

BEHAVIOUR(a_prize_by_country_club_or_make_is_for_those_who_name_it) {
    check(RULES_WITH(CLASSES, "{}",
                     "{'id': 'land', 'name': 'L', 'by': 'country', 'of': 'ALD'}, "
                     "{'id': 'club', 'name': 'C', 'by': 'club', 'of': 'Withy'}, "
                     "{'id': 'make', 'name': 'M', 'by': 'make', 'of': 'Calder', 'places': 2}, "
                     "{'id': 'far', 'name': 'F', 'by': 'country', 'of': 'sal'}"),
          "far nobody; make 2 car 4; make 1 car 1; club 1= car 3; club 1= car 1; land 1 car 4");
    /* Each that has cars, by name: Alder's before Saltmill's, and none for car 2. */
    check(RULES_WITH(CLASSES, "{'ties': ['older-car']}",
                     "{'id': 'land', 'name': 'L', 'by': 'country'}, "
                     "{'id': 'club', 'name': 'C', 'by': 'club', 'once': true}"),
          "club 1 car 3; club 1 car 2; land 1 car 1; land 1 car 4");
}

BEHAVIOUR(a_prize_among_some_cars_ranks_them_anew) {
    check(RULES_WITH(CLASSES, "{'ties': ['older-car']}",
                     "{'id': 'top', 'name': 'T', 'by': 'overall', 'places': 2, 'among': "
                     "{'category': 'club'}}, "
                     "{'id': 'test', 'name': 'S', 'by': 'test', 'of': 'S2', 'among': "
                     "{'group': ['low', 'ladies']}, 'places': 2}, "
                     "{'id': 'era', 'name': 'E', 'by': 'class', 'of': 'C', 'among': "
                     "{'period': 'C'}, 'places': 3}, "
                     "{'id': 'make', 'name': 'M', 'by': 'make', 'among': {'class': 'C-2'}}"),
          "make 1 car 2; era 3 car 3; era 2 car 2; era 1 car 1; test 2 car 2; test 1 car 4; "
          "top 2 car 2; top 1 car 1");
    /* Of Rooks both are of the group, of Herons one. */
    check(RULES_WITH(CLASSES, "{'teams': {'count': 2}}",
                     "{'id': 'team', 'name': 'T', 'by': 'team', 'places': 2, 'among': "
                     "{'group': 'ladies'}}, {'id': 'all', 'name': 'A', 'by': 'team', 'places': 2}"),
          "all 2 Herons; all 1 Rooks; team 1 Rooks");
}

BEHAVIOUR(a_prize_within_a_penalty_is_taken_by_all_who_are) {
    check(RULES_WITH(CLASSES, "{'ties': ['older-car']}",
                     "{'id': 'medal', 'name': 'M', 'by': 'overall', 'within': 50}, "
                     "{'id': 'star', 'name': 'S', 'by': 'test', 'of': 'S1', 'within': '29.999', "
                     "'places': 1, 'once': true}, "
                     "{'id': 'gold', 'name': 'G', 'by': 'test', 'of': 'S1', 'within': 30}, "
                     "{'id': 'none', 'name': 'N', 'by': 'class', 'of': 'C-1', 'within': '49.999'}"),
          "none nobody; gold 3 car 3; gold 2 car 2; gold 1 car 1; star nobody; "
          "medal 3 car 3; medal 2 car 2; medal 1 car 1");
}

BEHAVIOUR(a_prize_within_a_penalty_is_not_for_cars_with_fails) {
    /* All have 10; car 1 was not read at the control, which is a fail. */
    struct event_text texts = {
        .rules = RULES_WITH(CLASSES, "{'defaults': {'time-control': {'missed': {'fails': 1}}}}",
                            "{'id': 'medal', 'name': 'M', 'by': 'overall', 'within': 10}"),
        .entries = CARS,
        .readings = "point,car,elapsed,time\nS1/finish,1,10,\nS1/finish,2,10,\nS1/finish,3,10,\n"
                    "S1/finish,4,10,\nTC1,2,,08:03\nTC1,3,,08:04\nTC1,4,,08:05\n"};
    struct scene scene;
    struct awards *awards = NULL;
    scene_open(&scene, &texts, (struct viewpoint){0});
    assert_int_equal(awards_new(scene.scores, &awards), ERR_OK);
    assert_int_equal(awards->count, 3);
    for (int i = 0; i < 3; i++)
        assert_in_range(awards->calls[i].car, 1, 3);
    awards_free(awards);
    scene_close(&scene);
}

BEHAVIOUR(clubs_may_be_the_teams) {
    check(RULES_WITH(CLASSES, "{'teams': {'count': 1, 'by': 'club'}}",
                     "{'id': 'shield', 'name': 'S', 'by': 'team', 'places': 3}"),
          "shield 1= Withy; shield 1= Quay");
}

BEHAVIOUR(who_took_an_earlier_prize_is_passed_over_where_the_prize_says_so) {
    check(RULES_WITH(CLASSES, "{}",
                     "{'id': 'moor', 'name': 'M', 'by': 'test', 'of': 'S1'}, {'id': 'bowl', "
                     "'name': 'B', 'by': 'overall', 'places': 3, 'once': true}, {'id': 'more', "
                     "'name': 'N', 'by': 'day', 'of': 1}"),
          "more 1 car 1; bowl 3 car 4; bowl 1= car 3; bowl 1= car 2; moor 1 car 1");
    check(RULES_WITH(CLASSES, "{}", "{'id': 'day', 'name': 'D', 'by': 'day', 'once': true}"),
          "day 1= car 4; day 1= car 3; day 1 car 1");
    check(RULES_WITH(CLASSES, "{}",
                     "{'id': 'all', 'name': 'A', 'by': 'overall', 'places': 9}, {'id': 'none', "
                     "'name': 'N', 'by': 'test', 'of': 'S2', 'once': true}"),
          "none nobody; all 4 car 4; all 1= car 3; all 1= car 2; all 1= car 1");
}

BEHAVIOUR(a_team_takes_its_prize_apart_from_its_crews) {
    check(RULES_WITH(CLASSES, "{'teams': {'count': 2}}",
                     "{'id': 'first', 'name': 'F', 'by': 'team'}, {'id': 'then', 'name': 'T', "
                     "'by': 'team', 'once': true}, {'id': 'again', 'name': 'A', 'by': 'team'}, "
                     "{'id': 'era', 'name': 'E', 'by': 'class', 'of': 'D', 'once': true}"),
          "era 1 car 4; again 1 Rooks; then 1 Herons; first 1 Rooks");
}

BEHAVIOUR(equal_teams_share_a_place) {
    /* The best of each has 50 and stands first overall. */
    check(RULES_WITH(CLASSES, "{'teams': {'count': 1}}",
                     "{'id': 'shield', 'name': 'S', 'by': 'team'}"),
          "shield 1= Rooks; shield 1= Herons");
}

BEHAVIOUR(a_group_without_cars_has_its_prize_with_nobody) {
    check(RULES_WITH(CLASSES, "{}", "{'id': 'old', 'name': 'O', 'by': 'class', 'of': 'A'}"),
          "old nobody");
    check(RULES_WITH(CLASSES, "{}", ""), "");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(equal_crews_share_a_place_and_the_next_is_skipped),
        cmocka_unit_test(a_period_with_capacity_classes_is_ranked_as_one),
        cmocka_unit_test(without_of_there_is_one_for_each_group_with_cars),
        cmocka_unit_test(a_category_has_a_prize_of_its_own),
        cmocka_unit_test(a_prize_by_country_club_or_make_is_for_those_who_name_it),
        cmocka_unit_test(a_prize_among_some_cars_ranks_them_anew),
        cmocka_unit_test(a_prize_within_a_penalty_is_taken_by_all_who_are),
        cmocka_unit_test(a_prize_within_a_penalty_is_not_for_cars_with_fails),
        cmocka_unit_test(clubs_may_be_the_teams),
        cmocka_unit_test(who_took_an_earlier_prize_is_passed_over_where_the_prize_says_so),
        cmocka_unit_test(a_team_takes_its_prize_apart_from_its_crews),
        cmocka_unit_test(equal_teams_share_a_place),
        cmocka_unit_test(a_group_without_cars_has_its_prize_with_nobody),
    };
    RUN_BEHAVIOURS(tests);
}
