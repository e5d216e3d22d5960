/* SPDX-License-Identifier: MIT */
#include "office/doubts.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "scene.h"
#include "testing.h"

/* From the start at 08:01, 08:02 and 08:05: 30 km to TC1 in 45 minutes, then a test. */
#define ROUTE                                                                                      \
    "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', 'distance': 30}, "      \
    "{'day': 1, 'id': 'PC1', 'kind': 'passage-control'}, "                                         \
    "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'distance': 10, 'start': 'control', "            \
    "'start_after': '00:15', 'speeds': [{'from': 0, 'speed': 40}], 'checks': [{'at': 4}, "         \
    "{'at': 8}]}, "                                                                                \
    "{'day': 2, 'id': 'TC2', 'kind': 'time-control', 'target': '00:10:00'}"
#define RATES                                                                                      \
    "{'defaults': {'time-control': {'precision': 'minute', 'late': 10, 'early': 60}, "             \
    "'passage-control': {'missed': 300}}}"

#define CLEAN "TC1,1,08:46,,\nPC1,1,,,\nTC1,2,08:48,,\nPC1,2,,,\nTC1,5,08:52,,\nPC1,5,,,\n"

/* "kind car point(against) places: why" for each, a line each. The caller frees it. */
static char *found_in(const struct event_text *texts) {
    struct scene scene;
    struct doubts *doubts = NULL;
    struct textbuf b = {0};
    scene_open(&scene, texts, (struct viewpoint){.live = true});
    char *before = scene_standings(&scene, BY_OVERALL, FORM_JSON);
    assert_int_equal(doubts_new(scene.scores, &doubts), ERR_OK);
    assert_int_equal(doubts_evaluate(doubts), ERR_OK);
    for (int i = 0; i < doubts->count; i++) {
        const struct doubt *d = &doubts->list[i];
        const struct rules *rules = scene.event->rules;
        textbuf_printf(&b, "%s %d %s(%s) %d%s: %s\n", doubt_word(d->kind),
                       (int)doubt_number(scene.event, d), rules->points[d->point].id,
                       d->against < 0 ? "" : rules->points[d->against].id, d->places,
                       doubt_is_open(d) ? "!" : "", d->why);
    }
    char *after = scene_standings(&scene, BY_OVERALL, FORM_JSON);
    assert_string_equal(before, after);
    free(before);
    free(after);
    doubts_free(doubts);
    scene_close(&scene);
    textbuf_puts(&b, "");
    assert_false(b.failed);
    return b.bytes;
}

/* The same of readings behind the header point,car,time,id,flags. */
static char *found_by(const char *rules_text, const char *readings, const char *decisions) {
    char rows[2048] = "point,car,time,id,flags\n";
    struct event_text texts = {.rules = rules_text, .readings = rows, .decisions = decisions};
    assert_true(strlen(readings) < 1900);
    strcat(rows, readings);
    return found_in(&texts);
}

static char *found(const char *readings, const char *decisions) {
    return found_by(RULES_OF_TWO_DAYS(FIVA, RATES, ROUTE), readings, decisions);
}

static void check(const char *readings, const char *decisions, const char *expected) {
    char *got = found(readings, decisions);
    assert_string_equal(got, expected);
    free(got);
}

BEHAVIOUR(readings_in_order_raise_no_doubt) {
    check(CLEAN, NULL, "");
    check(CLEAN "R1/start,1,09:01:00,,\nR1/1,1,09:07:00,,\nR1/2,1,09:13:00,,\nTC2,1,09:11,,\n",
          NULL, "");
}

