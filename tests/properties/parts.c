/* SPDX-License-Identifier: MIT */
/* What each part of a total came to adds up to the total, and the steps that are told of it say
 * the same, in every event, of every car, at every moment. */
#include "base/err.h"
#include "output/output.h"
#include "replay.h"
#include "scoring/coefficient.h"
#include "scoring/totals.h"
#include "testing.h"

/* What the steps of one car came to together. */
struct told {
    int64_t penalty;
    int fails;
    int steps;
    int to_come;
};

static void add(void *context, const struct total_step *step) {
    struct told *told = context;
    assert_true(*step->of != '\0' && *step->why != '\0');
    if (step->to_come)
        assert_true(step->penalty == 0 && step->fails == 0);
    told->penalty += step->penalty;
    told->fails += step->fails;
    told->steps++;
    told->to_come += step->to_come;
}

static void check_parts(const struct scores *s, int car) {
    const struct car_score *score = &s->cars[car];
    const struct rules *rules = s->event->rules;
    int64_t tests = 0;
    int64_t controls = 0;
    int64_t charged = 0;
    for (int i = 0; i < rules->item_count; i++) {
        int64_t counted = totals_counted(s, car, i);
        if (rules->items[i].test >= 0)
            tests += counted;
        else
            controls += counted;
        if ((score->item_flags[i] & ITEM_TO_COME) != 0)
            assert_true(score->item_penalty[i] == 0 && score->item_fails[i] == 0);
        if (!s->view->visible[i])
            assert_true(score->item_value[i] == 0 && score->item_flags[i] == 0);
    }
    for (int d = 0; d <= s->view->last_day; d++)
        charged += coefficient_on_absence(&rules->scoring, score, d);
    assert_true(tests == score->tests);
    assert_true(controls == score->controls);
    assert_true(charged == score->absent);
    assert_true(tests + controls + charged + score->added + score->decided - score->over ==
                score->tally[BASIS_CORRECTED].total);
}

static int check_look(const struct event *event, struct viewpoint viewpoint) {
    struct scene scene;
    int to_come = 0;
    scene_of(&scene, event, viewpoint);
    for (int car = 0; car < event->entries->count; car++) {
        const struct tally *tally = &scene.scores->cars[car].tally[BASIS_CORRECTED];
        struct told told = {0};
        struct score_sheet sheet;
        check_parts(scene.scores, car);
        assert_int_equal(scores_sheet(scene.scores, car, &sheet), ERR_OK);
        assert_int_equal(output_total_steps(scene.scores, &sheet, car, add, &told), ERR_OK);
        score_sheet_clear(&sheet);
        if (told.penalty != tally->total || told.fails != tally->fails)
            fail_msg("car %d: the steps do not add up", event->entries->list[car].number);
        to_come += told.to_come;
    }
    scene_close(&scene);
    return to_come;
}

/* Returns how many steps were to come while the event was live. */
static int check_folder(const char *path) {
    struct replay replay;
    replay_open(&replay, path);
    const struct event *event = &replay.model->event;
    int to_come = check_look(event, (struct viewpoint){.live = true});
    (void)check_look(event, (struct viewpoint){.live = true, .public_view = true});
    int last = event->rules->items[event->rules->item_count / 2].first_point;
    (void)check_look(event,
                     (struct viewpoint){.live = true, .after = event->rules->points[last].id});
    /* Nothing is to come where everything is closed. */
    assert_int_equal(check_look(event, (struct viewpoint){.live = false}), 0);
    replay_close(&replay);
    return to_come;
}

static void check_case(const char *path, void *context) {
    *(int *)context += check_folder(path);
}

BEHAVIOUR(the_parts_add_up_in_the_demo) {
    (void)check_folder(DEMO_FOLDER);
}

BEHAVIOUR(the_parts_add_up_in_every_case) {
    int to_come = 0;
    assert_true(each_case_folder(check_case, &to_come) >= 70);
    assert_true(to_come > 0);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_parts_add_up_in_the_demo),
        cmocka_unit_test(the_parts_add_up_in_every_case),
    };
    RUN_BEHAVIOURS(tests);
}
