/* SPDX-License-Identifier: MIT */
/* Closing a live event point by point ends at the final result. */
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "dice.h"
#include "facts.h"
#include "replay.h"
#include "testing.h"

static void close_at(struct model *model, const char *point, int number) {
    char fields[FACT_TEXT_MAX];
    struct textbuf reason = {0};
    (void)snprintf(fields, sizeof fields, "kind=close,point=%s,reason=all through,id=p-%d", point,
                   number);
    if (decision_put(model->decisions, fields, &reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&reason));
    textbuf_clear(&reason);
    replay_settle(model);
}

/* How many scored points still await something, over all cars. */
static int awaited(struct model *model) {
    struct scene scene;
    int sum = 0;
    scene_of(&scene, &model->event, (struct viewpoint){.live = true});
    for (int car = 0; car < model->entries->count; car++)
        sum += scene.scores->cars[car].awaited;
    scene_close(&scene);
    return sum;
}

static const char *status_of(struct model *model) {
    struct scene scene;
    scene_of(&scene, &model->event, (struct viewpoint){.live = true});
    const char *status = view_status(scene.view);
    scene_close(&scene);
    return status;
}

/* Closes scored points in some order. What is awaited never grows; the last one leaves nothing
 * awaited, and the pages of the end, "provisional" included. */
static void check_points(const struct replay *replay, int steps_looked_at, int cars,
                         const char *what) {
    const struct rules *rules = replay->model->rules;
    struct model *model = replay_in_order(replay, NULL, NULL);
    struct dice dice = {1934};
    size_t *order = malloc((size_t)rules->point_count * sizeof *order);
    assert_non_null(order);
    dice_shuffle(&dice, order, (size_t)rules->point_count);
    int before = awaited(model);
    for (int i = 0; i < rules->point_count; i++) {
        const char *id = rules->points[order[i]].id;
        close_at(model, id, i);
        if (i % steps_looked_at != 0)
            continue;
        int now = awaited(model);
        if (now > before)
            fail_msg("%s: closing %s raised what is awaited from %d to %d", what, id, before, now);
        before = now;
    }
    free(order);
    assert_int_equal(awaited(model), 0);
    assert_string_equal(status_of(model), "provisional");
    struct textbuf live = {0};
    struct textbuf end = {0};
    show_all(&live, model, (struct viewpoint){.live = true}, cars);
    show_all(&end, replay->model, (struct viewpoint){.live = false}, cars);
    assert_same_show(&live, &end, what);
    textbuf_reset(&live);
    /* and the public then sees what everybody sees */
    show_all(&live, model, (struct viewpoint){.live = true, .public_view = true}, cars);
    assert_same_show(&live, &end, what);
    textbuf_clear(&live);
    textbuf_clear(&end);
    model_free(model);
}

/* The same by whole days. */
static void check_days(const struct replay *replay, int cars, const char *what) {
    struct model *model = replay_in_order(replay, NULL, NULL);
    struct textbuf live = {0};
    struct textbuf end = {0};
    for (int day = replay->model->rules->day_count; day >= 1; day--) {
        char point[16];
        (void)snprintf(point, sizeof point, "day:%d", day);
        close_at(model, point, day);
    }
    show_all(&live, model, (struct viewpoint){.live = true}, cars);
    show_all(&end, replay->model, (struct viewpoint){.live = false}, cars);
    assert_same_show(&live, &end, what);
    textbuf_clear(&live);
    textbuf_clear(&end);
    model_free(model);
}

static void check_folder(const char *path, int steps_looked_at, int cars) {
    struct replay replay;
    replay_open(&replay, path);
    check_points(&replay, steps_looked_at, cars, path);
    check_days(&replay, cars, path);
    replay_close(&replay);
}

static void check_case(const char *path, void *context) {
    (void)context;
    check_folder(path, 1, -1);
}

BEHAVIOUR(closing_one_by_one_ends_at_the_final_result_in_the_demo) {
    check_folder(DEMO_FOLDER, 10, 10);
}

BEHAVIOUR(closing_one_by_one_ends_at_the_final_result_in_every_case) {
    assert_true(each_case_folder(check_case, NULL) >= 70);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(closing_one_by_one_ends_at_the_final_result_in_the_demo),
        cmocka_unit_test(closing_one_by_one_ends_at_the_final_result_in_every_case),
    };
    RUN_BEHAVIOURS(tests);
}