/* Cars 1, 2 and 5 are 0, 10 and 20 behind; were car 1 at 08:49, it would be last. */
BEHAVIOUR(differing_readings_are_told_with_what_the_other_would_move) {
    check("TC1,1,08:46,a,\nTC1,1,08:49,b,\nPC1,1,,,\nTC1,2,08:48,,\nPC1,2,,,\nTC1,5,08:52,,\n"
          "PC1,5,,,\n",
          NULL, "differ 1 TC1() 3!: Readings differ; a counts: it was made first.\n");
    check("TC1,1,08:46,a,\nTC1,1,08:46:30,b,\nPC1,1,,,\nTC1,2,08:48,,\nPC1,2,,,\n", NULL,
          "differ 1 TC1() 0!: Readings differ; a counts: it was made first.\n");
    check("TC1,1,08:46,a,\nTC1,1,08:46,b,\n", NULL, "");
}

BEHAVIOUR(a_ruling_on_the_point_settles_it) {
    check("TC1,1,08:46,a,\nTC1,1,08:49,b,\n", "kind,car,point,value,reason\nwaive,1,TC1,,sheep\n",
          "differ 1 TC1() 0: Readings differ; a counts: it was made first.\n");
}

BEHAVIOUR(a_reading_while_out_is_evaluated_as_if_the_car_were_not) {
    check(CLEAN "TC2,1,09:11,,\n", "kind,car,point,value,reason\nretire,1,PC1,,axle\n",
          "out 1 TC2() 3!: Read while out of the event; it does not count.\n");
}

BEHAVIOUR(a_clock_that_runs_backwards_is_told_with_both_times) {
    char *got = found("TC1,1,08:46,,\nPC1,1,08:40,p,\n", NULL);
    assert_string_equal(got, "order 1 PC1(TC1) 0: 08:40:00 is before 08:46:00 at TC1.\n");
    free(got);
}

BEHAVIOUR(an_average_above_the_published_limit_is_told) {
    /* 30 km in 36 minutes are 50 km/h; in 35 they are more. */
    check("TC1,1,08:37,,\n", NULL, "");
    check(
        "TC1,1,08:36,,\n", NULL,
        "fast 1 TC1() 1: 30 km from the start in 35 min, an average of 51.428 km/h: above the published limit of 50 km/h.\n");
    check(
        "TC1,1,08:46,,\nPC1,1,,,\nR1/start,1,08:56:00,,\n", NULL,
        "fast 1 R1/start(TC1) 0: 10 km from TC1 in 10 min, an average of 60 km/h: above the published limit of 50 km/h.\n");
    check(
        "TC1,1,08:46,,\nPC1,1,,,\nR1/start,1,09:01:00,,\nR1/1,1,09:05:00,,\n"
        "R1/2,1,09:05:00,,\n",
        NULL,
        "fast 1 R1/1(R1/start) 0: 4 km from R1/start in 4 min, an average of 60 km/h: above the published limit of 50 km/h.\n"
        "fast 1 R1/2(R1/1) 0: 4 km from R1/1 in 0 s: above the published limit of 50 km/h.\n");
    /* What was not read is measured from nothing. */
    check("R1/start,1,08:56:00,,\n",
          "kind,car,point,value,reason\nwaive,1,TC1,,x\n"
          "waive,1,PC1,,x\n",
          "missing 1 TC1(R1/start) 0: Not read here, but at R1/start further on.\n"
          "missing 1 PC1(R1/start) 0: Not read here, but at R1/start further on.\n");
}

/* Live, nothing is charged yet; once the point is closed car 1 is last, and waived it is first. */
BEHAVIOUR(a_point_missing_between_others_is_evaluated_as_if_waived) {
    const char *rows = "TC1,1,08:46,,\nTC2,1,09:11,,\nTC1,2,08:48,,\nPC1,2,,,\nTC1,5,08:52,,\n"
                       "PC1,5,,,\n";
    check(rows, "kind,car,point,value,reason\ncancel,,R1,,flood\n",
          "missing 1 PC1(TC2) 0: Not read here, but at TC2 further on.\n"
          "missing 1 R1/1(TC2) 0: Not read here, but at TC2 further on.\n"
          "missing 1 R1/2(TC2) 0: Not read here, but at TC2 further on.\n");
    check(rows, "kind,car,point,value,reason\ncancel,,R1,,flood\nclose,,PC1,,last car is in\n",
          "missing 1 PC1(TC2) 3: Not read here, but at TC2 further on.\n"
          "missing 1 R1/1(TC2) 0: Not read here, but at TC2 further on.\n"
          "missing 1 R1/2(TC2) 0: Not read here, but at TC2 further on.\n");
}

