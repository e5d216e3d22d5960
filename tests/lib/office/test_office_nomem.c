/* SPDX-License-Identifier: MIT */
/* Memory out at every place of the code that asks for memory while the cases are checked, their
 * prizes given and their rules shown by examples: it is told, nothing leaks, and nothing that is
 * written lacks a part. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "case_folders.h"
#include "event/event.h"
#include "failing_memory.h"
#include "office/check.h"
#include "office/rule_examples.h"
#include "output/awards.h"

typedef int (*work)(struct model *model, struct textbuf *b);

static int check(struct model *model, struct textbuf *b) {
    struct problems problems = {0};
    int err = check_event(model, &problems);
    for (size_t i = 0; i < problems.count; i++)
        textbuf_printf(b, "%s: %s\n", problems.list[i].place, problems.list[i].text);
    problems_clear(&problems);
    return err;
}

static int give_prizes(struct model *model, struct textbuf *b) {
    const struct view_request request = {.after = -1};
    const struct output_head head = {.status = "final"};
    struct view *view = NULL;
    struct scores *scores = NULL;
    struct awards *awards = NULL;
    int err = view_new(&model->event, request, &view);
    if (err == ERR_OK)
        err = scores_new(&model->event, view, &scores);
    if (err == ERR_OK)
        err = awards_new(scores, &awards);
    if (err == ERR_OK) {
        awards_write_json(b, awards, &head);
        awards_write_csv(b, awards);
        awards_write_text(b, awards, &head);
    }
    awards_free(awards);
    scores_free(scores);
    view_free(view);
    return err;
}

/* Of one item, in a model of its own: the examples' readings stay in it. */
static int show_item(const struct event_files *files, int item, struct textbuf *b) {
    const struct event_files documents = {
        .rules = files->rules, .entries = files->entries, .starts = files->starts};
    struct problems problems = {0};
    struct model *model = NULL;
    int err = model_read(&documents, &problems, &model);
    if (err == ERR_OK)
        err = rule_examples_write(model, item, b);
    model_free(model);
    problems_clear(&problems);
    return err;
}

static const struct event_files *files;

static int show_rules(struct model *model, struct textbuf *b) {
    int err = ERR_OK;
    for (int i = 0; err == ERR_OK && i < model->rules->item_count; i++)
        err = show_item(files, i, b);
    return err;
}

static int do_work(work todo, struct model *model, struct textbuf *b) {
    int err = todo(model, b);
    memory_is_back();
    return b->failed ? ERR_NOMEM : err;
}

struct trial {
    work todo;
    int refused;
};

static void refuse_new_places(const char *path, void *context) {
    struct trial *trial = context;
    struct case_folder folder;
    struct problems problems = {0};
    struct model *model = NULL;
    struct textbuf expected = {0};
    case_folder_open(&folder, path);
    files = &folder.files;
    assert_int_equal(model_read(files, &problems, &model), ERR_OK);
    assert_int_equal(do_work(trial->todo, model, &expected), ERR_OK);
    for (bool refused = true; refused;) {
        struct textbuf said = {0};
        memory_refuses_a_new_place();
        int err = do_work(trial->todo, model, &said);
        refused = memory_was_refused();
        if (refused && err != ERR_NOMEM)
            fail_msg("%s: refused place %d gave %d", path, trial->refused, err);
        if (!refused)
            assert_string_equal(textbuf_text(&said), textbuf_text(&expected));
        trial->refused += refused;
        textbuf_clear(&said);
    }
    textbuf_clear(&expected);
    model_free(model);
    problems_clear(&problems);
    case_folder_close(&folder);
}

static void refuse_everywhere(work todo, int places) {
    struct trial trial = {.todo = todo};
    assert_true(each_case_folder(refuse_new_places, &trial) > 100);
    if (trial.refused <= places)
        fail_msg("only %d places were refused", trial.refused);
}

static void a_check_tells_that_memory_is_out(void **state) {
    (void)state;
    refuse_everywhere(check, 20);
}

static void prizes_tell_that_memory_is_out(void **state) {
    (void)state;
    refuse_everywhere(give_prizes, 20);
}

static void examples_tell_that_memory_is_out(void **state) {
    (void)state;
    refuse_everywhere(show_rules, 100);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_check_tells_that_memory_is_out),
        cmocka_unit_test(prizes_tell_that_memory_is_out),
        cmocka_unit_test(examples_tell_that_memory_is_out),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
