/* SPDX-License-Identifier: MIT */
/* A desk's readings of cars that are not in the list yet, or of none, come to the same as if the
 * entries had been there from the start. */
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event/export.h"
#include "format/extra.h"
#include "replay.h"
#include "testing.h"

static const struct viewpoint looks[] = {
    {.live = false}, {.live = true}, {.live = true, .public_view = true}};

/* The heading, and every other line. */
static void leave_out_entries(const struct file_text *entries, struct textbuf *out) {
    const char *end = entries->text + entries->len;
    int row = 0;
    for (const char *p = entries->text; p < end; row++) {
        const char *next = memchr(p, '\n', (size_t)(end - p));
        next = next == NULL ? end : next + 1;
        if (row == 0 || row % 2 == 1)
            textbuf_add(out, p, (size_t)(next - p));
        p = next;
    }
}

/* The event with half of its cars and no facts; NULL where its rules name a car that is left out.
 */
static struct model *half_of(const struct replay *replay) {
    struct problems problems = {0};
    struct textbuf entries = {0};
    struct model *model = NULL;
    leave_out_entries(&replay->folder.files.entries, &entries);
    const struct event_files files = {.rules = replay->folder.files.rules,
                                      .entries = {entries.bytes, entries.len}};
    (void)model_read(&files, &problems, &model);
    problems_clear(&problems);
    textbuf_clear(&entries);
    return model;
}

/* Adds all readings of an event as a desk sends them. Returns how many stand aside. */
static int send_all(struct model *to, const struct model *from) {
    int aside = 0;
    for (int i = 0; i < readings_count(from->readings); i++) {
        struct reading_text text = readings_at(from->readings, i)->text;
        struct extra desk = {.name = "desk", .value = "0a1b2c3d", .next = text.extras};
        struct textbuf reason = {0};
        int index = -1;
        text.extras = &desk;
        text.from_desk = true;
        if (readings_add(to->readings, &text, &reason, &index) != FACT_ADDED)
            fail_msg("%s: %s", readings_at(from->readings, i)->id, textbuf_text(&reason));
        aside += readings_at(to->readings, index)->aside != ASIDE_NOT;
        textbuf_clear(&reason);
    }
    return aside;
}

/* The whole event again, with what was exported of another. */
static struct model *read_with(const struct replay *replay, const struct model *readings) {
    struct textbuf known = {0};
    struct textbuf aside = {0};
    struct problems problems = {0};
    struct model *model = NULL;
    struct event_files files = replay->folder.files;
    assert_int_equal(export_readings(readings->readings, &known), ERR_OK);
    assert_int_equal(export_unassigned(readings->readings, &aside), ERR_OK);
    files.readings = (struct file_text){known.bytes, known.len};
    files.unassigned = (struct file_text){aside.bytes, aside.len};
    if (model_read(&files, &problems, &model) != ERR_OK || problems.by_level[PROBLEM_REFUSED] > 0)
        fail_msg("%s", problems_text(&problems));
    problems_clear(&problems);
    textbuf_clear(&known);
    textbuf_clear(&aside);
    return model;
}

struct late_seen {
    int events;
    int aside;
};

static void check_late(const char *path, int cars, struct late_seen *seen) {
    struct replay replay;
    replay_open(&replay, path);
    struct model *half = half_of(&replay);
    if (half != NULL) {
        int aside = send_all(half, replay.model);
        struct model *late = read_with(&replay, half);
        assert_int_equal(readings_count(late->readings), readings_count(replay.model->readings));
        assert_int_equal(readings_latest_aside(readings_view(late->readings)), -1);
        for (size_t i = 0; i < COUNT_OF(looks); i++)
            assert_events_show_the_same(replay.model, late, looks[i], cars, path);
        seen->events++;
        seen->aside += aside;
        model_free(late);
        model_free(half);
    }
    replay_close(&replay);
}

static void check_case(const char *path, void *context) {
    check_late(path, -1, context);
}

BEHAVIOUR(entries_that_come_late_show_the_same_in_the_demo) {
    struct late_seen seen = {0};
    check_late(DEMO_FOLDER, 10, &seen);
    assert_true(seen.aside > 1000);
}

BEHAVIOUR(entries_that_come_late_show_the_same_in_every_case) {
    struct late_seen seen = {0};
    (void)each_case_folder(check_case, &seen);
    assert_true(seen.events >= 70);
    assert_true(seen.aside >= 200);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(entries_that_come_late_show_the_same_in_the_demo),
        cmocka_unit_test(entries_that_come_late_show_the_same_in_every_case),
    };
    RUN_BEHAVIOURS(tests);
}