BEHAVIOUR(a_flag_of_the_desk_is_a_doubt) {
    check("TC1,1,08:46,a,number unsure\n", NULL,
          "flag 1 TC1() 1: The desk put a flag on it: number unsure.\n");
}

BEHAVIOUR(a_track_that_no_marshal_bears_out_is_a_doubt) {
    check("TC1,1,08:46,a,track\n", NULL,
          "flag 1 TC1() 1: A track alone tells it; no marshal read it.\n");
    check("TC1,1,08:46,a,track thin\n", NULL,
          "flag 1 TC1() 1: A track alone tells it; no marshal read it. A flag was put on it: track "
          "thin.\n");
    check("TC1,1,08:46,a,\nTC1,1,08:46:30,b,track\n", NULL, "");
    check(
        "TC1,1,08:46,a,\nTC1,1,08:47,b,track\n", NULL,
        "differ 1 TC1() 0!: Readings differ; a counts: a marshal's clock counts before a track.\n");
}

BEHAVIOUR(a_track_whose_clock_counts_is_none) {
    static const char route[] = "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'clock': 'track', "
                                "'target': '00:45:00'}";
    const char *rules = RULES_OF_TWO_DAYS(FIVA, RATES, "%s");
    struct textbuf b = {0};
    textbuf_printf(&b, rules, route);
    char *told = found_by(textbuf_text(&b), "TC1,1,08:46,a,track\n", NULL);
    assert_string_equal(told, "");
    free(told);
    told = found_by(textbuf_text(&b), "TC1,1,08:46,a,track\nTC1,1,08:47,b,\n", NULL);
    assert_string_equal(told,
                        "differ 1 TC1() 0!: Readings differ; a counts: here the track's clock "
                        "counts before a marshal's.\n");
    free(told);
    textbuf_clear(&b);
}

/* As found(), of readings of a desk behind point,car,time,elapsed,faults,id,replaces,void,reason.
 */
static char *found_at_a_desk(const char *rows) {
    static const char rules[] =
        RULES(FIVA, "{}",
              "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00', "
              "'penalty': {'late': 0, 'early': 0}}, "
              "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'faults': {'cone': 5}}");
    struct textbuf file = {0};
    textbuf_puts(&file, "point,car,time,elapsed,faults,id,replaces,void,reason,flags,desk\n");
    for (const char *p = rows; *p != '\0';) {
        int len = (int)strcspn(p, "\n");
        textbuf_printf(&file, "%.*s,0a1b2c3d\n", len, p);
        p += len + 1;
    }
    struct event_text texts = {.rules = rules, .unassigned = textbuf_text(&file)};
    char *got = found_in(&texts);
    textbuf_clear(&file);
    return got;
}

