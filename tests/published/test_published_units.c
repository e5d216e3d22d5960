/* SPDX-License-Identifier: MIT */
/* Units and steps, as others published them (facts 12, 17, 19 and 31, and rules of North American
 * and Norwegian rule books). */
#include "published.h"

#define ONE_CONTROL(rule)                                                                          \
    "[{'day':1,'id':'TC1','kind':'time-control','name':'Saltmill','target':'01:00:00','penalty':"  \
    "{" rule "}}]"

/* What a car pays at a point of a route for one reading (point,car,time,elapsed). */
static const char *cost_at(const char *route, const char *point, const char *rows) {
    struct textbuf readings = {0};
    struct trial t;
    textbuf_printf(&readings, "point,car,time,elapsed\n%s\n", rows);
    trial_open(&t, (struct folder){.route = route, .readings = textbuf_text(&readings)});
    const char *cost = penalty_at(&t, 1, point);
    trial_close(&t);
    textbuf_clear(&readings);
    return cost;
}

/* 12 (R). Italy, ACI Sport sector rules "Regolarità" 2021/2022, art. 8.20: each minute or part of
 * one 100, late held to 300. Here with a clock that shows seconds, so that there are parts. */
static void a_minute_or_part_of_one_costs_100(void **state) {
    (void)state;
    const char *route = ONE_CONTROL("'precision':'second','per':'minute','part':true,'early':100,"
                                    "'late':100,'cap':{'late':300}");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:00:00,"), "0");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:00:01,"), "100");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:01:00,"), "100");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:01:01,"), "200");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:03:30,"), "300");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,10:56:30,"), "400");
}

/* 17 (R). Enduro keeping, https://aces-races.com/faq-items/how-are-enduros-scored/ : late 1 a
 * minute; the first minute early 2, each further one 5. */
static void the_first_minute_early_costs_2_and_each_further_one_5(void **state) {
    (void)state;
    const char *route = ONE_CONTROL("'precision':'minute','late':1,"
                                    "'early':[{'to':'00:01:00','rate':2},{'rate':5}]");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:03,"), "3");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,10:59,"), "2");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,10:58,"), "7");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,10:57,"), "12");
}

/* 19 (R). Canada, http://torontoautosportclub.ca/rallymastersnotes/309.html : a control is open to
 * a car from 15 minutes before its due time to 30 after it. */
static void a_control_is_open_from_15_minutes_before_to_30_after(void **state) {
    (void)state;
    const char *route = ONE_CONTROL("'precision':'minute','early':0,'late':0,'missed':5,"
                                    "'early_limit':'00:15:00','late_limit':'00:30:00'");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,10:45,"), "0");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,10:44,"), "5");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:30,"), "0");
    assert_string_equal(cost_at(route, "TC1", "TC1,1,11:31,"), "5");
}

/* (R) The same rally masters' notes, 307: left 3:12, 15.2 minutes, arrived 3:28:30: the leg took
 * 16.5 minutes, 1.3 more than it should. By tenths of a minute. */
static void a_leg_is_timed_in_tenths_of_a_minute(void **state) {
    (void)state;
    const char *route =
        "[{'day':1,'id':'R1','kind':'regularity','name':'Leg','checks':[{'ideal':'00:15:12'}],"
        "'penalty':{'precision':'6','late':'0.1'}}]";
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,03:12:00,\nR1/1,1,03:28:30,"), "1.3");
}

/* (R) North American time-speed-distance rules, supplement: 1 for a hundredth of a minute, at most
 * 500, a missed control 1,000. 1.43 minutes are 143. */
static void a_hundredth_of_a_minute_costs_1_up_to_500(void **state) {
    (void)state;
    const char *route =
        "[{'day':1,'id':'R1','kind':'regularity','name':'Leg','checks':[{'ideal':'00:10:00'}],"
        "'penalty':{'precision':'0.6','cap':500,'missed':1000}}]";
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:11:25.8,"), "143");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:11:26.3,"), "143");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:08:34.2,"), "143");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:20:00,"), "500");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,"), "1000");
}

/* 31 (memory, figures derived). Ideals in hundredths of a minute are cut: at 6 / 0.14414 miles an
 * hour, out at 21.00 minutes, 0.1, 0.2 and 0.3 miles further give 21.14, 21.28 and 21.43; rounding
 * gave 21.29. The clock starts at 10:00, 21 minutes before. */
static void ideals_in_hundredths_of_a_minute_are_cut(void **state) {
    (void)state;
    static const char route[] =
        "[{'day':1,'id':'R1','kind':'regularity','name':'Leg','ideals':'down','speeds':"
        "[{'from':0,'speed':60},{'from':21,'speed':'41.624'}],"
        "'checks':[{'at':'21.1'},{'at':'21.2'},{'at':'21.3'}],'penalty':{'precision':'0.6'}}]";
    struct trial t;
    trial_open(&t, (struct folder){.route = route,
                                   .readings = "point,car,time\nR1/start,1,10:00:00\n"
                                               "R1/1,1,10:21:08.4\nR1/2,1,10:21:16.8\n"
                                               "R1/3,1,10:21:25.8\n"});
    assert_string_equal(due_at(&t, 1, "R1/1"), "10:21:08.4");
    assert_string_equal(due_at(&t, 1, "R1/2"), "10:21:16.8");
    assert_string_equal(due_at(&t, 1, "R1/3"), "10:21:25.8");
    assert_string_equal(total_of(&t, 1), "0");
    trial_close(&t);
}

/* (R) Norway, national rules for regularity: too early at a secret control a flat 100, however
 * much, and late is free. */
static void too_early_at_a_secret_control_costs_100_however_much(void **state) {
    (void)state;
    const char *route =
        "[{'day':1,'id':'R1','kind':'regularity','name':'Leg','checks':[{'ideal':'00:10:00'}],"
        "'penalty':{'early':{'once':100},'late':0}}]";
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:09:59,"), "100");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:01:00,"), "100");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:10:00,"), "0");
    assert_string_equal(cost_at(route, "R1/1", "R1/start,1,10:00:00,\nR1/1,1,10:30:00,"), "0");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_minute_or_part_of_one_costs_100),
        cmocka_unit_test(the_first_minute_early_costs_2_and_each_further_one_5),
        cmocka_unit_test(a_control_is_open_from_15_minutes_before_to_30_after),
        cmocka_unit_test(a_leg_is_timed_in_tenths_of_a_minute),
        cmocka_unit_test(a_hundredth_of_a_minute_costs_1_up_to_500),
        cmocka_unit_test(ideals_in_hundredths_of_a_minute_are_cut),
        cmocka_unit_test(too_early_at_a_secret_control_costs_100_however_much),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
