/* SPDX-License-Identifier: MIT */
/* Attempts and bests, in events small enough to be worked by hand: every second costs 1, a cone 5,
 * and an attempt that was not completed 100. */
#include "scoring/kinds/special_test.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "scene.h"
#include "testing.h"

/* What one car's test must come to. */
struct outcome_row {
    const char *test;      /* keys of the test beside those below, each after a comma */
    const char *readings;  /* rows of point,car,elapsed,faults */
    const char *decisions; /* rows of kind,car,point,value,reason; NULL for none */
    bool live;
    int car;
    enum state state;
    const char *penalty;
    int fails;
};

#define NAMED "'faults': {'cone': 5, 'chalk': 0, 'line': {'fails': 1}, 'lost': 'missed'%s}, "
#define RULE "'penalty': {'late': 1, 'missed': 100}"

/* Cars 1 to 4; 1 and 2 are of one class, 1 and 3 of one category, and 4 names none. */
#define FOUR_CARS                                                                                  \
    "number,driver,navigator,make,model,year,category\n"                                           \
    "1,Ann Alder,Bob Alder,Calder,Six,1934,tour\n2,Cai Birch,,Thornbeck,Ten,1935,sport\n"          \
    "3,Dot Cedar,Eli Cedar,Garrodine,Sport,1955,tour\n4,Fay Elder,,Hessle,Four,1956,\n"
#define CATEGORIES                                                                                 \
    "{'scheme': 'fiva', 'categories': [{'id': 'tour', 'classes': false}, {'id': 'sport'}]}"

static void open_test(struct scene *scene, const char *test, const char *readings,
                      const char *decisions, bool live) {
    struct textbuf rules = {0};
    struct textbuf read = {0};
    struct textbuf decided = {0};
    bool maximum = strstr(test, ", 'maximum'") != NULL;
    textbuf_puts(&rules, "{'name': 'Fell Trial', 'slug': 'fell-trial', 'timezone': "
                         "'Atlantic/Azores', 'unit': 'km', 'days': [{'date': '2027-05-20', "
                         "'first_start': '08:01', 'interval': '00:01:00'}], 'classes': " CATEGORIES
                         ", 'scoring': {}, 'route': [{'day': 1, 'id': 'S1', 'kind': "
                         "'special-test', ");
    textbuf_printf(&rules, NAMED, maximum ? ", 'wrong': 'maximum'" : "");
    textbuf_printf(&rules, "%s%s}]}", strstr(test, "'penalty'") == NULL ? RULE : "'name': 'S1'",
                   test);
    textbuf_printf(&read, "point,car,elapsed,faults\n%s", readings);
    textbuf_printf(&decided, "kind,car,point,value,reason\n%s", decisions == NULL ? "" : decisions);
    struct event_text texts = {.rules = textbuf_text(&rules),
                               .entries = FOUR_CARS,
                               .readings = textbuf_text(&read),
                               .decisions = textbuf_text(&decided)};
    scene_open(scene, &texts, (struct viewpoint){.live = live});
    textbuf_clear(&rules);
    textbuf_clear(&read);
    textbuf_clear(&decided);
}

static void check_all(const struct outcome_row *rows, size_t count) {
    for (size_t i = 0; i < count; i++) {
        struct scene scene;
        int64_t penalty;
        open_test(&scene, rows[i].test, rows[i].readings, rows[i].decisions, rows[i].live);
        struct scored_point sp = scene_point(&scene, rows[i].car, "S1");
        assert_int_equal(decimal_parse(rows[i].penalty, &penalty), 0);
        if (sp.state != rows[i].state || sp.penalty != penalty || sp.fails != rows[i].fails) {
            char *why = scene_why(&scene, rows[i].car, "S1");
            fail_msg("row %zu: %s %lld, %d fails: %s", i, state_word(sp.state),
                     (long long)sp.penalty, sp.fails, why);
        }
        scene_close(&scene);
    }
}

#define TWO ", 'attempts': 2"