BEHAVIOUR(what_waits_for_a_car_is_told) {
    static const struct {
        const char *rows, *doubts;
    } cases[] = {
        {"TC1,417,08:46,,,a,,,,\n",
         "unknown-car 417 TC1() 0: Car 417 is not in the entry list; it counts for nobody until it "
         "is.\n"},
        {"TC1,,08:46,,,a,,,,\n",
         "no-car 0 TC1() 0: A time without a number; it counts for nobody until it has one.\n"},
        {"TC1,1,08:46,,,a,,,,typed\nTC1,,08:47,,,b,,,,\nTC1,417,08:46,,,c,,,,\n",
         "flag 1 TC1() 1: The desk put a flag on it: typed.\n"
         "unknown-car 417 TC1() 0: Car 417 is not in the entry list; it counts for nobody until it "
         "is.\n"
         "no-car 0 TC1() 0: A time without a number; it counts for nobody until it has one.\n"},
        {"TC1,417,08:46,,,a,,,,\nTC1,417,,,,v,a,yes,no such car,\n", ""},
        {"TC1,1,08:46,,,a,,,,rehearsal\nTC1,417,08:46,,,b,,,,rehearsal\n", ""},
        {"TC1,,08:46,,,a,,,,\nTC1,1,08:46,,,b,a,,number added,\n", ""},
        {"TC1,,08:46,,,a,,,,\nTC1,417,08:46,,,b,a,,number added,\n",
         "unknown-car 417 TC1() 0: Car 417 is not in the entry list; it counts for nobody until it "
         "is.\n"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        char *got = found_at_a_desk(cases[i].rows);
        assert_string_equal(got, cases[i].doubts);
        free(got);
    }
}

BEHAVIOUR(a_time_that_was_given_to_two_cars_is_told) {
    static const char given[] = "TC1,,08:46,,,a,,,,\nTC1,1,08:46,,,b,a,,number added,\n"
                                "TC1,2,08:46,,,c,a,,number added,\n";
    static const struct {
        const char *more, *doubts;
    } cases[] = {
        {"", "twice 2 TC1() 1: One time without a number was given to this car and to car 1.\n"},
        {"TC1,1,,,,v,b,yes,wrong number,\n", ""},
        {"TC1,2,,,,v,c,yes,wrong number,\n", ""},
        {"TC1,5,08:46,,,d,b,,wrong number,\n",
         "twice 2 TC1() 1: One time without a number was given to this car and to car 5.\n"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        struct textbuf rows = {0};
        textbuf_printf(&rows, "%s%s", given, cases[i].more);
        char *got = found_at_a_desk(textbuf_text(&rows));
        assert_string_equal(got, cases[i].doubts);
        free(got);
        textbuf_clear(&rows);
    }
}

BEHAVIOUR(a_fault_that_the_test_does_not_name_is_told) {
    char *got = found_at_a_desk(
        "TC1,1,08:46,,,t,,,,\nS1/start,1,09:00:00,,,s,,,,\nS1/finish,1,,61.5,flag=1;cone=1,a,,,,\n");
    assert_string_equal(got, "unknown-fault 1 S1/finish() 0: It tells a fault that S1 does not "
                             "name, which costs nothing: flag=1;cone=1.\n");
    free(got);
}

BEHAVIOUR(what_moves_places_comes_first) {
    check("TC1,1,08:46,a,\nTC1,1,08:46:30,b,\nPC1,1,,,\nTC1,2,08:47,c,\nTC1,2,08:52,d,\n"
          "PC1,2,,,\nTC1,5,08:52,,\nPC1,5,,,\n",
          NULL,
          "differ 2 TC1() 2!: Readings differ; c counts: it was made first.\n"
          "differ 1 TC1() 0!: Readings differ; a counts: it was made first.\n");
}

BEHAVIOUR(evidence_stands_side_by_side) {
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, RATES, ROUTE),
                               .readings = "point,car,time,id,by,desk,replaces,reason\n"
                                           "TC1,1,08:46,a,Ann,d1,,\nTC1,1,08:49,b,,,,\n"
                                           "TC1,1,08:48,c,,,b,misread\n"};
    struct scene scene;
    struct doubts *doubts = NULL;
    struct textbuf b = {0};
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    assert_int_equal(doubts_new(scene.scores, &doubts), ERR_OK);
    assert_int_equal(doubts_evaluate(doubts), ERR_OK);
    doubts_write_json(&b, doubts);
    assert_non_null(strstr(
        textbuf_text(&b),
        "\"kind\":\"differ\",\"car\":1,\"crew\":[\"Ann Alder\",\"Bob Alder\"],\"point\":\"TC1\","
        "\"against\":null,\"why\":\"Readings differ; a counts: it was made first.\",\"open\":true,"
        "\"ruled\":false,\"readings\":[{\"id\":\"c\",\"counts\":false,\"time\":\"08:48\",\"extra\":"
        "{}},{\"id\":\"a\",\"counts\":true,\"time\":\"08:46\",\"by\":\"Ann\",\"extra\":{\"desk\":"
        "\"d1\"}}],\"readings_count\":2,\"said\":4,\"places\":"));
    textbuf_clear(&b);
    doubts_free(doubts);
    scene_close(&scene);
}

