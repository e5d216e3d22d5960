/* SPDX-License-Identifier: MIT */
/* Coefficients by age and by car, as others published them (facts 40, 41 and 43, and
 * Italian precision meetings).
 * The published rules earn points, so more is better; cairn adds up penalty, so less is. What is
 * held against them is the product and its rounding, not the order.
 *
 * Not expressed by these rules:
 *   40  adding up a coefficient from period, capacity, sport and chassis: an entry has its
 *       finished number
 *   41  points earned by a trial (420 less what was lost): penalty counts from nothing upwards
 *   42  the Monte Carlo factor of 1961, a square root of weight and capacity for each car
 *   43  places by the higher total, and coefficients with more than three decimals */
#include "published.h"

/* A period for each of six cars of 1961 to 1966, with the coefficients of `table`. */
#define SIX_YEARS                                                                                  \
    "{'scheme':'custom','periods':[{'id':'P1','from':1961,'to':1961},"                             \
    "{'id':'P2','from':1962,'to':1962},{'id':'P3','from':1963,'to':1963},"                         \
    "{'id':'P4','from':1964,'to':1964},{'id':'P5','from':1965,'to':1965},"                         \
    "{'id':'P6','from':1966,'to':1966}]}"
#define SIX_CARS                                                                                   \
    ENTRIES "\n1" CREW "1961\n2" CREW "1962\n3" CREW "1963\n4" CREW "1964\n5" CREW "1965\n6" CREW  \
            "1966\n"

/* One test, in which a car's result is written as a decision. */
#define ONE_TEST                                                                                   \
    "[{'day':1,'id':'S1','kind':'special-test','name':'Old airstrip'},"                            \
    "{'day':1,'id':'PC1','kind':'passage-control','name':'Gannet Bridge'}]"

/* 40 (R). Mille Miglia coefficients:
 *   http://doczz.it/doc/2215663/determinazione-dei-coefficienti
 * Period 35 %, capacity 15 % and sport 20 % make 1.70; model and chassis 0.05 each make 1.80. */
static void one_hundred_points_at_the_published_coefficients(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){.entries = ENTRIES ",coefficient\n1" CREW "1961,1.70\n2" CREW
                                                      "1961,1.80\n"
                                                      "3" CREW "1961,\n",
                                   .route = ONE_TEST,
                                   .scoring = "{'coefficient':{'by':'entry'}}",
                                   .readings = "point,car\nPC1,1\nPC1,2\nPC1,3\n",
                                   .decisions = "kind,car,point,value,reason\n"
                                                "notional,1,S1,100,as published\n"
                                                "notional,2,S1,100,as published\n"
                                                "notional,3,S1,100,as published\n"});
    assert_string_equal(total_of(&t, 1), "170");
    assert_string_equal(total_of(&t, 2), "180");
    assert_string_equal(total_of(&t, 3), "100");
    trial_close(&t);
}

/* 41 (S points and coefficients, D products). Mille Miglia 2017, its regulations:
 * 420 or 395 points times 1.80 for a car of 1927, times 1.25 for one of 1957. A time control is
 * 100 a minute late, outside the coefficient. */
static void points_of_a_trial_times_the_coefficient_of_the_car(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .classes = "{'scheme':'custom','periods':[{'id':'old','to':1930},"
                                  "{'id':'new','from':1931,'to':1957}]}",
                       .entries = ENTRIES "\n1" CREW "1927\n2" CREW "1927\n3" CREW "1957\n",
                       .route = "[{'day':1,'id':'S1','kind':'special-test','name':'Old airstrip'},"
                                "{'day':1,'id':'TC1','kind':'time-control','name':'Saltmill',"
                                "'target':'01:00:00','penalty':{'precision':'minute','late':100}}]",
                       .scoring = "{'coefficient':{'by':'class','apply':'test',"
                                  "'table':{'old':'1.80','new':'1.25'}}}",
                       .readings = "point,car,time\nTC1,1,11:00\nTC1,2,11:01\nTC1,3,11:04\n",
                       .decisions = "kind,car,point,value,reason\nnotional,1,S1,420,as published\n"
                                    "notional,2,S1,395,as published\n"
                                    "notional,3,S1,420,as published\n"});
    assert_string_equal(decimal_text(score_of(&t, 1)->tests), "756");
    assert_string_equal(decimal_text(score_of(&t, 2)->tests), "711");
    assert_string_equal(decimal_text(score_of(&t, 3)->tests), "525");
    assert_string_equal(total_of(&t, 2), "711");
    assert_string_equal(total_of(&t, 3), "725"); /* 525, and two minutes late */
    trial_close(&t);
}

