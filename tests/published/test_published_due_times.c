/* SPDX-License-Identifier: MIT */
/* When a car is due: schedules, allowances, stage times held to their bounds, as others published
 * them (facts 19 to 27).
 *
 * Not expressed by these rules:
 *   25  rounding a wrong request for time up to the next half minute: the office enters what it
 *       granted
 *   27  a limit for each stage beside that in all, and a most for earliness: the first is a
 *       control's own `late_limit` */
#include "published.h"

/* 20 (R rule, D figures). Motorsport UK, scheduled timing:
 *   https://ebooks.motorsportuk.org/motorsport-uk-ncr-2026-11/0952123001742394230/p490
 * Scheduled time = time of car 0 + car number x interval. Car 0 at 11:40, car 17 at 11:57. Out of
 * the time limit when more than 30 minutes past it, any allowance included. */
#define UK_SCHEDULE                                                                                \
    .days = "[{'date':'2027-05-20','first_start':'10:41','interval':'00:01:00'}]",                 \
    .scoring = "{'timing':'scheduled','max_lateness':'00:30:00',"                                  \
               "'defaults':{'time-control':{'precision':'minute','missed':900}}}",                 \
    .entries = ENTRIES "\n17" CREW "1960\n"

static void uk_car_17_is_scheduled_17_intervals_after_car_0(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){UK_SCHEDULE, .readings = "point,car,time\nTC1,17,11:57\n"});
    assert_string_equal(due_at(&t, 17, "TC1"), "11:57:00");
    assert_string_equal(state_at(&t, 17, "TC1"), "clean");
    trial_close(&t);
}

/* The same page. */
static void uk_car_is_out_of_the_time_limit_after_30_minutes_not_at_30(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){UK_SCHEDULE, .readings = "point,car,time\nTC1,17,12:27\n"});
    assert_string_equal(state_at(&t, 17, "TC1"), "scored");
    assert_string_equal(penalty_at(&t, 17, "TC1"), "30");
    trial_close(&t);
    trial_open(&t, (struct folder){UK_SCHEDULE, .readings = "point,car,time\nTC1,17,12:28\n"});
    assert_string_equal(state_at(&t, 17, "TC1"), "missed");
    assert_string_equal(penalty_at(&t, 17, "TC1"), "900");
    trial_close(&t);
}

/* The same page: a delay allowance of 10 minutes moves both. */
static void uk_delay_allowance_moves_due_time_and_time_limit(void **state) {
    (void)state;
    struct trial t;
    const char *allowed = "kind,car,point,value,reason\n"
                          "allowance,17,TC1,00:10:00,held at the level crossing\n";
    trial_open(&t, (struct folder){UK_SCHEDULE, .decisions = allowed,
                                   .readings = "point,car,time\nTC1,17,12:37\n"});
    assert_string_equal(due_at(&t, 17, "TC1"), "12:07:00");
    assert_string_equal(state_at(&t, 17, "TC1"), "scored");
    assert_string_equal(penalty_at(&t, 17, "TC1"), "30");
    trial_close(&t);
    trial_open(&t, (struct folder){UK_SCHEDULE, .decisions = allowed,
                                   .readings = "point,car,time\nTC1,17,12:38\n"});
    assert_string_equal(state_at(&t, 17, "TC1"), "missed");
    trial_close(&t);
}

/* 19 (R). Toronto Autosport Club: http://torontoautosportclub.ca/rallymastersnotes/309.html
 * Due 12:20, valid to 12:50; at 12:51, and at every control and checkpoint while still over 30
 * late, the maximum-late penalty of 15. */
