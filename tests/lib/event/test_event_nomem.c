/* SPDX-License-Identifier: MIT */
/* Memory out at every request of an event, and at every place of the code that asks for memory for
 * any of the cases, while it is read, scored and printed: the answer is ERR_NOMEM (or a buffer that
 * says so), no error is told of the event's files, nothing leaks, and the next try is as good as
 * the first. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "case_folders.h"
#include "event/event.h"
#include "event/export.h"
#include "failing_memory.h"
#include "output/output.h"

#include "../fuzz/fuzz_folder.h"

static struct event_files files;

static int print_all(const struct model *model) {
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct textbuf b = {0};
    struct view_request request = {.after = -1};
    int err = view_new(&model->event, request, &view);
    if (err == ERR_OK)
        err = scores_new(&model->event, view, &scores);
    struct output_head head = {"live", 0, NULL};
    for (int by = 0; err == ERR_OK && by < BY_COUNT; by++) {
        struct standings *st = NULL;
        err = standings_new(scores, (enum standings_by)by, &st);
        if (err == ERR_UNKNOWN) {
            err = ERR_OK;
            continue;
        }
        if (err == ERR_OK) {
            output_standings_json(&b, st, &head);
            output_standings_csv(&b, st, &head);
            output_standings_text(&b, st, &head);
        }
        standings_free(st);
    }
    for (int car = 0; err == ERR_OK && car < model->entries->count; car++) {
        output_card_json(&b, scores, car, &head);
        output_card_text(&b, scores, car, &head);
    }
    if (err == ERR_OK)
        err = export_readings(model->readings, &b);
    if (err == ERR_OK)
        err = export_decisions(model->decisions, &b);
    if (b.failed)
        err = ERR_NOMEM;
    textbuf_clear(&b);
    scores_free(scores);
    view_free(view);
    return err;
}

static int read_and_print(void) {
    struct problems problems = {0};
    struct model *model = NULL;
    int err = model_read(&files, &problems, &model);
    if (err == ERR_OK)
        err = print_all(model);
    memory_is_back();
    /* Nothing is wrong with the files, and nobody is told so. */
    if (problems.by_level[PROBLEM_ERROR] > 0)
        fail_msg("%s: %s", problems.list[0].place, problems.list[0].text);
    model_free(model);
    problems_clear(&problems);
    return err;
}

static void every_refused_request_is_told_as_out_of_memory(void **state) {
    long n = 0;
    int err = ERR_NOMEM;
    (void)state;
    for (; err != ERR_OK; n++) {
        memory_refuses(n, 1);
        err = read_and_print();
        memory_is_back();
        if (err != ERR_OK && err != ERR_NOMEM)
            fail_msg("request %ld refused gave %d", n, err);
        assert_true(n < 1000000);
    }
    /* The last try got all it asked for; there were many before it. */
    assert_true(n > 300);
    assert_int_equal(read_and_print(), ERR_OK);
}

/* The cases have every key between them: each place of the code that asks for memory is refused
 * once, in the first of them that comes to it. */
static void refuse_new_places(const char *path, void *context) {
    int *refused = context;
    struct case_folder folder;
    case_folder_open(&folder, path);
    files = folder.files;
    for (;;) {
        memory_refuses_a_new_place();
        int err = read_and_print();
        if (err != ERR_OK && err != ERR_NOMEM)
            fail_msg("%s: refused place %d gave %d", path, *refused, err);
        if (!memory_was_refused()) {
            assert_int_equal(err, ERR_OK);
            break;
        }
        if (err == ERR_OK)
            fail_msg("%s: refused place %d was not told", path, *refused);
        ++*refused;
    }
    case_folder_close(&folder);
}

static void keys_of_every_case_are_told_as_out_of_memory(void **state) {
    int refused = 0;
    (void)state;
    assert_true(each_case_folder(refuse_new_places, &refused) > 100);
    assert_true(refused > 250); /* a build that inlines fewer calls tells fewer of them apart */
}

/* A folder with errors is read as far as it goes: all of them are told, or that memory is out. */
static void errors_are_told_whole_or_not_at_all(void **state) {
    struct problems whole = {0};
    struct case_folder folder;
    struct model *model = NULL;
    bool refused = true;
    (void)state;
    case_folder_open(&folder, "build/broken/wrong-in-every-file/event");
    assert_int_equal(model_read(&folder.files, &whole, &model), ERR_INPUT);
    for (long n = 0; refused; n++) {
        struct problems problems = {0};
        memory_refuses(n, 1);
        int err = model_read(&folder.files, &problems, &model);
        refused = memory_was_refused();
        memory_is_back();
        assert_null(model);
        if (err != (refused ? ERR_NOMEM : ERR_INPUT))
            fail_msg("request %ld gave %d", n, err);
        if (!refused)
            assert_int_equal(problems.count, whole.count);
        problems_clear(&problems);
        assert_true(n < 100000);
    }
    problems_clear(&whole);
    case_folder_close(&folder);
}

static int set_up(void **state) {
    (void)state;
    files = fuzz_files();
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_refused_request_is_told_as_out_of_memory),
        cmocka_unit_test(keys_of_every_case_are_told_as_out_of_memory),
        cmocka_unit_test(errors_are_told_whole_or_not_at_all),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
