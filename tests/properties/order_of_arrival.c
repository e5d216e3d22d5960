/* SPDX-License-Identifier: MIT */
/* The same facts give the same bytes, in whatever order they come and however often. */
#include <stdlib.h>

#include "base/err.h"
#include "dice.h"
#include "event/export.h"
#include "replay.h"
#include "testing.h"

static const struct viewpoint looks[] = {
    {.live = false}, {.live = true}, {.live = true, .public_view = true}};

static size_t *shuffled(struct dice *dice, int count) {
    size_t *order = malloc(((size_t)count + 1) * sizeof *order);
    assert_non_null(order);
    dice_shuffle(dice, order, (size_t)count);
    return order;
}

/* Replays a folder in `rounds` random orders. */
static void check_orders(const char *path, int rounds, int cars) {
    struct replay replay;
    struct dice dice = {1911};
    replay_open(&replay, path);
    for (int round = 0; round < rounds; round++) {
        size_t *readings = shuffled(&dice, readings_count(replay.model->readings));
        size_t *decisions = shuffled(&dice, decisions_count(replay.model->decisions));
        struct model *model = replay_in_order(&replay, readings, decisions);
        for (size_t i = 0; i < COUNT_OF(looks); i++)
            assert_events_show_the_same(replay.model, model, looks[i], cars, path);
        model_free(model);
        free(readings);
        free(decisions);
    }
    replay_close(&replay);
}

static void check_case_orders(const char *path, void *context) {
    (void)context;
    check_orders(path, 2, -1);
}

BEHAVIOUR(any_order_of_facts_shows_the_same_in_the_demo) {
    check_orders(DEMO_FOLDER, 2, 7);
}

BEHAVIOUR(any_order_of_facts_shows_the_same_in_every_case) {
    assert_true(each_case_folder(check_case_orders, NULL) >= 70);
}

static void after_each_day_too(const char *path) {
    struct replay replay;
    struct dice dice = {1918};
    replay_open(&replay, path);
    size_t *readings = shuffled(&dice, readings_count(replay.model->readings));
    struct model *model = replay_in_order(&replay, readings, NULL);
    const struct rules *rules = replay.model->rules;
    for (int i = 0; i < rules->item_count; i++) {
        bool last = i + 1 == rules->item_count || rules->items[i + 1].day != rules->items[i].day;
        struct viewpoint viewpoint = {.live = true, .after = rules->items[i].id};
        if (last)
            assert_events_show_the_same(replay.model, model, viewpoint, 20, rules->items[i].id);
    }
    model_free(model);
    free(readings);
    replay_close(&replay);
}

BEHAVIOUR(any_order_shows_the_same_after_each_day_of_the_demo) {
    after_each_day_too(DEMO_FOLDER);
}

/* Decisions that meet at one place: two of each kind for one car, point or item. */
static const char *const twins[] = {"retire,1,A,,engine,a,",
                                    "retire,1,A,,engine again,b,",
                                    "retire,2,,,never came,c,",
                                    "retire,2,B,,brakes,d,",
                                    "penalty,3,,5,noise,e,",
                                    "penalty,3,,5,noise again,f,",
                                    "penalty,3,,2,late papers,g,",
                                    "notional,3,B,1,clock,h,",
                                    "notional,3,B,2,clock,i,",
                                    "waive,3,B,,gate,j,",
                                    "cancel,,C,,flood,k,",
                                    "cancel,,C,,fire,l,",
                                    "allowance,4,A,60,cattle,m,",
                                    "allowance,4,A,90,cattle,n,",
                                    "disqualify,5,,,tow,o,",
                                    "disqualify,5,,,short cut,p,",
                                    "retire,4,A,,gearbox,q,",
                                    "rejoin,4,,2,mended,r,",
                                    "retire,4,D,,gearbox,s,",
                                    "waive,6,D,,fog,t,2027-05-21T10:00:00Z",
                                    "waive,6,D,,mist,u,",
                                    "notional,6,D,3,fog,v,2027-05-21T11:00:00+01:00",
                                    "notional,6,D,4,mist,w,2027-05-21T10:00:00Z"};