BEHAVIOUR(the_best_attempt_has_the_fewest_fails_then_the_least_cost) {
    static const struct outcome_row rows[] = {
        {TWO, "S1/finish,1,40,cone=1\nS1/finish-2,1,44,\n", NULL, false, 1, STATE_SCORED, "44", 0},
        {TWO, "S1/finish,1,40,cone=1\nS1/finish-2,1,46,\n", NULL, false, 1, STATE_SCORED, "45", 0},
        {TWO, "S1/finish,1,40,line=1\nS1/finish-2,1,90,\n", NULL, false, 1, STATE_SCORED, "90", 0},
        {TWO, "S1/finish,1,40,line=2\nS1/finish-2,1,90,line=1\n", NULL, false, 1, STATE_SCORED,
         "90", 1},
        /* attempts have their own faults, caps and maximum */
        {TWO ", 'maximum': 60", "S1/finish,1,50,wrong=1\nS1/finish-2,1,58,\n", NULL, false, 1,
         STATE_SCORED, "58", 0},
        {TWO ", 'penalty': {'cap': 42}", "S1/finish,1,40,cone=1\nS1/finish-2,1,44,\n", NULL, false,
         1, STATE_SCORED, "42", 0},
        /* one that costs nothing and had no fault is clean, whatever the other was */
        {TWO ", 'bogey': 50, 'method': 'over-bogey'", "S1/finish,1,45,\nS1/finish-2,1,60,cone=1\n",
         NULL, false, 1, STATE_CLEAN, "0", 0},
        {TWO ", 'bogey': 50, 'method': 'over-bogey'", "S1/finish,1,45,chalk=1\n", NULL, false, 1,
         STATE_SCORED, "0", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(of_attempts_of_equal_cost_the_shortest_counts) {
    struct scene scene;
    open_test(&scene, TWO ", 'penalty': {'per': 'minute'}", "S1/finish,1,65,\nS1/finish-2,1,61,\n",
              NULL, false);
    assert_int_equal(scene_point(&scene, 1, "S1").actual, 61000);
    assert_int_equal(scene_point(&scene, 1, "S1").penalty, 1000);
    scene_close(&scene);
}

BEHAVIOUR(a_test_is_missed_once_no_attempt_can_be_completed) {
    static const char nothing[] = "S1/finish,2,40,\n";
    static const struct outcome_row rows[] = {
        {TWO, nothing, NULL, true, 1, STATE_AWAITING, "0", 0},
        {TWO, nothing, "close,,S1/finish,,all through\n", true, 1, STATE_AWAITING, "0", 0},
        {TWO, nothing, "close,,S1/finish-2,,all through\n", true, 1, STATE_AWAITING, "0", 0},
        {TWO, nothing, "close,,S1,,all through\n", true, 1, STATE_MISSED, "100", 0},
        {TWO, nothing, NULL, false, 1, STATE_MISSED, "100", 0},
        {TWO, nothing, NULL, true, 2, STATE_SCORED, "40", 0},
        /* a fault worth “missed”: that attempt was not completed */
        {TWO, "S1/finish,1,30,lost=1\n", NULL, true, 1, STATE_AWAITING, "0", 0},
        {TWO, "S1/finish,1,30,lost=1\n", "close,,S1/finish-2,,rain\n", true, 1, STATE_MISSED, "100",
         0},
        {TWO, "S1/finish,1,30,lost=1\nS1/finish-2,1,50,\n", NULL, true, 1, STATE_SCORED, "50", 0},
        {TWO, "S1/finish,1,30,lost=1;cone=4\n", NULL, false, 1, STATE_MISSED, "100", 0},
        {"", "S1/finish,1,30,lost=1;cone=4\n", NULL, true, 1, STATE_MISSED, "100", 0},
        {", 'maximum': 90", "S1/finish,1,30,lost=1;wrong=1\n", NULL, true, 1, STATE_MISSED, "100",
         0},
    };
    check_all(rows, COUNT_OF(rows));
}

BEHAVIOUR(the_last_attempt_is_that_of_those_completed) {
    static const struct outcome_row rows[] = {
        {", 'attempts': 3, 'counts': 'last'", "S1/finish,1,40,\nS1/finish-2,1,44,\n", NULL, false,
         1, STATE_SCORED, "44", 0},
        {", 'attempts': 3, 'counts': 'last'", "S1/finish,1,40,\nS1/finish-3,1,44,lost=1\n", NULL,
         false, 1, STATE_SCORED, "40", 0},
        {", 'attempts': 3, 'counts': 'last'", "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED,
         "100", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

#define SUM ", 'attempts': 2, 'counts': 'sum'"

BEHAVIOUR(a_sum_of_attempts_has_what_is_missed_in_it) {
    static const struct outcome_row rows[] = {
        {SUM, "S1/finish,1,40,cone=1\nS1/finish-2,1,44,line=1\n", NULL, false, 1, STATE_SCORED,
         "89", 1},
        {SUM, "S1/finish,1,40,\n", NULL, true, 1, STATE_AWAITING, "40", 0},
        {SUM, "S1/finish,1,40,\n", "close,,S1/finish-2,,rain\n", true, 1, STATE_SCORED, "140", 0},
        {SUM, "S1/finish,2,40,\n", "close,,S1/finish,,rain\n", true, 1, STATE_AWAITING, "100", 0},
        {SUM, "S1/finish,1,40,\n", NULL, false, 1, STATE_SCORED, "140", 0},
        {SUM, "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED, "200", 0},
        {SUM, "S1/finish,2,40,\n", NULL, true, 1, STATE_AWAITING, "0", 0},
        {SUM ", 'penalty': {'missed': {'fails': 2}}", "S1/finish,1,40,\n", NULL, false, 1,
         STATE_SCORED, "40", 2},
        {SUM ", 'penalty': {'missed': {'fails': 2}}", "S1/finish,2,40,\n", NULL, false, 1,
         STATE_MISSED, "0", 4},
        /* clean only where all were completed, cost nothing and had no fault */
        {SUM ", 'bogey': 50, 'method': 'over-bogey'", "S1/finish,1,45,\nS1/finish-2,1,50,\n", NULL,
         false, 1, STATE_CLEAN, "0", 0},
        {SUM ", 'bogey': 50, 'method': 'over-bogey'", "S1/finish,1,45,\nS1/finish-2,1,50,chalk=1\n",
         NULL, false, 1, STATE_SCORED, "0", 0},
        {SUM ", 'bogey': 50, 'method': 'over-bogey', 'penalty': {'missed': 0}", "S1/finish,1,45,\n",
         NULL, false, 1, STATE_SCORED, "0", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

/* Retired behind the first attempt, or before the test. */
BEHAVIOUR(a_car_that_is_out_at_some_attempts_has_missed_those) {
    static const struct outcome_row rows[] = {
        {SUM, "S1/finish,1,40,\n", "retire,1,S1/finish,,clutch\n", false, 1, STATE_SCORED, "140",
         0},
        {SUM, "S1/finish,1,40,\n", "retire,1,S1/finish,,clutch\n", true, 1, STATE_AWAITING, "40",
         0},
        {TWO, "S1/finish,1,40,\n", "retire,1,S1/finish,,clutch\n", false, 1, STATE_SCORED, "40", 0},
        {TWO, "S1/finish-2,1,40,\n", "retire,1,S1/finish,,clutch\n", false, 1, STATE_MISSED, "100",
         0},
        {TWO, "S1/finish-2,1,40,\n", "retire,1,S1/start,,clutch\n", false, 1, STATE_ABSENT, "100",
         0},
        {SUM, "S1/finish,2,40,\n", "retire,1,,,clutch\n", false, 1, STATE_ABSENT, "200", 0},
        {SUM, "S1/finish,2,40,\n", "retire,1,,,clutch\n", true, 1, STATE_ABSENT, "0", 0},
        {SUM, "S1/finish,2,40,\n", "retire,1,,,clutch\nclose,,S1/finish-2,,all through\n", true, 1,
         STATE_ABSENT, "100", 0},
        {TWO, "S1/finish,2,40,\n", "retire,1,,,clutch\nclose,,S1/finish-2,,all through\n", true, 1,
         STATE_ABSENT, "0", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

#define BY_BEST(scope) ", 'maximum': {'best': '" scope "', 'plus': 30}"
#define MISSED_MAXIMUM ", 'penalty': {'late': 1, 'missed': 'maximum'}"

BEHAVIOUR(a_maximum_is_the_best_of_the_scope_and_so_much) {
    static const char all[] =
        "S1/finish,1,50,cone=1\nS1/finish,2,90,\nS1/finish,3,40,\nS1/finish,4,99,\n";
    static const char wrong[] = "S1/finish,1,50,\nS1/finish,2,30,wrong=1\n";
    static const struct outcome_row rows[] = {
        {BY_BEST("overall"), all, NULL, false, 2, STATE_SCORED, "70", 0},
        {BY_BEST("class"), all, NULL, false, 2, STATE_SCORED, "80", 0},
        {BY_BEST("category"), all, NULL, false, 2, STATE_SCORED, "90", 0},
        {BY_BEST("category"), all, NULL, false, 1, STATE_SCORED, "55", 0},
        /* a class has its best from cars that stand in no class; no category is a group too */
        {BY_BEST("class"), "S1/finish,1,50,\nS1/finish,2,99,\n", NULL, false, 2, STATE_SCORED, "80",
         0},
        {BY_BEST("category"), all, NULL, false, 4, STATE_SCORED, "99", 0},
        /* a wrong test is no time, and the maximum holds time, not faults */
        {BY_BEST("class"), wrong, NULL, false, 2, STATE_SCORED, "80", 0},
        {BY_BEST("class"), "S1/finish,1,50,\nS1/finish,2,90,cone=2\n", NULL, false, 2, STATE_SCORED,
         "90", 0},
        {BY_BEST("class"), wrong, "disqualify,1,,,towed\n", false, 2, STATE_MISSED, "100", 0},
        {BY_BEST("class"), wrong, "disqualify,1,,,towed\n", true, 2, STATE_AWAITING, "0", 0},
        {BY_BEST("class"), wrong, "disqualify,1,,,towed\nclose,,S1,,through\n", true, 2,
         STATE_MISSED, "100", 0},
    };
    check_all(rows, COUNT_OF(rows));
    /* the second attempt is the best, so that the first has a maximum: 90 */
    static const struct outcome_row with_best[] = {
        {SUM BY_BEST("class"), "S1/finish,3,50,wrong=1\nS1/finish-2,3,60,\n", NULL, false, 3,
         STATE_SCORED, "150", 0},
        {TWO BY_BEST("class"), "S1/finish,3,50,wrong=1\nS1/finish-2,3,50,wrong=1\n", NULL, false, 3,
         STATE_MISSED, "100", 0},
    };
    check_all(with_best, COUNT_OF(with_best));
}

BEHAVIOUR(what_is_missed_may_cost_the_maximum) {
    static const struct outcome_row rows[] = {
        {", 'maximum': 90" MISSED_MAXIMUM, "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED, "90",
         0},
        {", 'maximum': 90" MISSED_MAXIMUM, "S1/finish,2,40,\n", NULL, true, 1, STATE_AWAITING, "0",
         0},
        {BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED, "70",
         0},
        {BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\n", NULL, false, 3, STATE_MISSED, "0",
         0},
        {BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\n", "retire,1,,,clutch\n", false, 1,
         STATE_ABSENT, "70", 0},
        {SUM BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\nS1/finish,1,50,\n", NULL, false, 1,
         STATE_SCORED, "120", 0},
        {SUM BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED,
         "140", 0},
        {", 'method': 'behind-best'" BY_BEST("class") MISSED_MAXIMUM,
         "S1/finish,2,40,\nS1/finish,4,20,\n", NULL, false, 1, STATE_MISSED, "50", 0},
        {", 'method': 'over-bogey', 'bogey': 30" BY_BEST("class") MISSED_MAXIMUM,
         "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED, "40", 0},
        {BY_BEST("class") ", 'penalty': {'late': {'fails': 1}, 'missed': 'maximum'}",
         "S1/finish,2,40,\n", NULL, false, 1, STATE_MISSED, "0", 1},
        {BY_BEST("class") ", 'penalty': {'cap': 60, 'missed': 'maximum'}", "S1/finish,2,40,\n",
         NULL, false, 1, STATE_MISSED, "60", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

#define FAULTLESS ", 'method': 'behind-best', 'best': 'faultless'"

BEHAVIOUR(the_best_without_faults_goes_before_a_faster_one_with_some) {
    static const char read[] = "S1/finish,1,40,cone=3\nS1/finish,2,44,\nS1/finish,3,47,chalk=1\n";
    static const struct outcome_row rows[] = {
        {FAULTLESS, read, NULL, false, 1, STATE_SCORED, "15", 0},
        {FAULTLESS, read, NULL, false, 2, STATE_CLEAN, "0", 0},
        {FAULTLESS, read, NULL, false, 3, STATE_SCORED, "3", 0},
        {FAULTLESS, read, "disqualify,2,,,towed\n", false, 3, STATE_SCORED, "7", 0},
        {FAULTLESS ", 'scope': 'class'", read, NULL, false, 3, STATE_SCORED, "0", 0},
        {TWO FAULTLESS, "S1/finish,1,40,cone=3\nS1/finish-2,1,46,\nS1/finish,2,50,cone=1\n", NULL,
         false, 2, STATE_SCORED, "9", 0},
        /* a wrong test is never the best, whatever its faults */
        {FAULTLESS ", 'maximum': 60", "S1/finish,1,40,wrong=1\nS1/finish,2,50,cone=1\n", NULL,
         false, 1, STATE_SCORED, "10", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

#define RESULT ", 'best': 'result'"

BEHAVIOUR(a_best_result_is_that_of_time_and_faults_together) {
    static const char read[] =
        "S1/finish,1,60,\nS1/finish,2,50,cone=3\nS1/finish,3,50,cone=9\nS1/finish,4,64,line=2\n";
    static const struct outcome_row rows[] = {
        {RESULT ", 'method': 'behind-best'", read, NULL, false, 1, STATE_CLEAN, "0", 0},
        {RESULT ", 'method': 'behind-best'", read, NULL, false, 2, STATE_SCORED, "5", 0},
        {RESULT ", 'method': 'behind-best'", read, NULL, false, 4, STATE_SCORED, "4", 2},
        {RESULT ", 'method': 'behind-best'", read, "disqualify,1,,,towed\n", false, 1, STATE_CLEAN,
         "0", 0},
        /* the cap holds the difference: 35, not the 95 that are compared */
        {RESULT ", 'method': 'behind-best', 'penalty': {'cap': 40}", read, NULL, false, 3,
         STATE_SCORED, "35", 0},
        {RESULT ", 'method': 'behind-best', 'penalty': {'cap': 30}", read, NULL, false, 3,
         STATE_SCORED, "30", 0},
        /* a maximum by the best holds time and faults together: 60 + 30 */
        {RESULT BY_BEST("overall"), read, NULL, false, 3, STATE_SCORED, "90", 0},
        {RESULT BY_BEST("overall"), "S1/finish,1,60,\nS1/finish,2,50,wrong=1;cone=9\n", NULL, false,
         2, STATE_SCORED, "90", 0},
        {RESULT BY_BEST("overall") MISSED_MAXIMUM, "S1/finish,1,60,\n", NULL, false, 2,
         STATE_MISSED, "90", 0},
        {RESULT BY_BEST("overall") MISSED_MAXIMUM ", 'method': 'behind-best'", "S1/finish,1,60,\n",
         NULL, false, 2, STATE_MISSED, "30", 0},
        {RESULT BY_BEST("overall") ", 'method': 'behind-best'", read, NULL, false, 3, STATE_SCORED,
         "30", 0},
        {RESULT BY_BEST("overall"), "S1/finish,2,50,wrong=1\n", NULL, false, 2, STATE_MISSED, "100",
         0},
        {RESULT BY_BEST("overall") ", 'method': 'over-bogey', 'bogey': 40", read, NULL, false, 3,
         STATE_SCORED, "50", 0},
        {RESULT ", 'method': 'behind-best', 'maximum': 80",
         "S1/finish,1,60,\nS1/finish,2,50,wrong=1\n", NULL, false, 2, STATE_SCORED, "20", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

/* Cars 1 and 3 are of the category of the line, car 2 of another. */
BEHAVIOUR(a_best_is_that_of_all_cars_each_with_its_own_values) {
    static const char read[] = "S1/finish,1,40,\nS1/finish,2,70,cone=1\nS1/finish,3,90,\n";
    static const char bogey[] =
        ", 'method': 'behind-best', 'for': [{'category': 'tour', 'bogey': 60}]";
    static const char off[] =
        ", 'method': 'behind-best', 'for': [{'category': 'tour', 'off': true}]";
    static const char line[] =
        ", 'for': [{'maximum': {'best': 'overall', 'plus': 10}, 'category': 'sport'}]";
    static const char dear[] =
        ", 'method': 'behind-best', 'best': 'result', 'for': [{'category': 'tour', "
        "'penalty': {'late': 2}}]";
    static const struct outcome_row rows[] = {
        {bogey, read, NULL, false, 1, STATE_CLEAN, "0", 0},
        {bogey, read, NULL, false, 2, STATE_SCORED, "15", 0},
        {off, read, NULL, false, 1, STATE_OFF, "0", 0},
        {off, read, NULL, false, 2, STATE_SCORED, "5", 0},
        /* only the line asks for a best */
        {line, read, NULL, false, 2, STATE_SCORED, "55", 0},
        {line, read, NULL, false, 3, STATE_SCORED, "90", 0},
        /* 80 and 75: the best result is that of the slower car */
        {dear, read, NULL, false, 1, STATE_SCORED, "5", 0},
        {dear, read, NULL, false, 2, STATE_SCORED, "0", 0},
    };
    check_all(rows, COUNT_OF(rows));
}

/* For `time:ID`, and for people. */
BEHAVIOUR(the_time_of_a_test_is_that_of_the_attempt_that_counts_or_their_sum) {
    static const struct {
        const char *test, *readings, *decisions;
        int64_t time;
    } rows[] = {
        {TWO, "S1/finish,1,40,cone=1\nS1/finish-2,1,44,\n", "", 44000},
        {TWO, "S1/finish,1,40,\n", "waive,1,S1,,fog\n", 40000},
        {SUM, "S1/finish,1,40,cone=1\nS1/finish-2,1,44,\n", "", 84000},
        {SUM, "S1/finish,1,40,\n", "", TIME_NONE},
        {SUM ", 'maximum': 90", "S1/finish,1,40,\nS1/finish-2,1,44,wrong=1\n", "", 130000},
        {RESULT BY_BEST("overall"), "S1/finish,2,60,\nS1/finish,1,50,wrong=1\n", "", TIME_NONE},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct scene scene;
        open_test(&scene, rows[i].test, rows[i].readings, rows[i].decisions, false);
        assert_int_equal(scene_point(&scene, 1, "S1").actual, rows[i].time);
        scene_close(&scene);
    }
}

/* The sum can be redone from each of these: what was read, what the limits made of it, the best and
 * who has it, faults, cap, and which attempt counts. */
BEHAVIOUR(the_sentence_tells_each_attempt_and_each_best) {
    static const struct {
        const char *test, *readings, *decisions;
        bool live;
        int car;
        const char *why;
    } rows[] = {
        {TWO, "S1/finish,1,40,cone=1\nS1/finish-2,1,44,\n", NULL, false, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second + 1 × cone at 5 = 45. Attempt 2. Measured 44 s; 44 at 1 a second = 44. Attempt 2 counts, the best."},
        {TWO, "S1/finish,1,40,line=1\n", NULL, true, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second + 1 × line at 1 fail = 40, and 1 fail for faults. Attempt 2. No finish yet. Attempt 1 counts, the best."},
        {TWO, "S1/finish,1,30,lost=1\nS1/finish-2,1,50,\n", NULL, false, 1,
         "Attempt 1. lost: missed, whatever was read. Attempt 2. Measured 50 s; 50 at 1 a second = 50. Attempt 2 counts, the best."},
        {TWO, "S1/finish,2,40,\n", NULL, true, 1,
         "No reading yet; the point is still open and costs nothing so far."},
        {TWO, "S1/finish,2,40,\n", NULL, false, 1,
         "Attempt 1. No finish. Attempt 2. No finish. No reading: missed, 100."},
        {", 'attempts': 3, 'counts': 'last'", "S1/finish,1,40,\nS1/finish-2,1,44,\n", NULL, false,
         1,
         "Attempt 1. Measured 40 s; 40 at 1 a second = 40. Attempt 2. Measured 44 s; 44 at 1 a second = 44. Attempt 3. No finish. Attempt 2 counts, the last completed."},
        {SUM, "S1/finish,1,40,cone=1\nS1/finish-2,1,44,line=1\n", NULL, false, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second + 1 × cone at 5 = 45. Attempt 2. Measured 44 s; 44 at 1 a second + 1 × line at 1 fail = 44, and 1 fail for faults. Together 45 + 44 and 1 fail = 89 and 1 fail."},
        {SUM, "S1/finish,1,40,\n", NULL, true, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second = 40. Attempt 2. No finish yet. Together 40 = 40. Awaited: so far it costs 40."},
        {SUM, "S1/finish,1,40,\n", "retire,1,S1/finish,,clutch\n", false, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second = 40. Attempt 2. Out of the event here: missed, 100. Together 40 + 100 = 140."},
        {SUM, "S1/finish,1,40,\n", "retire,1,S1/finish,,clutch\n", true, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second = 40. Attempt 2. Out of the event here; not charged so far. Together 40 = 40. Awaited: so far it costs 40."},
        {SUM, "S1/finish,1,40,\nS1/finish-2,1,50,lost=1\n", NULL, false, 1,
         "Attempt 1. Measured 40 s; 40 at 1 a second = 40. Attempt 2. lost: missed, whatever was read: 100. Together 40 + 100 = 140."},
        {SUM, "S1/finish,2,40,\n", "retire,1,,,clutch\n", false, 1,
         "Out of the event here: charged as missed, 200 for 2 attempts, in the day's absence and not in the test."},
        {SUM BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\nS1/finish,1,50,wrong=1\n", NULL,
         false, 1,
         "Attempt 1. Measured 50 s, wrong: the maximum 1 min 10 s (the best of the class, 40 s (car 2), + 30 s), and no other fault is added; 70 at 1 a second = 70. Attempt 2. No finish: missed, 70 (as at the maximum 1 min 10 s (the best of the class, 40 s (car 2), + 30 s); 70 at 1 a second = 70). Together 70 + 70 = 140."},
        {BY_BEST("category"), "S1/finish,1,50,cone=1\nS1/finish,3,90,\n", NULL, false, 3,
         "Measured 1 min 30 s, held to the maximum 1 min 20 s (the best of the category, 50 s (car 1), + 30 s); 80 at 1 a second = 80."},
        {BY_BEST("class"), "S1/finish,2,30,wrong=1\n", NULL, false, 2,
         "Measured 30 s, wrong: the maximum, but there is no best that it follows from. Counts as missed: 100."},
        {BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\n", NULL, false, 3,
         "No reading: missed, 0 (there is no best that the maximum follows from)."},
        {BY_BEST("class") MISSED_MAXIMUM, "S1/finish,2,40,\n", "retire,1,,,clutch\n", false, 1,
         "Out of the event here: charged as missed, 70 (as at the maximum 1 min 10 s (the best of the class, 40 s (car 2), + 30 s); 70 at 1 a second = 70), in the day's absence and not in the test."},
        {FAULTLESS, "S1/finish,1,40,cone=3\nS1/finish,2,44,\n", NULL, false, 1,
         "Measured 40 s; behind the best without faults, 44 s (car 2), which it beats: 0 s; 0 at 1 a second + 3 × cone at 5 = 15."},
        {FAULTLESS ", 'scope': 'class'", "S1/finish,1,40,cone=3\nS1/finish,2,44,cone=1\n", NULL,
         false, 2,
         "Measured 44 s; behind the best of the class (none is without faults), 40 s (car 1): 4 s; 4 at 1 a second + 1 × cone at 5 = 9."},
        {RESULT ", 'method': 'behind-best', 'penalty': {'cap': 4}",
         "S1/finish,1,60,\nS1/finish,2,50,cone=3\n", NULL, false, 2,
         "Measured 50 s; 50 at 1 a second + 3 × cone at 5 = 65; behind the best result, 60 (car 1): 5, held to the cap of 4."},
        {RESULT BY_BEST("overall"), "S1/finish,1,60,\nS1/finish,3,50,cone=9;line=1\n", NULL, false,
         3,
         "Measured 50 s; 50 at 1 a second + 9 × cone at 5 + 1 × line at 1 fail = 95, held to the maximum 90 (the best result, 60 (car 1), + 30 for 30 s), and 1 fail for faults."},
        {RESULT BY_BEST("overall") ", 'method': 'behind-best'",
         "S1/finish,1,60,\nS1/finish,2,50,wrong=1\n", NULL, false, 2,
         "Measured 50 s, wrong: the maximum 90 (the best result, 60 (car 1), + 30 for 30 s), and no other fault is added; behind the best result, 60 (car 1): 30."},
        {RESULT BY_BEST("overall") MISSED_MAXIMUM, "S1/finish,1,60,\n", NULL, false, 2,
         "No reading: missed, 90 (as at the maximum 90 (the best result, 60 (car 1), + 30 for 30 s))."},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct scene scene;
        open_test(&scene, rows[i].test, rows[i].readings, rows[i].decisions, rows[i].live);
        char *why = scene_why(&scene, rows[i].car, "S1");
        assert_string_equal(why, rows[i].why);
        free(why);
        scene_close(&scene);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_best_attempt_has_the_fewest_fails_then_the_least_cost),
        cmocka_unit_test(of_attempts_of_equal_cost_the_shortest_counts),
        cmocka_unit_test(a_test_is_missed_once_no_attempt_can_be_completed),
        cmocka_unit_test(the_last_attempt_is_that_of_those_completed),
        cmocka_unit_test(a_sum_of_attempts_has_what_is_missed_in_it),
        cmocka_unit_test(a_car_that_is_out_at_some_attempts_has_missed_those),
        cmocka_unit_test(a_maximum_is_the_best_of_the_scope_and_so_much),
        cmocka_unit_test(what_is_missed_may_cost_the_maximum),
        cmocka_unit_test(the_best_without_faults_goes_before_a_faster_one_with_some),
        cmocka_unit_test(a_best_result_is_that_of_time_and_faults_together),
        cmocka_unit_test(a_best_is_that_of_all_cars_each_with_its_own_values),
        cmocka_unit_test(the_sentence_tells_each_attempt_and_each_best),
        cmocka_unit_test(the_time_of_a_test_is_that_of_the_attempt_that_counts_or_their_sum),
    };
    RUN_BEHAVIOURS(tests);
}
