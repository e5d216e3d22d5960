/* SPDX-License-Identifier: MIT */
/* A value of the wrong type in event.json, anywhere: it is told, and no row of another file is
 * called wrong that was right, whatever it names. */
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "case_folders.h"
#include "testing.h"

struct trial {
    struct event_files files;
    const char *folder;
    json_t *root;
    struct problems before; /* of the folder as it is */
    long tried;
};

static bool is_of_another_file(const struct problem *problem) {
    return (problem->level == PROBLEM_ERROR || problem->level == PROBLEM_REFUSED) &&
           strncmp(problem->place, "event.json", strlen("event.json")) != 0;
}

static bool holds(const struct problems *problems, const struct problem *wanted) {
    for (size_t i = 0; i < problems->count; i++) {
        if (strcmp(problems->list[i].place, wanted->place) == 0 &&
            strcmp(problems->list[i].text, wanted->text) == 0)
            return true;
    }
    return false;
}

/* Reads the folder with the root as it is now. */
static void read_wrong(struct trial *trial, const char *key) {
    struct problems after = {0};
    struct model *model = NULL;
    char *text = json_dumps(trial->root, JSON_REAL_PRECISION(10));
    assert_non_null(text);
    trial->files.rules = (struct file_text){text, strlen(text)};
    if (model_read(&trial->files, &after, &model) != ERR_INPUT)
        fail_msg("%s: a wrong “%s” is taken", trial->folder, key);
    for (size_t i = 0; i < after.count; i++) {
        if (is_of_another_file(&after.list[i]) && !holds(&trial->before, &after.list[i]))
            fail_msg("%s: of a wrong “%s” follows %s: %s", trial->folder, key, after.list[i].place,
                     after.list[i].text);
    }
    problems_clear(&after);
    free(text);
    trial->tried++;
}

static json_t *wrong_value(const json_t *right) {
    return json_is_object(right) ? json_string("zz") : json_pack("{s:i}", "zz", 1);
}

/* Makes the values below one wrong, one at a time. */
static void try_below(struct trial *trial, json_t *value) {
    for (void *at = json_object_iter(value); at != NULL; at = json_object_iter_next(value, at)) {
        json_t *right = json_incref(json_object_iter_value(at));
        assert_int_equal(json_object_iter_set_new(value, at, wrong_value(right)), 0);
        read_wrong(trial, json_object_iter_key(at));
        assert_int_equal(json_object_iter_set(value, at, right), 0);
        try_below(trial, right);
        json_decref(right);
    }
    for (size_t i = 0; i < json_array_size(value); i++) {
        json_t *right = json_incref(json_array_get(value, i));
        assert_int_equal(json_array_set_new(value, i, wrong_value(right)), 0);
        read_wrong(trial, "member of a list");
        assert_int_equal(json_array_set(value, i, right), 0);
        try_below(trial, right);
        json_decref(right);
    }
}

static void try_folder(const char *path, void *context) {
    struct case_folder folder;
    struct model *model = NULL;
    long *tried = context;
    case_folder_open(&folder, path);
    struct trial trial = {.files = folder.files, .folder = path};
    assert_int_equal(model_read(&folder.files, &trial.before, &model), ERR_OK);
    trial.root = json_loadb(folder.files.rules.text, folder.files.rules.len, 0, NULL);
    assert_non_null(trial.root);
    try_below(&trial, trial.root);
    *tried += trial.tried;
    json_decref(trial.root);
    problems_clear(&trial.before);
    model_free(model);
    case_folder_close(&folder);
}

BEHAVIOUR(a_wrong_value_makes_no_row_of_another_file_wrong) {
    long tried = 0;
    assert_true(each_case_folder(try_folder, &tried) > 100);
    assert_true(tried > 10000);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wrong_value_makes_no_row_of_another_file_wrong),
    };
    RUN_BEHAVIOURS(tests);
}
