/* SPDX-License-Identifier: MIT */
/* Consistency, as others published it (fact 38).
 *
 * Not expressed by these rules:
 *   39  a Czech club's comparison of average speeds between two tests, 0.01 m/s a hundredth of a
 *       point: laps are compared by their times, and only within one test
 *       (http://veteranicelkovice.cz/veterani/aktualne/pravidla-pro-sobotni-jizdu) */
#include "published.h"

/* 38 (R). Mud Racers Association, consistency class:
 *   http://www.mudracersassociation.com/class-rules/consistency-class.html
 * Two runs of 2.500 and 3.500 s differ by 1.000; 6.805 and 7.312 by 0.507, and win. */
static void the_smaller_difference_of_two_runs_wins(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .route = "[{'day':1,'id':'L1','kind':'consistency','name':'Kart loop',"
                                "'laps':2,'penalty':{'precision':'millisecond','early':'0.001',"
                                "'late':'0.001'}}]",
                       .entries = ENTRIES "\n1" CREW "1960\n2" CREW "1960\n",
                       .readings = "point,car,elapsed\nL1/1,1,2.500\nL1/2,1,3.500\n"
                                   "L1/1,2,6.805\nL1/2,2,7.312\n"});
    assert_string_equal(total_of(&t, 1), "1");
    assert_string_equal(total_of(&t, 2), "0.507");
    assert_string_equal(place_of(&t, 2), "1");
    assert_string_equal(place_of(&t, 1), "2");
    trial_close(&t);
}

/* 38, the same figures with the runs the other way round: a faster second run differs alike. */
static void a_faster_second_run_differs_as_much(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .route = "[{'day':1,'id':'L1','kind':'consistency','name':'Kart loop',"
                                "'laps':2,'penalty':{'precision':'millisecond','early':'0.001',"
                                "'late':'0.001'}}]",
                       .readings = "point,car,time\nL1/start,1,10:00:00\nL1/1,1,10:00:07.312\n"
                                   "L1/2,1,10:00:14.117\n"});
    assert_string_equal(actual_at(&t, 1, "L1/2"), "00:00:06.805");
    assert_string_equal(total_of(&t, 1), "0.507");
    trial_close(&t);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_smaller_difference_of_two_runs_wins),
        cmocka_unit_test(a_faster_second_run_differs_as_much),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
