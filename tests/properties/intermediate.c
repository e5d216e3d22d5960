/* SPDX-License-Identifier: MIT */
/* A list halfway (--after) and the list of the same moment without it never contradict each
 * other: the first drops no test that the second does not, and both name the same leader. */
#include <stdio.h>
#include <stdlib.h>

#include "err.h"
#include "facts.h"
#include "replay.h"
#include "testing.h"

static const char *after_name(const struct rules *rules, int item) {
    return rules->points[rules->items[item].first_point].id;
}

/* Every test that a list halfway drops is dropped in the list `whole` too. Returns how many were
 * dropped halfway. */
static int check_drops(struct event *event, struct look look, const struct scene *whole) {
    const struct rules *rules = event->rules;
    struct scene halfway;
    int dropped = 0;
    scene_of(&halfway, event, look);
    for (int car = 0; car < event->entries->count; car++) {
        for (int i = 0; i < rules->item_count; i++) {
            if ((halfway.scores->cars[car].item_flags[i] & ITEM_DROPPED) == 0)
                continue;
            dropped++;
            if ((whole->scores->cars[car].item_flags[i] & ITEM_DROPPED) == 0)
                fail_msg("after %s: %s of car %d is dropped, but not in all", look.after,
                         rules->items[i].id, event->entries->list[car].number);
        }
    }
    scene_close(&halfway);
    return dropped;
}

static int check_moment(struct event *event, struct look look) {
    struct scene whole;
    int dropped = 0;
    scene_of(&whole, event, look);
    for (int i = 0; i < event->rules->item_count; i++) {
        if (!whole.view->visible[i])
            continue;
        look.after = after_name(event->rules, i);
        dropped += check_drops(event, look, &whole);
    }
    scene_close(&whole);
    return dropped;
}

static int check_moments(struct event *event) {
    return check_moment(event, (struct look){.live = true}) +
           check_moment(event, (struct look){.live = true, .public_view = true}) +
           check_moment(event, (struct look){.live = false});
}

static void close_at(struct event *event, const char *point) {
    char fields[FACT_TEXT_MAX];
    struct textbuf reason = {0};
    (void)snprintf(fields, sizeof fields, "kind=close,point=%s,reason=all through,id=i-%s", point,
                   point);
    if (decision_put(event->decisions, fields, &reason) != DECISION_ADDED)
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
    if (!replay.event->rules->scoring.drop_always) {
        struct event *event = replay_in_order(&replay, NULL, NULL);
        dropped += check_moments(event);
        for (int day = 1; day <= event->rules->day_count; day++) {
            char point[16];
            (void)snprintf(point, sizeof point, "day:%d", day);
            close_at(event, point);
            replay_settle(event);
            dropped += check_moments(event);
        }
        event_free(event);
    }
    replay_close(&replay);
    return dropped;
}

static void check_case(const char *path, void *context) {
    *(int *)context += check_folder(path);
}

/* Cars that are placed in both lists stand in the same order. */
static void check_order(struct event *event, int item) {
    struct scene whole;
    struct scene halfway;
    int last = 0;
    int compared = 0;
    scene_of(&whole, event, (struct look){.live = true});
    scene_of(&halfway, event, (struct look){.live = true, .after = after_name(event->rules, item)});
    for (int i = 0; i < halfway.scores->placed; i++) {
        int car = halfway.scores->order[i];
        int position = whole.scores->cars[car].position;
        if (position == 0)
            continue;
        compared++;
        if (position < last)
            fail_msg("after %s: car %d is ahead in all, behind halfway",
                     event->rules->items[item].id, event->entries->list[car].number);
        last = position;
    }
    assert_true(compared > event->entries->count / 2);
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
    const struct rules *rules = replay.event->rules;
    const struct readings *all = replay.event->readings;
    for (int i = 0; i < rules->item_count; i++) {
        if (rules->items[i].test < 0)
            continue;
        struct event *event = replay_blank(&replay);
        for (int n = 0; n < readings_count(all); n++) {
            if (rules->points[readings_at(all, n)->point].item <= i)
                replay_reading(event, replay.event, (size_t)n, false);
        }
        for (int n = 0; n <= i; n++)
            close_at(event, rules->items[n].id);
        replay_settle(event);
        check_order(event, i);
        event_free(event);
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
