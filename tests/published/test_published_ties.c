/* SPDX-License-Identifier: MIT */
/* Ties and teams, as others published them (facts 9 and 44).
 *
 * Not expressed by these rules:
 *   47-49   championships over several events, with dropped rounds and points for starters: an
 *           event is scored by itself */
#include "published.h"

/* 44 (R rule, D figures). Bosch Boxberg Klassik 2013, art. 8.1:
 *   https://www.yumpu.com/de/document/view/22002010/ausschreibung-14-bosch-boxberg-klassik-2013-oldtimer-rallye-fur-/8
 * 85 points each: a car of 1959 stands behind two of 1955, of which the one with the older driver
 * is ahead. */
static void of_equal_totals_the_older_car_is_ahead_then_the_older_driver(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){.scoring = "{'ties':['older-car','older-driver']}",
                                   .route = "[{'day':1,'id':'S1','kind':'special-test',"
                                            "'name':'Old airstrip'}]",
                                   .entries = ENTRIES ",born\n1" CREW "1959,1930\n"
                                                      "2" CREW "1955,1951-04-30\n"
                                                      "3" CREW "1955,1951-04-29\n",
                                   .readings = "point,car,elapsed\nS1/finish,1,85\nS1/finish,2,85\n"
                                               "S1/finish,3,85\n"});
    assert_string_equal(total_of(&t, 1), "85");
    assert_string_equal(total_of(&t, 2), "85");
    assert_string_equal(total_of(&t, 3), "85");
    assert_string_equal(place_of(&t, 1), "3");
    assert_string_equal(place_of(&t, 2), "2");
    assert_string_equal(place_of(&t, 3), "1");
    trial_close(&t);
}

/* 44 (R). The same rules: a test not started costs that test's maximum; a breach found in a speed
 * check 100. */
static void a_test_not_started_costs_its_maximum_and_a_speed_check_100(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .route = "[{'day':1,'id':'T1','kind':'set-time','name':'Harbour',"
                                "'targets':['10'],'penalty':{'precision':'hundredth','cap':250,"
                                "'missed':250}},"
                                "{'day':1,'id':'PC1','kind':'passage-control','name':'Gannet'}]",
                       .entries = ENTRIES "\n1" CREW "1959\n2" CREW "1955\n",
                       .readings = "point,car,elapsed\nT1/1,1,19\nPC1,1,\nPC1,2,\n",
                       .decisions = "kind,car,point,value,reason\n"
                                    "penalty,2,,100,speed check\n"});
    assert_string_equal(penalty_at(&t, 1, "T1/1"), "250");
    assert_string_equal(penalty_at(&t, 2, "T1/1"), "250");
    assert_string_equal(state_at(&t, 2, "T1/1"), "missed");
    assert_string_equal(total_of(&t, 2), "350");
    trial_close(&t);
}

/* 9 (S rule, D figures). Italy, regulations of the Grand Prix Terre dei Savoia:
 * A team is the sum of its best three classified crews: 40, 55, 70 and 90 make 165. */
static void a_team_is_the_sum_of_its_best_three_crews(void **state) {
    (void)state;
    struct trial t;
    struct standings *st = NULL;
    trial_open(&t, (struct folder){.scoring = "{'teams':{'count':3}}",
                                   .route = "[{'day':1,'id':'S1','kind':'special-test',"
                                            "'name':'Old airstrip'}]",
                                   .entries = ENTRIES
                                   ",team\n1" CREW "1959,Gannets\n2" CREW "1955,Gannets\n"
                                   "3" CREW "1955,Gannets\n4" CREW "1961,Gannets\n"
                                   "5" CREW "1961,Herons\n6" CREW "1961,Herons\n",
                                   .readings = "point,car,elapsed\nS1/finish,1,90\nS1/finish,2,40\n"
                                               "S1/finish,3,70\nS1/finish,4,55\nS1/finish,5,10\n"
                                               "S1/finish,6,10\n"});
    assert_int_equal(standings_new(t.scores, BY_TEAM, &st), ERR_OK);
    assert_int_equal(st->team_count, 2);
    assert_int_equal(st->teams_placed, 1); /* two crews make no team of three */
    assert_string_equal(t.model->entries->teams[st->teams[0].team], "Gannets");
    assert_int_equal(st->teams[0].position, 1);
    assert_string_equal(decimal_text(st->teams[0].penalty), "165");
    assert_int_equal(st->teams[0].car_count, 3);
    static const int order[] = {2, 4, 3};
    for (int i = 0; i < 3; i++)
        assert_int_equal(t.model->entries->list[st->teams[0].cars[i]].number, order[i]);
    standings_free(st);
    trial_close(&t);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(of_equal_totals_the_older_car_is_ahead_then_the_older_driver),
        cmocka_unit_test(a_test_not_started_costs_its_maximum_and_a_speed_check_100),
        cmocka_unit_test(a_team_is_the_sum_of_its_best_three_crews),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
