/* SPDX-License-Identifier: MIT */
#include "scene.h"

#include <string.h>

#include "base/err.h"
#include "scoring/explain.h"
#include "testing.h"

void scene_of(struct scene *scene, const struct event *event, struct viewpoint viewpoint) {
    struct view_request request = {viewpoint.live, viewpoint.public_view, -1};
    *scene = (struct scene){.event = event, .after = viewpoint.after};
    if (viewpoint.after != NULL) {
        request.after = view_item_of(event->rules, viewpoint.after);
        assert_true(request.after >= 0);
    }
    assert_int_equal(view_new(event, request, &scene->view), ERR_OK);
    assert_int_equal(scores_new(event, scene->view, &scene->scores), ERR_OK);
}

void scene_open(struct scene *scene, const struct event_text *texts, struct viewpoint viewpoint) {
    struct model *model = event_text_good(texts);
    scene_of(scene, &model->event, viewpoint);
    scene->model = model;
}

void scene_close(struct scene *scene) {
    scores_free(scene->scores);
    view_free(scene->view);
    model_free(scene->model);
    *scene = (struct scene){0};
}

static int car_of(const struct scene *scene, int number) {
    int car = entries_find(scene->event->entries, number);
    assert_true(car >= 0);
    return car;
}

const struct car_score *scene_car(const struct scene *scene, int number) {
    return &scene->scores->cars[car_of(scene, number)];
}

static int scored_of(const struct scene *scene, const char *id) {
    const struct rules *rules = scene->event->rules;
    for (int i = 0; i < rules->scored_count; i++) {
        if (strcmp(rules->scored[i].id, id) == 0)
            return i;
    }
    fail_msg("%s is no scored point", id);
    return -1;
}

struct scored_point scene_point(const struct scene *scene, int number, const char *id) {
    struct score_sheet sheet;
    int scored = scored_of(scene, id);
    assert_int_equal(scores_sheet(scene->scores, car_of(scene, number), &sheet), ERR_OK);
    struct scored_point point = sheet.scored[scored];
    score_sheet_clear(&sheet);
    return point;
}

char *scene_why(const struct scene *scene, int number, const char *id) {
    struct score_sheet sheet;
    struct textbuf b = {0};
    int scored = scored_of(scene, id);
    const struct rules *rules = scene->event->rules;
    assert_int_equal(scores_sheet(scene->scores, car_of(scene, number), &sheet), ERR_OK);
    struct explain_context context = {scene->event, scene->view, &sheet,
                                      &rules->items[rules->scored[scored].item], scored};
    textbuf_puts(&b, "");
    explain_point(&b, &context);
    score_sheet_clear(&sheet);
    assert_false(b.failed);
    return b.bytes;
}

char *scene_standings(const struct scene *scene, enum standings_by by, enum form form) {
    struct standings *standings = NULL;
    struct textbuf b = {0};
    struct output_head head = {view_status(scene->view), 0, scene->after};
    int err = standings_new(scene->scores, by, &standings);
    if (err == ERR_UNKNOWN)
        return NULL;
    assert_int_equal(err, ERR_OK);
    if (form == FORM_JSON)
        output_standings_json(&b, standings, &head);
    else if (form == FORM_CSV)
        output_standings_csv(&b, standings, &head);
    else
        output_standings_text(&b, standings, &head);
    standings_free(standings);
    assert_false(b.failed);
    return b.bytes;
}

char *scene_card(const struct scene *scene, int number, enum form form) {
    struct textbuf b = {0};
    struct output_head head = {view_status(scene->view), 0, scene->after};
    int car = car_of(scene, number);
    if (form == FORM_JSON)
        output_card_json(&b, scene->scores, car, &head);
    else if (form == FORM_CSV)
        output_card_csv(&b, scene->scores, car, &head);
    else
        output_card_text(&b, scene->scores, car, &head);
    assert_false(b.failed);
    return b.bytes;
}