/* `count` readings of car 1 at TC1, each of another time, behind the header. */
static char *many_readings(int count) {
    struct textbuf b = {0};
    textbuf_puts(&b, "point,car,time,id,flags\n");
    for (int i = 0; i < count; i++)
        textbuf_printf(&b, "TC1,1,%02d:%02d:%02d,r%d,\n", 8 + i / 3600, i / 60 % 60, i % 60, i);
    assert_false(b.failed);
    return b.bytes;
}

BEHAVIOUR(of_very_many_values_some_are_tried_and_both_ends) {
    struct scene scene;
    struct doubts *doubts = NULL;
    struct textbuf b = {0};
    char *rows = many_readings(20000);
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, RATES, ROUTE), .readings = rows};
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    assert_int_equal(doubts_new(scene.scores, &doubts), ERR_OK);
    assert_int_equal(doubts->count, 1);
    assert_int_equal(doubts->evaluated, 0);
    assert_int_equal(doubts_evaluate(doubts), ERR_OK);
    assert_int_equal(doubts->scorings, DOUBT_VALUES_MAX);
    assert_string_equal(doubts->list[0].reading->id, "r0");
    doubts_write_json(&b, doubts);
    assert_non_null(strstr(textbuf_text(&b), "],\"readings_count\":20000,\"said\":20000,"));
    int listed = 0;
    for (const char *p = textbuf_text(&b); (p = strstr(p, "{\"id\":\"r")) != NULL; p++)
        listed++;
    assert_int_equal(listed, DOUBT_READINGS_LISTED);
    assert_non_null(strstr(textbuf_text(&b), "{\"id\":\"r0\",\"counts\":true"));
    assert_non_null(strstr(textbuf_text(&b), "{\"id\":\"r19999\",\"counts\":false"));
    textbuf_clear(&b);
    doubts_free(doubts);
    scene_close(&scene);
    free(rows);
}

/* Each car at each point read twice, and differently. */
BEHAVIOUR(of_very_many_doubts_the_first_are_evaluated_and_the_others_counted) {
    struct scene scene;
    struct doubts *doubts = NULL;
    struct textbuf entries = {0};
    struct textbuf rows = {0};
    textbuf_puts(&entries, "number,driver,navigator,make,model,year\n");
    textbuf_puts(&rows, "point,car,time\n");
    for (int car = 1; car <= 150; car++) {
        textbuf_printf(&entries, "%d,A,B,C,D,1930\n", car);
        textbuf_printf(&rows, "TC1,%d,13:00\nTC1,%d,13:01\nTC1,%d,13:02\n", car, car, car);
        textbuf_printf(&rows, "R1/start,%d,14:10\nR1/start,%d,14:11\n", car, car);
    }
    struct event_text texts = {.rules = RULES_OF_TWO_DAYS(FIVA, RATES, ROUTE),
                               .entries = textbuf_text(&entries),
                               .readings = textbuf_text(&rows)};
    scene_open(&scene, &texts, (struct viewpoint){.live = true});
    assert_int_equal(doubts_new(scene.scores, &doubts), ERR_OK);
    /* With PC1 missing for all of them. */
    assert_int_equal(doubts->count, 450);
    for (int i = 0; i < 450; i++)
        assert_int_equal(doubt_is_open(&doubts->list[i]), i < 300);
    for (int i = 0; i < 350; i++)
        doubts->list[i].acknowledged = true; /* of no effect on the open ones */
    assert_int_equal(doubts_evaluate(doubts), ERR_OK);
    assert_int_equal(doubts->count, 400);
    assert_int_equal(doubts->evaluated, DOUBTS_EVALUATED);
    assert_in_range(doubts->scorings, DOUBTS_EVALUATED, DOUBTS_SCORINGS);
    doubts_free(doubts);
    scene_close(&scene);
    textbuf_clear(&entries);
    textbuf_clear(&rows);
}