static void canadian_maximum_late_holds_until_within_it_again(void **state) {
    (void)state;
    struct trial t;
    trial_open(
        &t,
        (struct folder){
            .days = "[{'date':'2027-05-20','first_start':'11:20','interval':'00:01:00'}]",
            .scoring = "{'max_lateness':'00:30:00','max_lateness_holds':true,"
                       "'defaults':{'time-control':{'precision':'minute','missed':15},"
                       "'regularity':{'missed':15}}}",
            .route = "[{'day':1,'id':'TC1','kind':'time-control','target':'01:00'},"
                     "{'day':1,'id':'R1','kind':'regularity','start':'control',"
                     "'checks':[{'ideal':'00:10:00'}]},"
                     "{'day':1,'id':'TC2','kind':'time-control','target':'00:40'},"
                     "{'day':1,'id':'R2','kind':'regularity','start':'control',"
                     "'checks':[{'ideal':'00:10:00'}]}]",
            .readings = "point,car,time\nTC1,1,12:51\nR1/1,1,13:01\nTC2,1,13:30\nR2/1,1,13:40\n"});
    assert_string_equal(due_at(&t, 1, "TC1"), "12:20:00");
    assert_string_equal(penalty_at(&t, 1, "TC1"), "15");
    assert_string_equal(state_at(&t, 1, "R1/1"), "missed");
    assert_string_equal(penalty_at(&t, 1, "R1/1"), "15");
    assert_string_equal(state_at(&t, 1, "TC2"), "scored"); /* a minute early, 30 behind */
    assert_string_equal(state_at(&t, 1, "R2/1"), "clean");
    trial_close(&t);
}

/* What a car 10 minutes late costs that drives a section in less than its time. */
static const char *cost_of_section(int target, int shortest, int driven) {
    struct textbuf route = {0};
    struct textbuf readings = {0};
    struct trial t;
    textbuf_printf(
        &route,
        "[{'day':1,'id':'TC1','kind':'time-control','target':'00:30'},"
        "{'day':1,'id':'TC2','kind':'time-control','target':'00:%02d','shortest':'00:%02d'}]",
        target, shortest);
    textbuf_printf(&readings, "point,car,time\nTC1,1,10:40\nTC2,1,10:%02d\n", 40 + driven);
    trial_open(&t, (struct folder){.route = textbuf_text(&route),
                                   .scoring = "{'timing':'scheduled','defaults':{'time-control':"
                                              "{'precision':'minute','early':60,'late':0}}}",
                                   .readings = textbuf_text(&readings)});
    const char *cost = penalty_at(&t, 1, "TC2");
    trial_close(&t);
    textbuf_clear(&route);
    textbuf_clear(&readings);
    return cost;
}

/* 21 (R). Motorsport UK, time recovery:
 *   https://ebooks.motorsportuk.org/motorsport-uk-ncr-2026-11/0952123001742394230/p491
 * Sections of 9, 10, 11 and 12 minutes in no less than 6, 7, 8 and 9. A minute is priced at 60
 * here. */
static void uk_section_is_not_driven_in_less_than_three_quarters(void **state) {
    (void)state;
    for (int target = 9; target <= 12; target++) {
        assert_string_equal(cost_of_section(target, target - 3, target - 3), "0");
        assert_string_equal(cost_of_section(target, target - 3, target - 4), "60");
    }
}

/* 22 (R rule, D figures). Motorsport UK, special stages:
 *   https://ebooks.motorsportuk.org/motorsport-uk-ncr-2026-11/0952123001742394230/p491
 * Under bogey counts as bogey, between as it is, over maximum as maximum: bogey 2:00, maximum
 * 6:00. */
static void uk_stage_time_is_held_between_bogey_and_maximum(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .route = "[{'day':1,'id':'S1','kind':'special-test','name':'Old airstrip',"
                                "'bogey':'00:02:00','maximum':'00:06:00'}]",
                       .entries = ENTRIES "\n1" CREW "1960\n2" CREW "1961\n3" CREW "1962\n",
                       .readings = "point,car,elapsed\nS1/finish,1,00:01:52\n"
                                   "S1/finish,2,00:03:07\nS1/finish,3,00:07:10\n"});
    assert_string_equal(actual_at(&t, 1, "S1"), "00:02:00");
    assert_string_equal(actual_at(&t, 2, "S1"), "00:03:07");
    assert_string_equal(actual_at(&t, 3, "S1"), "00:06:00");
    assert_string_equal(penalty_at(&t, 1, "S1"), "120");
    assert_string_equal(penalty_at(&t, 2, "S1"), "187");
    assert_string_equal(penalty_at(&t, 3, "S1"), "360");
    trial_close(&t);
}

