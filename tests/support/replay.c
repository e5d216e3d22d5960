/* SPDX-License-Identifier: MIT */
#include "replay.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "testing.h"

void replay_open(struct replay *replay, const char *path) {
    struct problems problems = {0};
    case_folder_open(&replay->folder, path);
    if (model_read(&replay->folder.files, &problems, &replay->model) != ERR_OK)
        fail_msg("%s cannot be read:\n%s", path, problems_text(&problems));
    problems_clear(&problems);
}

void replay_close(struct replay *replay) {
    model_free(replay->model);
    case_folder_close(&replay->folder);
}

struct model *replay_blank(const struct replay *replay) {
    struct problems problems = {0};
    struct event_files files = replay->folder.files;
    struct model *model = NULL;
    files.readings = (struct file_text){NULL, 0};
    files.decisions = (struct file_text){NULL, 0};
    assert_int_equal(model_read(&files, &problems, &model), ERR_OK);
    problems_clear(&problems);
    return model;
}

void replay_reading(struct model *to, const struct model *from, size_t index, bool again) {
    const struct reading *reading = readings_at(from->readings, (int)index);
    struct textbuf reason = {0};
    enum fact_result result = readings_add(to->readings, &reading->text, &reason, NULL);
    if (result != (again ? FACT_DUPLICATE : FACT_ADDED))
        fail_msg("reading %s: %s", reading->id, textbuf_text(&reason));
    textbuf_clear(&reason);
}

void replay_decision(struct model *to, const struct model *from, size_t index, bool again) {
    const struct decision *decision = decisions_at(from->decisions, (int)index);
    struct textbuf reason = {0};
    enum fact_result result = decisions_add(to->decisions, &decision->text, &reason, NULL);
    if (result != (again ? FACT_DUPLICATE : FACT_ADDED))
        fail_msg("decision %s: %s", decision->id, textbuf_text(&reason));
    textbuf_clear(&reason);
}

void replay_settle(struct model *model) {
    struct problems problems = {0};
    int err = decisions_settle(model->decisions, "decisions.csv", &problems);
    if (err != ERR_OK)
        fail_msg("%s", problems_text(&problems));
    assert_int_equal(model_settle(model), ERR_OK);
    problems_clear(&problems);
}

struct model *replay_in_order(const struct replay *replay, const size_t *readings,
                              const size_t *decisions) {
    struct model *model = replay_blank(replay);
    size_t count = (size_t)readings_count(replay->model->readings);
    for (size_t i = 0; i < count; i++)
        replay_reading(model, replay->model, readings == NULL ? i : readings[i], false);
    count = (size_t)decisions_count(replay->model->decisions);
    for (size_t i = 0; i < count; i++)
        replay_decision(model, replay->model, decisions == NULL ? i : decisions[i], false);
    replay_settle(model);
    return model;
}

static void add_page(struct textbuf *out, char *page) {
    if (page != NULL)
        textbuf_puts(out, page);
    free(page);
}

static void show(struct textbuf *out, struct model *model, struct viewpoint viewpoint, int cars,
                 enum form last) {
    struct scene scene;
    scene_of(&scene, &model->event, viewpoint);
    for (int form = 0; form <= (int)last; form++) {
        for (int by = 0; by < BY_COUNT; by++)
            add_page(out, scene_standings(&scene, (enum standings_by)by, (enum form)form));
        for (int i = 0; i < model->entries->count; i++) {
            if (cars < 0 || i % cars == 0)
                add_page(out, scene_card(&scene, model->entries->list[i].number, (enum form)form));
        }
    }
    scene_close(&scene);
    assert_false(out->failed);
}

void show_all(struct textbuf *out, struct model *model, struct viewpoint viewpoint, int cars) {
    show(out, model, viewpoint, cars, FORM_TEXT);
}

void show_data(struct textbuf *out, struct model *model, struct viewpoint viewpoint, int cars) {
    show(out, model, viewpoint, cars, FORM_CSV);
}

void assert_same_show(const struct textbuf *a, const struct textbuf *b, const char *what) {
    const char *x = textbuf_text(a);
    const char *y = textbuf_text(b);
    if (a->len == b->len && memcmp(x, y, a->len) == 0)
        return;
    const char *from_x = x;
    const char *from_y = y;
    while (*x != '\0' && *x == *y) {
        if (*x == '\n') {
            from_x = x + 1;
            from_y = y + 1;
        }
        x++;
        y++;
    }
    fail_msg("%s:\n%.*s\n%.*s", what, (int)strcspn(from_x, "\n"), from_x,
             (int)strcspn(from_y, "\n"), from_y);
}

void assert_events_show_the_same(struct model *a, struct model *b, struct viewpoint viewpoint,
                                 int cars, const char *what) {
    struct textbuf x = {0};
    struct textbuf y = {0};
    show_all(&x, a, viewpoint, cars);
    show_all(&y, b, viewpoint, cars);
    assert_same_show(&x, &y, what);
    textbuf_clear(&x);
    textbuf_clear(&y);
}