/* The second attempt may come in another round, behind S2. */
BEHAVIOUR(attempts_are_doubted_among_themselves) {
    static const char rules[] =
        RULES(FIVA, "{}",
              "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'attempts': 2, 'counts': 'sum'}, "
              "{'day': 1, 'id': 'S2', 'kind': 'special-test'}");
    static const struct {
        const char *readings, *decisions, *doubts;
    } rows[] = {
        {"S1/start,1,09:00,,\nS1/finish,1,09:01,,\nS2/start,1,09:10,,\nS2/finish,1,09:11,,\n"
         "S1/start-2,1,09:20,,\nS1/finish-2,1,09:21,,\n",
         NULL, ""},
        {"S1/start,1,09:00,,\nS1/finish,1,09:01,,\nS2/start,1,09:10,,\nS2/finish,1,09:11,,\n", NULL,
         ""},
        {"S1/start,1,09:00,,\nS1/finish,1,09:01,,\nS2/start,1,09:10,,\nS2/finish,1,09:11,,\n",
         "kind,car,point,value,reason\nclose,,S1,,all through\n",
         "missing 1 S1/finish-2(S2/finish) 0: Not read here, but at S2/finish further on.\n"},
        {"S1/start,1,09:20,,\nS1/finish,1,09:21,,\nS1/start-2,1,09:10,,\nS1/finish-2,1,09:25,,\n",
         NULL, "order 1 S1/start-2(S1/finish) 0: 09:10:00 is before 09:21:00 at S1/finish.\n"},
        {"S1/start,1,09:20,,\nS1/start-2,1,09:30,,\nS1/finish-2,1,09:31,,\n", NULL,
         "missing 1 S1/finish(S1/finish-2) 0: Not read here, but at S1/finish-2 further on.\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char *got = found_by(rules, rows[i].readings, rows[i].decisions);
        assert_string_equal(got, rows[i].doubts);
        free(got);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(attempts_are_doubted_among_themselves),
        cmocka_unit_test(readings_in_order_raise_no_doubt),
        cmocka_unit_test(differing_readings_are_told_with_what_the_other_would_move),
        cmocka_unit_test(a_ruling_on_the_point_settles_it),
        cmocka_unit_test(a_reading_while_out_is_evaluated_as_if_the_car_were_not),
        cmocka_unit_test(a_clock_that_runs_backwards_is_told_with_both_times),
        cmocka_unit_test(an_average_above_the_published_limit_is_told),
        cmocka_unit_test(a_point_missing_between_others_is_evaluated_as_if_waived),
        cmocka_unit_test(a_flag_of_the_desk_is_a_doubt),
        cmocka_unit_test(a_track_that_no_marshal_bears_out_is_a_doubt),
        cmocka_unit_test(a_track_whose_clock_counts_is_none),
        cmocka_unit_test(what_waits_for_a_car_is_told),
        cmocka_unit_test(a_time_that_was_given_to_two_cars_is_told),
        cmocka_unit_test(a_fault_that_the_test_does_not_name_is_told),
        cmocka_unit_test(what_moves_places_comes_first),
        cmocka_unit_test(evidence_stands_side_by_side),
        cmocka_unit_test(of_very_many_values_some_are_tried_and_both_ends),
        cmocka_unit_test(of_very_many_doubts_the_first_are_evaluated_and_the_others_counted),
    };
    RUN_BEHAVIOURS(tests);
}
