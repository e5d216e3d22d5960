/* SPDX-License-Identifier: MIT */
/* Bringing scores up to date car by car gives what scoring from scratch gives; and an earlier state
 * that somebody still looks at stays as it was. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "dice.h"
#include "replay.h"
#include "testing.h"

/* The scores of one viewpoint, brought up to date. */
struct kept {
    struct viewpoint viewpoint;
    struct view *view;
    struct scores *scores;
    struct scorer scorer;
};

static void keep(struct kept *kept, struct model *model, struct viewpoint viewpoint) {
    struct view_request request = {viewpoint.live, viewpoint.public_view, -1};
    *kept = (struct kept){.viewpoint = viewpoint};
    assert_int_equal(view_new(&model->event, request, &kept->view), ERR_OK);
    assert_int_equal(scores_new(&model->event, kept->view, &kept->scores), ERR_OK);
    assert_int_equal(scorer_init(&kept->scorer, &model->event), ERR_OK);
}

static void let_go(struct kept *kept) {
    scorer_clear(&kept->scorer);
    scores_free(kept->scores);
    view_free(kept->view);
}

/* All tables, from scores in hand. */
static void show_scores(struct textbuf *out, const struct scores *scores) {
    struct output_head head = {view_status(scores->view), 0, NULL};
    for (int by = 0; by < BY_COUNT; by++) {
        struct standings *standings = NULL;
        if (standings_new(scores, (enum standings_by)by, &standings) == ERR_UNKNOWN)
            continue;
        assert_non_null(standings);
        output_standings_json(out, standings, &head);
        standings_free(standings);
    }
    for (int car = 0; car < scores->event->entries->count; car += 5)
        output_card_json(out, scores, car, &head);
    assert_false(out->failed);
}

static void check_against_scratch(struct model *model, const struct kept *kept, const char *what) {
    struct textbuf updated = {0};
    struct textbuf scratch = {0};
    struct scores *fresh = NULL;
    assert_int_equal(scores_new(&model->event, kept->view, &fresh), ERR_OK);
    show_scores(&updated, kept->scores);
    show_scores(&scratch, fresh);
    assert_same_show(&updated, &scratch, what);
    scores_free(fresh);
    textbuf_clear(&updated);
    textbuf_clear(&scratch);
}

/* The cars that a new reading touches: its own, and that of the reading it replaces. */
static int touched(const struct model *model, int index, int cars[2]) {
    const struct reading *reading = readings_at(model->readings, index);
    int replaced = readings_find(model->readings, reading->text.field[READING_REPLACES]);
    cars[0] = reading->car;
    if (replaced < 0)
        return 1;
    cars[1] = readings_at(model->readings, replaced)->car;
    return 2;
}

/* A reading that comes after one that replaces it is settled by its own arrival. */
static void update_one(struct model *model, struct kept *kept, size_t count, int index) {
    int cars[2];
    int touched_cars = touched(model, index, cars);
    model->event.readings = readings_view(model->readings);
    for (size_t k = 0; k < count; k++) {
        scores_update(kept[k].scores, &kept[k].scorer, cars, touched_cars);
        scores_rank(kept[k].scores, &kept[k].scorer);
    }
}

/* Feeds a folder's readings in a random order; the last `single` ones one at a time, looking at
 * all of it at every `step`th. */
static void check_updates(const char *path, int single, int step) {
    static const struct viewpoint looks[] = {
        {.live = false}, {.live = true}, {.live = true, .public_view = true}};
    struct kept kept[COUNT_OF(looks)];
    struct replay replay;
    struct dice dice = {1946};
    replay_open(&replay, path);
    int count = readings_count(replay.model->readings);
    size_t *order = malloc(((size_t)count + 1) * sizeof *order);
    assert_non_null(order);
    dice_shuffle(&dice, order, (size_t)count);
    struct model *model = replay_blank(&replay);
    for (int i = 0; i < decisions_count(replay.model->decisions); i++)
        replay_decision(model, replay.model, (size_t)i, false);
    replay_settle(model);
    int i = 0;
    for (; i < count - single; i++)
        replay_reading(model, replay.model, order[i], false);
    for (size_t k = 0; k < COUNT_OF(looks); k++)
        keep(&kept[k], model, looks[k]);
    for (; i < count; i++) {
        replay_reading(model, replay.model, order[i], false);
        update_one(model, kept, COUNT_OF(looks), readings_count(model->readings) - 1);
        if (i % step != 0 && i + 1 < count)
            continue;
        for (size_t k = 0; k < COUNT_OF(looks); k++)
            check_against_scratch(model, &kept[k], path);
    }
    for (size_t k = 0; k < COUNT_OF(looks); k++)
        let_go(&kept[k]);
    model_free(model);
    free(order);
    replay_close(&replay);
}

