/* SPDX-License-Identifier: MIT */
/* A list halfway (--after) and the list of the same moment without it never contradict each
 * other: the first drops no test that the second does not, and both name the same leader. */
#include <stdio.h>

#include "facts.h"
#include "replay.h"
#include "testing.h"

static const char *after_name(const struct rules *rules, int item) {
    return rules->points[rules->items[item].first_point].id;
}

/* Every test that a list halfway drops is dropped in the list `whole` too. Returns how many were
 * dropped halfway. */
static int check_drops(struct model *model, struct viewpoint viewpoint, const struct scene *whole) {
    const struct rules *rules = model->rules;
    struct scene halfway;
    int dropped = 0;
    scene_of(&halfway, &model->event, viewpoint);
    for (int car = 0; car < model->entries->count; car++) {
        for (int i = 0; i < rules->item_count; i++) {
            if ((halfway.scores->cars[car].item_flags[i] & ITEM_DROPPED) == 0)
                continue;
            dropped++;
            if ((whole->scores->cars[car].item_flags[i] & ITEM_DROPPED) == 0)
                fail_msg("after %s: %s of car %d is dropped, but not in all", viewpoint.after,
                         rules->items[i].id, model->entries->list[car].number);
        }
    }
    scene_close(&halfway);
    return dropped;
}

static int check_moment(struct model *model, struct viewpoint viewpoint) {
    struct scene whole;
    int dropped = 0;
    scene_of(&whole, &model->event, viewpoint);
    for (int i = 0; i < model->rules->item_count; i++) {
        if (!whole.view->visible[i])
            continue;
        viewpoint.after = after_name(model->rules, i);
        dropped += check_drops(model, viewpoint, &whole);
    }
    scene_close(&whole);
    return dropped;
}

static int check_moments(struct model *model) {
    return check_moment(model, (struct viewpoint){.live = true}) +
           check_moment(model, (struct viewpoint){.live = true, .public_view = true}) +
           check_moment(model, (struct viewpoint){.live = false});
}

static void close_at(struct model *model, const char *point) {
    char fields[FACT_TEXT_MAX];
    struct textbuf reason = {0};
    (void)snprintf(fields, sizeof fields, "kind=close,point=%s,reason=all through,id=i-%s", point,
                   point);
    if (decision_put(model->decisions, fields, &reason) != FACT_ADDED)
        fail_msg("%s: %s", fields, textbuf_text(&reason));
    textbuf_clear(&reason);
}

/* As it stands, then with one day more closed each time. Returns how many tests were dropped
 * halfway. */
static int check_folder(const char *path) {
    struct replay replay;
    int dropped = 0;
    replay_open(&replay, path);
    /* `always` is for lists that drop the worst so far. */
    if (!replay.model->rules->scoring.drop_always) {
        struct model *model = replay_in_order(&replay, NULL, NULL);
        dropped += check_moments(model);
        for (int day = 1; day <= model->rules->day_count; day++) {
            char point[16];
            (void)snprintf(point, sizeof point, "day:%d", day);
            close_at(model, point);
            replay_settle(model);
            dropped += check_moments(model);
        }
        model_free(model);
    }
    replay_close(&replay);
    return dropped;
}

static void check_case(const char *path, void *context) {
    *(int *)context += check_folder(path);
}

/* Cars that are placed in both lists stand in the same order. */
static void check_order(struct model *model, int item) {
    struct scene whole;
    struct scene halfway;
    int last = 0;
    int compared = 0;
    scene_of(&whole, &model->event, (struct viewpoint){.live = true});
    scene_of(&halfway, &model->event,
             (struct viewpoint){.live = true, .after = after_name(model->rules, item)});
    for (int i = 0; i < halfway.scores->placed; i++) {
        int car = halfway.scores->order[i];
        int position = whole.scores->cars[car].position;
        if (position == 0)
            continue;
        compared++;
        if (position < last)
            fail_msg("after %s: car %d is ahead in all, behind halfway",
                     model->rules->items[item].id, model->entries->list[car].number);
        last = position;
    }
    assert_true(compared > model->entries->count / 2);
    scene_close(&halfway);
    scene_close(&whole);
}

BEHAVIOUR(no_list_halfway_drops_what_the_whole_list_does_not_in_the_demo) {
    (void)check_folder(DEMO_FOLDER);
}

BEHAVIOUR(no_list_halfway_drops_what_the_whole_list_does_not_in_any_case) {
    int dropped = 0;
    assert_true(each_case_folder(check_case, &dropped) >= 70);
    assert_true(dropped > 0); /* some drop by the day, or have only controls behind */
}

/* The demo as it stood when its cars had come as far as each test, and no further, and all of it
 * so far was closed. */
BEHAVIOUR(lists_halfway_and_in_all_have_the_same_leader_when_no_car_is_further) {
    struct replay replay;
    replay_open(&replay, DEMO_FOLDER);
    const struct rules *rules = replay.model->rules;
    const struct readings *all = replay.model->readings;
    for (int i = 0; i < rules->item_count; i++) {
        if (rules->items[i].test < 0)
            continue;
        struct model *model = replay_blank(&replay);
        for (int n = 0; n < readings_count(all); n++) {
            if (rules->points[readings_at(all, n)->point].item <= i)
                replay_reading(model, replay.model, (size_t)n, false);
        }
        for (int n = 0; n <= i; n++)
            close_at(model, rules->items[n].id);
        replay_settle(model);
        check_order(model, i);
        model_free(model);
    }
    replay_close(&replay);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_list_halfway_drops_what_the_whole_list_does_not_in_the_demo),
        cmocka_unit_test(no_list_halfway_drops_what_the_whole_list_does_not_in_any_case),
        cmocka_unit_test(lists_halfway_and_in_all_have_the_same_leader_when_no_car_is_further),
    };
    RUN_BEHAVIOURS(tests);
}
