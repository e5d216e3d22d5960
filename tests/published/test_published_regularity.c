/* SPDX-License-Identifier: MIT */
/* Ideal times, roundings and restarts of regularities, as others published them (facts 28 to 30,
 * 32 and 36).
 *
 * Not expressed by these rules:
 *   31  odometer factors: distances are the organiser's
 *   32  times written in decimal minutes: they are entered in seconds */
#include "published.h"

/* 28 (R). JCNA, chapter 4: https://www.jcna.com/library/rally/chapter4.html
 * Time for a distance at 30 mph. */
static void thirty_mph_table_has_twelve_seconds_a_tenth_of_a_mile(void **state) {
    (void)state;
    static const struct {
        const char *check;
        const char *time;
    } rows[] = {
        {"R1/1", "10:00:12"}, {"R1/2", "10:00:24"},  {"R1/3", "10:00:36"},  {"R1/4", "10:00:48"},
        {"R1/5", "10:01:00"}, {"R1/6", "10:01:12"},  {"R1/7", "10:01:24"},  {"R1/8", "10:01:36"},
        {"R1/9", "10:01:48"}, {"R1/10", "10:02:00"}, {"R1/11", "10:04:00"}, {"R1/12", "10:06:00"},
    };
    struct textbuf readings = {0};
    struct trial t;
    textbuf_puts(&readings, "point,car,time\nR1/start,1,10:00:00\n");
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++)
        textbuf_printf(&readings, "%s,1,%s\n", rows[i].check, rows[i].time);
    trial_open(&t,
               (struct folder){.unit = "'mi'",
                               .route = "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                                        "'speeds':[{'from':0,'speed':30}],"
                                        "'checks':[{'at':0.1},{'at':0.2},{'at':0.3},{'at':0.4},"
                                        "{'at':0.5},{'at':0.6},{'at':0.7},{'at':0.8},{'at':0.9},"
                                        "{'at':1.0},{'at':2.0},{'at':3.0}]}]",
                               .readings = textbuf_text(&readings)});
    for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
        assert_string_equal(due_at(&t, 1, rows[i].check), rows[i].time);
        assert_string_equal(state_at(&t, 1, rows[i].check), "clean");
    }
    trial_close(&t);
    textbuf_clear(&readings);
}

/* When a car that starts at 10:00:00 is due at a check so far on, at that speed. */
static const char *due_after(const char *unit, const char *distance, const char *speed,
                             const char *precision) {
    struct textbuf route = {0};
    struct trial t;
    textbuf_printf(&route,
                   "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                   "'speeds':[{'from':0,'speed':%s}],'checks':[{'at':%s}],"
                   "'penalty':{'precision':'%s'}}]",
                   speed, distance, precision);
    trial_open(&t, (struct folder){.unit = unit,
                                   .route = textbuf_text(&route),
                                   .readings = "point,car,time\nR1/start,1,10:00:00\n"
                                               "R1/1,1,10:02:00\n"});
    const char *due = due_at(&t, 1, "R1/1");
    trial_close(&t);
    textbuf_clear(&route);
    return due;
}

/* 29 (R). Seconds a mile are 3600 / mph:
 *   http://fsrpca.org/article/time-speed-distance-rally-tips-staying-course
 * 2 miles in 240 s are 30 mph. The other rows are derived (D). */
static void seconds_a_mile_are_3600_over_the_speed(void **state) {
    (void)state;
    assert_string_equal(due_after("'mi'", "2", "30", "millisecond"), "10:04:00");
    assert_string_equal(due_after("'mi'", "1", "24", "millisecond"), "10:02:30");
    assert_string_equal(due_after("'mi'", "1", "25", "millisecond"), "10:02:24");
    assert_string_equal(due_after("'mi'", "1", "28", "millisecond"), "10:02:08.571");
    assert_string_equal(due_after("'mi'", "1", "36", "millisecond"), "10:01:40");
    assert_string_equal(due_after("'mi'", "1", "40", "millisecond"), "10:01:30");
    assert_string_equal(due_after("'mi'", "1", "45", "millisecond"), "10:01:20");
    assert_string_equal(due_after("'mi'", "1", "50", "millisecond"), "10:01:12");
    assert_string_equal(due_after("'km'", "1", "50", "millisecond"), "10:01:12");
    assert_string_equal(due_after("'km'", "1", "49.9", "millisecond"), "10:01:12.144");
}