static void check_case(const char *path, void *context) {
    (void)context;
    check_updates(path, 1000, 1);
}

BEHAVIOUR(rescoring_one_car_equals_scoring_from_scratch_in_the_demo) {
    check_updates(DEMO_FOLDER, 400, 50);
}

BEHAVIOUR(rescoring_one_car_equals_scoring_from_scratch_in_every_case) {
    assert_true(each_case_folder(check_case, NULL) >= 70);
}

/* Readers keep scores of the first readings while the log grows. */
static void check_states(const char *path) {
    enum { STATES = 6 };
    struct event states[STATES];
    struct view *views[STATES];
    struct scores *scores[STATES];
    struct textbuf shown[STATES] = {{0}};
    struct replay replay;
    replay_open(&replay, path);
    struct model *model = replay_blank(&replay);
    for (int i = 0; i < decisions_count(replay.model->decisions); i++)
        replay_decision(model, replay.model, (size_t)i, false);
    replay_settle(model);
    struct scorer scorer;
    assert_int_equal(scorer_init(&scorer, &model->event), ERR_OK);
    int count = readings_count(replay.model->readings);
    int done = 0;
    for (int s = 0; s < STATES; s++) {
        int before = done;
        for (; done < count * (s + 1) / STATES; done++)
            replay_reading(model, replay.model, (size_t)done, false);
        states[s] = model->event;
        states[s].readings = readings_view(model->readings);
        assert_int_equal(view_new(&states[s], (struct view_request){true, false, -1}, &views[s]),
                         ERR_OK);
        if (s == 0) {
            assert_int_equal(scores_new(&states[0], views[0], &scores[0]), ERR_OK);
        } else {
            assert_int_equal(scores_copy(scores[s - 1], &states[s], views[s], &scores[s]), ERR_OK);
            score_sheet_use(&scorer.sheet, &states[s], views[s], &scores[s]->bests);
            for (int i = before; i < done; i++) {
                int cars[2];
                int touched_cars = touched(model, i, cars);
                scores_update(scores[s], &scorer, cars, touched_cars);
            }
            scores_rank(scores[s], &scorer);
        }
        show_scores(&shown[s], scores[s]);
    }
    for (int s = 0; s < STATES; s++) {
        struct textbuf now = {0};
        struct scores *fresh = NULL;
        show_scores(&now, scores[s]);
        assert_same_show(&shown[s], &now, "a state that was kept");
        textbuf_reset(&now);
        assert_int_equal(scores_new(&states[s], views[s], &fresh), ERR_OK);
        show_scores(&now, fresh);
        assert_same_show(&shown[s], &now, "an earlier state from scratch");
        scores_free(fresh);
        textbuf_clear(&now);
    }
    for (int s = 0; s < STATES; s++) {
        scores_free(scores[s]);
        view_free(views[s]);
        textbuf_clear(&shown[s]);
    }
    scorer_clear(&scorer);
    model_free(model);
    replay_close(&replay);
}

BEHAVIOUR(an_earlier_state_stays_as_it_was_while_readings_come) {
    check_states(DEMO_FOLDER);
    check_states("build/cases/correction-of-car-number/event");
    check_states("build/cases/special-test-behind-best/event");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rescoring_one_car_equals_scoring_from_scratch_in_the_demo),
        cmocka_unit_test(rescoring_one_car_equals_scoring_from_scratch_in_every_case),
        cmocka_unit_test(an_earlier_state_stays_as_it_was_while_readings_come),
    };
    RUN_BEHAVIOURS(tests);
}