BEHAVIOUR(any_order_of_decisions_that_meet_shows_the_same) {
    static const char rules[] = RULES_OF_TWO_DAYS(
        FIVA, "{}",
        "{'day': 1, 'id': 'A', 'kind': 'time-control', 'target': '00:45:00'}, {'day': 1, "
        "'id': 'B', 'kind': 'passage-control', 'penalty': {'missed': 7}}, {'day': 1, "
        "'id': 'C', 'kind': 'passage-control', 'penalty': {'missed': 9}}, {'day': 2, "
        "'id': 'D', 'kind': 'passage-control', 'penalty': {'missed': 11}}");
    static const char entries[] = "number,driver,navigator,make,model,year\n"
                                  "1,A,,M,X,1925\n2,B,,M,X,1925\n3,C,,M,X,1925\n4,D,,M,X,1925\n"
                                  "5,E,,M,X,1925\n6,F,,M,X,1925\n";
    struct dice dice = {1931};
    struct model *first = NULL;
    for (int round = 0; round < 50; round++) {
        size_t order[COUNT_OF(twins)];
        struct textbuf decisions = {0};
        dice_shuffle(&dice, order, COUNT_OF(twins));
        textbuf_puts(&decisions, "kind,car,point,value,reason,id,at\n");
        for (size_t i = 0; i < COUNT_OF(twins); i++)
            textbuf_printf(&decisions, "%s\n", twins[order[i]]);
        struct event_text texts = {.rules = rules,
                                   .entries = entries,
                                   .readings = "point,car,time\nA,1,08:46\nA,3,08:48\nA,4,08:49\n"
                                               "A,5,08:50\nA,6,08:51\nD,4,10:00\n",
                                   .decisions = textbuf_text(&decisions)};
        struct model *model = event_text_good(&texts);
        if (first == NULL) {
            first = model;
        } else {
            for (size_t i = 0; i < COUNT_OF(looks); i++)
                assert_events_show_the_same(first, model, looks[i], -1, "twins");
            model_free(model);
        }
        textbuf_clear(&decisions);
    }
    model_free(first);
}

/* Everything once more, in another order, must be a duplicate and change nothing. */
static void check_repeats(const char *path, int cars) {
    struct replay replay;
    struct dice dice = {1930};
    replay_open(&replay, path);
    struct model *model = replay_in_order(&replay, NULL, NULL);
    int count = readings_count(replay.model->readings);
    size_t *order = shuffled(&dice, count);
    for (int i = 0; i < count; i++)
        replay_reading(model, replay.model, order[i], true);
    assert_int_equal(readings_count(model->readings), count);
    free(order);
    count = decisions_count(replay.model->decisions);
    for (int i = 0; i < count; i++)
        replay_decision(model, replay.model, (size_t)i, true);
    assert_int_equal(decisions_count(model->decisions), count);
    replay_settle(model);
    assert_events_show_the_same(replay.model, model, looks[0], cars, path);
    assert_events_show_the_same(replay.model, model, looks[1], cars, path);
    model_free(model);
    replay_close(&replay);
}

static void check_case_repeats(const char *path, void *context) {
    (void)context;
    check_repeats(path, -1);
}

BEHAVIOUR(sending_everything_twice_changes_nothing_in_the_demo) {
    check_repeats(DEMO_FOLDER, 10);
}

BEHAVIOUR(sending_everything_twice_changes_nothing_in_every_case) {
    assert_true(each_case_folder(check_case_repeats, NULL) >= 70);
}

/* What was read, written as files and read again, is the same event; and, but for refused rows,
 * the same files once more. */
static void check_export(const char *path, int cars) {
    struct replay replay;
    struct textbuf readings = {0};
    struct textbuf decisions = {0};
    struct textbuf again = {0};
    struct problems problems = {0};
    struct model *model = NULL;
    replay_open(&replay, path);
    assert_int_equal(export_readings(replay.model->readings, &readings), ERR_OK);
    assert_int_equal(export_decisions(replay.model->decisions, &decisions), ERR_OK);
    struct event_files files = replay.folder.files;
    files.readings = (struct file_text){readings.bytes, readings.len};
    files.decisions = (struct file_text){decisions.bytes, decisions.len};
    assert_int_equal(model_read(&files, &problems, &model), ERR_OK);
    assert_int_equal(problems.by_level[PROBLEM_REFUSED], 0);
    assert_events_show_the_same(replay.model, model, looks[0], cars, path);
    assert_events_show_the_same(replay.model, model, looks[2], cars, path);
    assert_int_equal(export_readings(model->readings, &again), ERR_OK);
    assert_same_show(&readings, &again, path);
    textbuf_reset(&again);
    assert_int_equal(export_decisions(model->decisions, &again), ERR_OK);
    assert_same_show(&decisions, &again, path);
    model_free(model);
    problems_clear(&problems);
    textbuf_clear(&readings);
    textbuf_clear(&decisions);
    textbuf_clear(&again);
    replay_close(&replay);
}

static void check_case_export(const char *path, void *context) {
    (void)context;
    check_export(path, -1);
}

BEHAVIOUR(what_was_exported_scores_the_same_in_the_demo) {
    check_export(DEMO_FOLDER, 10);
}

BEHAVIOUR(what_was_exported_scores_the_same_in_every_case) {
    assert_true(each_case_folder(check_case_export, NULL) >= 70);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(any_order_of_facts_shows_the_same_in_the_demo),
        cmocka_unit_test(any_order_of_facts_shows_the_same_in_every_case),
        cmocka_unit_test(any_order_of_decisions_that_meet_shows_the_same),
        cmocka_unit_test(any_order_shows_the_same_after_each_day_of_the_demo),
        cmocka_unit_test(sending_everything_twice_changes_nothing_in_the_demo),
        cmocka_unit_test(sending_everything_twice_changes_nothing_in_every_case),
        cmocka_unit_test(what_was_exported_scores_the_same_in_the_demo),
        cmocka_unit_test(what_was_exported_scores_the_same_in_every_case),
    };
    RUN_BEHAVIOURS(tests);
}
