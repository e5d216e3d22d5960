/* SPDX-License-Identifier: MIT */
/* A correction that is withdrawn, and a decision that is revoked, leave no trace in the result. */
#include <stdio.h>
#include <string.h>

#include "dice.h"
#include "facts.h"
#include "replay.h"
#include "testing.h"

static const struct viewpoint looks[] = {{.live = false}, {.live = true}};

static void put_reading(struct model *model, const char *fields) {
    struct textbuf reason = {0};
    if (reading_put(model->readings, fields, &reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&reason));
    textbuf_clear(&reason);
}

static void put_decision(struct model *model, const char *fields) {
    struct textbuf reason = {0};
    if (decision_put(model->decisions, fields, &reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&reason));
    textbuf_clear(&reason);
}

static void check_same(struct model *a, struct model *b, int cars, const char *what) {
    for (size_t i = 0; i < COUNT_OF(looks); i++)
        assert_events_show_the_same(a, b, looks[i], cars, what);
}

/* A reading of the event and a value that its point takes, in `fields`. */
static const struct reading *some_reading(const struct model *model, struct dice *dice,
                                          char value[64]) {
    int count = readings_count(model->readings);
    const struct reading *r = readings_at(model->readings, (int)dice_below(dice, (size_t)count));
    int64_t minute = dice_between(dice, 0, 59);
    if (r->elapsed != TIME_NONE)
        (void)snprintf(value, 64, "elapsed=%d.5", (int)minute);
    else
        (void)snprintf(value, 64, "time=14:%02d:31", (int)minute);
    return r;
}

/* Withdrawing a correction does not bring the first back: it is as if that had been withdrawn. */
static void check_correction_and_void(const struct replay *replay, int rounds, int cars,
                                      const char *what) {
    struct dice dice = {1945};
    if (readings_count(replay->model->readings) == 0)
        return;
    struct model *corrected = replay_in_order(replay, NULL, NULL);
    struct model *withdrawn = replay_in_order(replay, NULL, NULL);
    for (int i = 0; i < rounds; i++) {
        char value[64];
        char fields[FACT_TEXT_MAX];
        const struct reading *r = some_reading(replay->model, &dice, value);
        const char *point = replay->model->rules->points[r->point].id;
        int number = replay->model->entries->list[r->car].number;
        (void)snprintf(fields, sizeof fields,
                       "point=%s,car=%d,%s,id=p-corr-%d,replaces=%s,reason=misread", point, number,
                       value, i, r->id);
        put_reading(corrected, fields);
        (void)snprintf(fields, sizeof fields,
                       "point=%s,car=%d,id=p-void-%d,replaces=p-corr-%d,void=yes,reason=mistake",
                       point, number, i, i);
        put_reading(corrected, fields);
        (void)snprintf(fields, sizeof fields,
                       "point=%s,car=%d,id=p-void-%d,replaces=%s,void=yes,reason=mistake", point,
                       number, i, r->id);
        put_reading(withdrawn, fields);
    }
    check_same(corrected, withdrawn, cars, what);
    model_free(corrected);
    model_free(withdrawn);
}

/* A reading that replaces nothing and is withdrawn: as if neither had come. The withdrawal may
 * come first. */
static void check_reading_and_void(const struct replay *replay, int rounds, int cars,
                                   const char *what) {
    struct dice dice = {1960};
    if (readings_count(replay->model->readings) == 0)
        return;
    struct model *model = replay_in_order(replay, NULL, NULL);
    for (int i = 0; i < rounds; i++) {
        char value[64];
        char reading[FACT_TEXT_MAX];
        char withdrawal[FACT_TEXT_MAX];
        const struct reading *r = some_reading(replay->model, &dice, value);
        const char *point = replay->model->rules->points[r->point].id;
        int number = replay->model->entries->list[r->car].number;
        bool first = dice_below(&dice, 2) == 0;
        (void)snprintf(reading, sizeof reading,
                       "point=%s,car=%d,%s,id=p-new-%d,at=1970-01-01T00:00:00Z", point, number,
                       value, i);
        (void)snprintf(withdrawal, sizeof withdrawal,
                       "point=%s,car=%d,id=p-void-%d,replaces=p-new-%d,void=yes,reason=mistake",
                       point, number, i, i);
        put_reading(model, first ? withdrawal : reading);
        put_reading(model, first ? reading : withdrawal);
    }
    check_same(replay->model, model, cars, what);
    model_free(model);
}

/* Each kind of decision, revoked. */
static void check_decision_and_revoke(const struct replay *replay, int cars, const char *what) {
    const struct rules *rules = replay->model->rules;
    int number = replay->model->entries->list[0].number;
    struct model *model = replay_in_order(replay, NULL, NULL);
    char fields[FACT_TEXT_MAX];
    int count = 0;
    for (int i = 0; i < rules->item_count; i++) {
        const char *id = rules->items[i].id;
        (void)snprintf(fields, sizeof fields, "kind=waive,car=%d,point=%s,reason=r,id=p-%d", number,
                       id, count++);
        put_decision(model, fields);
        (void)snprintf(fields, sizeof fields,
                       "kind=notional,car=%d,point=%s,value=17,reason=r,id=p-%d", number, id,
                       count++);
        put_decision(model, fields);
        (void)snprintf(fields, sizeof fields, "kind=retire,car=%d,point=%s,reason=r,id=p-%d",
                       number, id, count++);
        put_decision(model, fields);
        (void)snprintf(fields, sizeof fields, "kind=cancel,point=%s,reason=r,id=p-%d", id, count++);
        put_decision(model, fields);
        (void)snprintf(fields, sizeof fields, "kind=close,point=%s,reason=r,id=p-%d", id, count++);
        put_decision(model, fields);
    }
    (void)snprintf(fields, sizeof fields, "kind=disqualify,car=%d,reason=r,id=p-%d", number,
                   count++);
    put_decision(model, fields);
    (void)snprintf(fields, sizeof fields, "kind=penalty,car=%d,value=99,reason=r,id=p-%d", number,
                   count++);
    put_decision(model, fields);
    (void)snprintf(fields, sizeof fields, "kind=rejoin,car=%d,value=1,reason=r,id=p-%d", number,
                   count++);
    put_decision(model, fields);
    for (int i = 0; i < count; i++) {
        (void)snprintf(fields, sizeof fields, "kind=revoke,value=p-%d,reason=r", i);
        put_decision(model, fields);
    }
    replay_settle(model);
    check_same(replay->model, model, cars, what);
    model_free(model);
}

static void check_folder(const char *path, int rounds, int cars) {
    struct replay replay;
    replay_open(&replay, path);
    check_correction_and_void(&replay, rounds, cars, path);
    check_reading_and_void(&replay, rounds, cars, path);
    check_decision_and_revoke(&replay, cars, path);
    replay_close(&replay);
}

static void check_case(const char *path, void *context) {
    (void)context;
    check_folder(path, 1, -1);
}

BEHAVIOUR(what_is_withdrawn_or_revoked_leaves_no_trace_in_the_demo) {
    check_folder(DEMO_FOLDER, 100, 10);
}

BEHAVIOUR(what_is_withdrawn_or_revoked_leaves_no_trace_in_any_case) {
    assert_true(each_case_folder(check_case, NULL) >= 70);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_withdrawn_or_revoked_leaves_no_trace_in_the_demo),
        cmocka_unit_test(what_is_withdrawn_or_revoked_leaves_no_trace_in_any_case),
    };
    RUN_BEHAVIOURS(tests);
}