/* 43 (R figures, D with rounded coefficients). A table of six teams, JMRC 2016:
 *   https://expydoc.com/doc/11158442/
 * Total = bonus + test + second heat x coefficient. Rows 3 and 5 come out as printed: 136.50 and
 * 99.375, printed as 99.38. Row 1 with its coefficient rounded to 1.27 is 125.98, not the printed
 * 125.76: nothing may be rounded before the last step, and cairn does not. */
static void heat_times_coefficient_is_rounded_at_the_end_only(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .classes = SIX_YEARS,
                       .entries = SIX_CARS,
                       .route = "[{'day':1,'id':'L1','kind':'consistency','name':'Bonus','laps':2},"
                                "{'day':1,'id':'T1','kind':'set-time','name':'Test',"
                                "'targets':['10']},"
                                "{'day':1,'id':'S1','kind':'special-test','name':'Second heat',"
                                "'penalty':{'precision':'hundredth','late':'0.01'}}]",
                       .scoring = "{'coefficient':{'by':'class','kinds':['special-test'],"
                                  "'table':{'P1':'1.27','P3':'1.00','P5':'2.50'}}}",
                       .readings = "point,car,elapsed\nS1/finish,1,74.00\nS1/finish,3,104.50\n"
                                   "S1/finish,5,32.55\n",
                       .decisions = "kind,car,point,value,reason\n"
                                    "notional,1,L1,12,bonus\nnotional,1,T1,20,test\n"
                                    "notional,3,L1,20,bonus\nnotional,3,T1,12,test\n"
                                    "notional,5,L1,6,bonus\nnotional,5,T1,12,test\n"});
    assert_string_equal(total_of(&t, 1), "125.98");
    assert_string_equal(total_of(&t, 3), "136.5");
    assert_string_equal(total_of(&t, 5), "99.375");
    trial_close(&t);
}

/* (R) Precision meetings 2019, art. 5:
 *   https://www.file-pdf.it/2019/02/27/regolamento-raduni-precisione-2019/preview/page/2/
 * All penalties times 1 and a hundredth for each year after 1900: 100 of a car of 1971 are 171.
 * Here 40 were lost in a test and 60 at a control (D). */
static void all_penalties_times_the_coefficient_of_the_year(void **state) {
    (void)state;
    struct trial t;
    static const char *const kinds[] = {"'all'", "['special-test','passage-control']"};
    for (int i = 0; i < 2; i++) {
        char scoring[128];
        (void)snprintf(scoring, sizeof scoring, "{'coefficient':{'by':'year','kinds':%s}}",
                       kinds[i]);
        trial_open(&t, (struct folder){
                           .entries = ENTRIES "\n1" CREW "1971\n",
                           .route = "[{'day':1,'id':'S1','kind':'special-test','name':'Old "
                                    "airstrip'},"
                                    "{'day':1,'id':'PC1','kind':'passage-control','name':'Gannet',"
                                    "'penalty':{'missed':60}}]",
                           .scoring = scoring,
                           .readings = "point,car,elapsed\nS1/finish,1,40\n"});
        assert_string_equal(total_of(&t, 1), "171");
        trial_close(&t);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_hundred_points_at_the_published_coefficients),
        cmocka_unit_test(points_of_a_trial_times_the_coefficient_of_the_car),
        cmocka_unit_test(heat_times_coefficient_is_rounded_at_the_end_only),
        cmocka_unit_test(all_penalties_times_the_coefficient_of_the_year),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