/* 23 (R). Motorsport UK:
 *   https://ebooks.motorsportuk.org/motorsport-uk-ncr-2026-11/0952123001742394230/p488
 * Leaving a section for one timed to the minute, the seconds are dropped: arrival 10:42:51, next
 * section 8 minutes, due 10:50. */
static void uk_seconds_are_dropped_before_a_section_to_the_minute(void **state) {
    (void)state;
    struct trial t;
    trial_open(
        &t, (struct folder){.route = "[{'day':1,'id':'TC1','kind':'time-control','name':'Saltmill',"
                                     "'target':'00:40:00'},"
                                     "{'day':1,'id':'TC2','kind':'time-control','name':'Old Quay',"
                                     "'target':'00:08:00'}]",
                            .scoring = "{'defaults':{'time-control':{'precision':'minute'}}}",
                            .readings = "point,car,time\nTC1,1,10:42:51\nTC2,1,10:50:59\n"});
    assert_string_equal(actual_at(&t, 1, "TC1"), "10:42:00");
    assert_string_equal(due_at(&t, 1, "TC2"), "10:50:00");
    assert_string_equal(state_at(&t, 1, "TC2"), "clean");
    trial_close(&t);
}

/* 23, where the section to the second is a regularity that ends at 10:42:51. */
static void uk_seconds_are_dropped_at_the_end_of_a_regularity(void **state) {
    (void)state;
    for (int scheduled = 0; scheduled <= 1; scheduled++) {
        struct trial t;
        trial_open(
            &t, (struct folder){
                    .route = "[{'day':1,'id':'R1','kind':'regularity','start':'control',"
                             "'finish':'control','target':'00:40:00',"
                             "'checks':[{'ideal':'00:40:00'}]},"
                             "{'day':1,'id':'TC2','kind':'time-control','target':'00:08:00'}]",
                    .scoring = scheduled ? "{'timing':'scheduled','defaults':"
                                           "{'time-control':{'precision':'minute'}}}"
                                         : "{'defaults':{'time-control':{'precision':'minute'}}}",
                    .readings = "point,car,time\nR1/1,1,10:42:51\nTC2,1,10:50:59\n"});
        assert_string_equal(penalty_at(&t, 1, "R1/1"), "171");
        assert_string_equal(due_at(&t, 1, "TC2"), "10:50:00");
        assert_string_equal(state_at(&t, 1, "TC2"), "clean");
        trial_close(&t);
    }
}

/* 24 (R). India, women's rally: http://womensrallytothevalley.com/faq.php
 * Start 08:05:00, ideal 20 min 10 s: due 08:25:10. As a control to the second and as a check. */
static void ideal_time_is_added_to_the_start(void **state) {
    (void)state;
    struct trial t;
    const char *days = "[{'date':'2027-05-20','first_start':'08:05','interval':'00:01:00'}]";
    trial_open(
        &t, (struct folder){.days = days,
                            .route = "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                                     "'start':'control','checks':[{'ideal':'00:20:10'}]},"
                                     "{'day':1,'id':'TC1','kind':'time-control','name':'Saltmill',"
                                     "'target':'00:20:10'}]",
                            .readings = "point,car,time\nR1/1,1,08:25:10\nTC1,1,08:25:10\n"});
    assert_string_equal(due_at(&t, 1, "R1/1"), "08:25:10");
    assert_string_equal(due_at(&t, 1, "TC1"), "08:25:10");
    assert_string_equal(total_of(&t, 1), "0");
    trial_close(&t);
}

/* How far off car 1 is at a check: ideal, time taken, time granted. */
static const char *deviation_with_allowance(const char *ideal, const char *passage,
                                            const char *allowed) {
    struct textbuf route = {0};
    struct textbuf readings = {0};
    struct textbuf decisions = {0};
    struct trial t;
    textbuf_printf(&route,
                   "[{'day':1,'id':'R1','kind':'regularity','name':'Hollin',"
                   "'checks':[{'ideal':'%s'}]}]",
                   ideal);
    textbuf_printf(&readings, "point,car,time\nR1/start,1,10:00\nR1/1,1,%s\n", passage);
    textbuf_printf(&decisions, "kind,car,point,value,reason\nallowance,1,R1/1,%s,held up\n",
                   allowed);
    trial_open(&t, (struct folder){.route = textbuf_text(&route),
                                   .readings = textbuf_text(&readings),
                                   .decisions = textbuf_text(&decisions)});
    const char *deviation = deviation_at(&t, 1, "R1/1");
    trial_close(&t);
    textbuf_clear(&route);
    textbuf_clear(&readings);
    textbuf_clear(&decisions);
    return deviation;
}

