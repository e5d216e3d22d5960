/* SPDX-License-Identifier: MIT */
/* Memory out at every n-th request while an event is read, scored and printed: the answer is
 * ERR_NOMEM (or a buffer that says so), nothing leaks, and the next try is as good as the first.
 * Requests of the JSON library are left alone: it takes a token that it could not keep whole for
 * the token, which no caller can notice. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
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
    if (err == ERR_OK) {
        output_card_json(&b, scores, 0, &head);
        output_card_text(&b, scores, 0, &head);
        err = export_readings(model->readings, &b);
    }
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
    if (err != ERR_OK && err != ERR_NOMEM)
        for (size_t i = 0; i < problems.count; i++)
            print_message("%s: %s\n", problems.list[i].place, problems.list[i].text);
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

/* Of the events of the cases, which have every key: each STRIDE-th request of one, from another one
 * on in the next. */
enum { STRIDE = 23 };

static void refuse_some(const char *path, void *context) {
    int *from = context;
    struct case_folder folder;
    int err = ERR_NOMEM;
    case_folder_open(&folder, path);
    files = folder.files;
    *from = (*from + 1) % STRIDE;
    for (long n = *from; err != ERR_OK; n += STRIDE) {
        memory_refuses(n, 1);
        err = read_and_print();
        memory_is_back();
        if (err != ERR_OK && err != ERR_NOMEM)
            fail_msg("%s: request %ld refused gave %d", path, n, err);
        if (err == ERR_OK && memory_was_refused())
            fail_msg("%s: request %ld refused was not told", path, n);
    }
    case_folder_close(&folder);
}

void *__real_malloc(size_t size); /* the linker's name of the one that never refuses */

static void keys_of_every_case_are_told_as_out_of_memory(void **state) {
    json_malloc_t asking;
    json_free_t freeing;
    int from = 0;
    (void)state;
    /* The JSON library itself ends the program over a text that it could not keep. */
    json_get_alloc_funcs(&asking, &freeing);
    json_set_alloc_funcs(__real_malloc, freeing);
    assert_true(each_case_folder(refuse_some, &from) > 100);
    json_set_alloc_funcs(asking, freeing);
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
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