/* 30 (R rule, D figures). Intermediate controls restart the clock:
 *   http://themonsoonride.com/tsd-rallying/
 * and Motorsport UK:
 *   https://ebooks.motorsportuk.org/motorsport-uk-ncr-2026-11/0952123001742394230/p453
 * 30 km/h, checks at 30 and 45 km: the second is judged from the time at the first. */
static void each_check_is_judged_from_the_one_before(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t,
               (struct folder){.route = "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                                        "'measured':'previous','speeds':[{'from':0,'speed':30}],"
                                        "'checks':[{'at':30},{'at':45}]}]",
                               .readings = "point,car,time\nR1/start,1,10:00:00\nR1/1,1,11:00:20\n"
                                           "R1/2,1,11:30:20\n"});
    assert_string_equal(due_at(&t, 1, "R1/1"), "11:00:00");
    assert_string_equal(penalty_at(&t, 1, "R1/1"), "20");
    assert_string_equal(due_at(&t, 1, "R1/2"), "11:30:20");
    assert_string_equal(penalty_at(&t, 1, "R1/2"), "0");
    assert_string_equal(state_at(&t, 1, "R1/2"), "clean");
    trial_close(&t);
}

/* 32 (R, a worked example). Half a mile at 54 mph is 33 s. */
static void half_a_mile_at_54_mph_is_33_seconds(void **state) {
    (void)state;
    assert_string_equal(due_after("'mi'", "0.5", "54", "second"), "10:00:33");
}

/* 32, the same example: 4.85 miles at 54 mph from 9 h 10.73 min (9:10:43.8) is 9 h 16 min 7 s and a
 * bit; with its roundings 7.2 s, exactly 7.13. */
static void four_miles_85_at_54_mph_from_9_10_73(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .unit = "'mi'",
                       .route = "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                                "'speeds':[{'from':0,'speed':54}],'checks':[{'at':4.85}],"
                                "'penalty':{'precision':'tenth','per':'second'}}]",
                       .readings = "point,car,time\nR1/start,1,09:10:43.8\nR1/1,1,09:16:07\n"});
    assert_string_equal(due_at(&t, 1, "R1/1"), "09:16:07.1");
    assert_string_equal(penalty_at(&t, 1, "R1/1"), "0");
    trial_close(&t);
}

/* 36 (R figures, D the rest). Short target test:
 *   http://www.2000km.net/2009/11/05/so-wird-gewertet/
 * 74 m in 11.7 s, which is 22.77 km/h; 11.52 and 11.88 s are both 0.18 s off and cost the same. */
static void short_target_test_charges_early_and_late_alike(void **state) {
    (void)state;
    struct trial t;
    assert_string_equal(due_after("'km'", "0.074", "22.77", "hundredth"), "10:00:11.7");
    trial_open(&t,
               (struct folder){.route = "[{'day':1,'id':'T1','kind':'set-time','name':'Harbour',"
                                        "'targets':['11.70'],'penalty':{'precision':'hundredth'}}]",
                               .entries = ENTRIES "\n1" CREW "1960\n2" CREW "1960\n",
                               .readings = "point,car,elapsed\nT1/1,1,11.52\nT1/1,2,11.88\n"});
    assert_string_equal(deviation_at(&t, 1, "T1/1"), "-00:00:00.18");
    assert_string_equal(deviation_at(&t, 2, "T1/1"), "00:00:00.18");
    assert_string_equal(penalty_at(&t, 1, "T1/1"), "18");
    assert_string_equal(penalty_at(&t, 2, "T1/1"), "18");
    assert_string_equal(place_of(&t, 1), "1=");
    assert_string_equal(place_of(&t, 2), "1=");
    trial_close(&t);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(thirty_mph_table_has_twelve_seconds_a_tenth_of_a_mile),
        cmocka_unit_test(seconds_a_mile_are_3600_over_the_speed),
        cmocka_unit_test(each_check_is_judged_from_the_one_before),
        cmocka_unit_test(half_a_mile_at_54_mph_is_33_seconds),
        cmocka_unit_test(four_miles_85_at_54_mph_from_9_10_73),
        cmocka_unit_test(short_target_test_charges_early_and_late_alike),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