/* 25 (R). Kitchener-Waterloo Rally Club: http://www.kwrc.on.ca/events/TA.html
 * In minutes: late 1.7 with 1.5 allowed is 0.2 late, with 2.5 allowed 0.8 early; late 1.5 with 1.5
 * allowed is nothing. */
static void canadian_time_allowance_is_taken_from_the_time_used(void **state) {
    (void)state;
    assert_string_equal(deviation_with_allowance("00:10:00", "10:11:42", "90"), "00:00:12");
    assert_string_equal(deviation_with_allowance("00:10:00", "10:11:42", "150"), "-00:00:48");
    assert_string_equal(deviation_with_allowance("00:10:00", "10:11:30", "90"), "00:00:00");
}

/* 26 (R rule, D figures). Bought time, Washington DC SCCA:
 *   http://www.wdcr-scca.org/RoadRally/SupplementalsRR/tabid/104/Default.aspx
 * In minutes: elapsed 21.40, bought 3.00, perfect 18.00: 0.40 late. */
static void bought_time_is_taken_from_the_time_used(void **state) {
    (void)state;
    assert_string_equal(deviation_with_allowance("00:18:00", "10:21:24", "00:03:00"), "00:00:24");
}

/* 27 (R). Bulletin of a stage rally: http://wmwr.info/2017/01/20/competitor-bulletin-3-wmwr17/
 * Lateness of 30 minutes in all, which an early arrival never reduces: +12, -5, +12, +6 is 30, and
 * the next +1 is out. */
static void lateness_in_all_is_never_reduced(void **state) {
    (void)state;
    struct trial t;
    trial_open(&t, (struct folder){
                       .route = "[{'day':1,'id':'TC1','kind':'time-control','target':'00:30'},"
                                "{'day':1,'id':'TC2','kind':'time-control','target':'00:30'},"
                                "{'day':1,'id':'TC3','kind':'time-control','target':'00:30'},"
                                "{'day':1,'id':'TC4','kind':'time-control','target':'00:30'},"
                                "{'day':1,'id':'TC5','kind':'time-control','target':'00:30'}]",
                       .scoring = "{'max_lateness':'00:30:00','lateness':'cumulative','defaults':"
                                  "{'time-control':{'precision':'minute','missed':900}}}",
                       .readings = "point,car,time\nTC1,1,10:42\nTC2,1,11:07\nTC3,1,11:49\n"
                                   "TC4,1,12:25\nTC5,1,12:56\n"});
    assert_string_equal(deviation_at(&t, 1, "TC2"), "-00:05:00");
    assert_string_equal(state_at(&t, 1, "TC4"), "scored");
    assert_string_equal(deviation_at(&t, 1, "TC4"), "00:06:00");
    assert_string_equal(state_at(&t, 1, "TC5"), "missed");
    trial_close(&t);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(uk_car_17_is_scheduled_17_intervals_after_car_0),
        cmocka_unit_test(uk_car_is_out_of_the_time_limit_after_30_minutes_not_at_30),
        cmocka_unit_test(uk_delay_allowance_moves_due_time_and_time_limit),
        cmocka_unit_test(canadian_maximum_late_holds_until_within_it_again),
        cmocka_unit_test(uk_section_is_not_driven_in_less_than_three_quarters),
        cmocka_unit_test(uk_stage_time_is_held_between_bogey_and_maximum),
        cmocka_unit_test(uk_seconds_are_dropped_before_a_section_to_the_minute),
        cmocka_unit_test(uk_seconds_are_dropped_at_the_end_of_a_regularity),
        cmocka_unit_test(ideal_time_is_added_to_the_start),
        cmocka_unit_test(canadian_time_allowance_is_taken_from_the_time_used),
        cmocka_unit_test(bought_time_is_taken_from_the_time_used),
        cmocka_unit_test(lateness_in_all_is_never_reduced),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
