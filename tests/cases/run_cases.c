/* SPDX-License-Identifier: MIT */
/* run_cases.c - runs a program on folders of cases and compares what it says with what is expected.
 *
 *   run_cases CASES_DIR PROGRAM [FILTER]
 *
 * CASES_DIR is build/cases or build/broken, where tests/support/cases.py has written each case of
 * tests/cases and tests/broken as a folder. Each folder of CASES_DIR that holds a case.json is one
 * test, in the order of their names; FILTER keeps those whose name contains it. A case.json is
 *
 *   {"about": TEXT, "contract": TEXT, "runs": [RUN, ...]}
 *
 * and each RUN starts `PROGRAM COMMAND FOLDER/event ARGS`, with these keys, all but the first
 * optional:
 *
 *   args          array of arguments
 *
 *   command       "score" (default; `--format json` is added) or another, with nothing added
 *
 *   exit          exit code, 0 if absent
 *
 *   stdout        JSON that standard output must contain, see tests/support/json_match.h
 *
 *   stdout_lines  substrings of standard output
 *
 *   stderr        substrings of standard error
 *
 *   stderr_lines  every line of standard error in order, with "FOLDER/event/" cut off its front
 *
 * A run with a key that is none of these is an error: a misspelt expectation would otherwise pass.
 * The program ends with failure where no case was found. */

#include <dirent.h>
#include <errno.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "json_match.h"
#include "program.h"
#include "testing.h"

enum { MAX_ARGS = 32, MAX_PATH = 1024 };

/* What the program under test is; set once in main. */
static const char *program_path;

/* Which run of which case this is, for messages. */
struct place {
    const char *folder;
    size_t run;
};

/* True where each of the strings in `wanted` (NULL: none) stands somewhere in `text`. */
static bool holds_all(const struct place *at, const char *what, const json_t *wanted,
                      const char *text) {
    size_t i;
    json_t *want;
    bool ok = true;

    json_array_foreach(wanted, i, want) {
        const char *part = json_string_value(want);

        if (part != NULL && strstr(text, part) != NULL)
            continue;
        print_error("%s, run %zu: %s lacks \"%s\"; it is\n%s\n", at->folder, at->run + 1, what,
                    part != NULL ? part : "(not a string)", text);
        ok = false;
    }
    return ok;
}

/* The lines of `text` without "FOLDER/" before a file's name: a new array of strings, the caller's.
 */
static json_t *lines_of(const char *text, const char *folder) {
    json_t *lines = need(json_array());
    size_t prefix = strlen(folder);

    while (*text != '\0') {
        size_t len = strcspn(text, "\n");
        const char *from = text;
        size_t left = len;

        if (left > prefix && strncmp(from, folder, prefix) == 0 && from[prefix] == '/') {
            from += prefix + 1;
            left -= prefix + 1;
        }
        json_array_append_new(lines, need(json_stringn_nocheck(from, left)));
        text += len + (text[len] == '\n' ? 1 : 0);
    }
    return lines;
}

static bool same_lines(const struct place *at, const json_t *wanted, const char *text,
                       const char *folder) {
    json_t *lines = lines_of(text, folder);
    bool ok = json_equal(wanted, lines) == 1;

    if (!ok) {
        size_t n = json_array_size(wanted) > json_array_size(lines) ? json_array_size(wanted)
                                                                    : json_array_size(lines);

        for (size_t i = 0; i < n; i++) {
            const char *want = json_string_value(json_array_get(wanted, i));
            const char *have = json_string_value(json_array_get(lines, i));

            if (want != NULL && have != NULL && strcmp(want, have) == 0)
                continue;
            print_error("%s, run %zu: line %zu of standard error\n  expected %s\n  actual   %s\n",
                        at->folder, at->run + 1, i + 1, want != NULL ? want : "nothing",
                        have != NULL ? have : "nothing");
        }
    }
    json_decref(lines);
    return ok;
}

/* True where every key of a run is one that this file knows. */
static bool known_keys(const struct place *at, json_t *run) {
    static const char *const known[] = {"args",         "command", "exit",        "stdout",
                                        "stdout_lines", "stderr",  "stderr_lines"};
    const char *key;
    json_t *value;
    bool ok = json_object_size(run) > 0;

    json_object_foreach(run, key, value) {
        bool found = false;

        for (size_t i = 0; i < sizeof known / sizeof *known; i++)
            found = found || strcmp(key, known[i]) == 0;
        if (!found)
            print_error("%s, run %zu: no key of a run: \"%s\"\n", at->folder, at->run + 1, key);
        ok = ok && found;
    }
    return ok;
}

/* The argument list of one run; its strings are borrowed from `run` and `folder`. */
static void fill_arguments(json_t *run, char *folder, char *argv[MAX_ARGS]) {
    const char *command = json_string_value(json_object_get(run, "command"));
    size_t n = 0;
    size_t i;
    json_t *arg;

    if (command == NULL)
        command = "score";
    /* posix_spawn takes char *, but changes nothing behind it. */
    argv[n++] = (char *)(uintptr_t)program_path;
    argv[n++] = (char *)(uintptr_t)command;
    argv[n++] = folder;
    if (strcmp(command, "score") == 0) {
        argv[n++] = (char *)(uintptr_t) "--format";
        argv[n++] = (char *)(uintptr_t) "json";
    }
    json_array_foreach(json_object_get(run, "args"), i, arg) {
        assert_true(json_is_string(arg) && n < MAX_ARGS - 1);
        argv[n++] = (char *)(uintptr_t)json_string_value(arg);
    }
    argv[n] = NULL;
}

/* One run of a case: true where everything it expects was met; each difference is printed. */
static bool run_matches(const struct place *at, json_t *run, char *folder) {
    char *argv[MAX_ARGS];
    struct outcome got;
    int wanted_exit = (int)json_integer_value(json_object_get(run, "exit"));
    const json_t *wanted = json_object_get(run, "stdout");
    const json_t *lines = json_object_get(run, "stderr_lines");
    bool ok = known_keys(at, run);

    fill_arguments(run, folder, argv);
    program_run(program_path, argv, &got);
    if (got.exit_code != wanted_exit) {
        print_error("%s, run %zu: exit code expected %d, actual %d; standard error is\n%s\n",
                    at->folder, at->run + 1, wanted_exit, got.exit_code, said_text(&got.err));
        ok = false;
    }
    if (wanted != NULL) {
        json_error_t error;
        json_t *actual = json_loadb(said_text(&got.out), got.out.len, 0, &error);

        if (actual == NULL) {
            print_error("%s, run %zu: standard output is no JSON: line %d: %s\n", at->folder,
                        at->run + 1, error.line, error.text);
            ok = false;
        } else {
            char what[MAX_PATH];

            (void)snprintf(what, sizeof what, "%s, run %zu", at->folder, at->run + 1);
            ok = json_matches(what, wanted, actual) && ok;
        }
        json_decref(actual);
    }
    ok = holds_all(at, "standard output", json_object_get(run, "stdout_lines"),
                   said_text(&got.out)) &&
         ok;
    ok = holds_all(at, "standard error", json_object_get(run, "stderr"), said_text(&got.err)) && ok;
    if (lines != NULL)
        ok = same_lines(at, lines, said_text(&got.err), folder) && ok;
    outcome_clear(&got);
    return ok;
}

/* The cmocka test of one folder; *state is its path. */
static void case_holds(void **state) {
    const char *folder = *state;
    char file[MAX_PATH];
    char event[MAX_PATH];
    json_error_t error;
    json_t *whole;
    json_t *runs;
    json_t *run;
    size_t i;
    bool ok = true;

    assert_true(snprintf(file, sizeof file, "%s/case.json", folder) < (int)sizeof file);
    assert_true(snprintf(event, sizeof event, "%s/event", folder) < (int)sizeof event);
    whole = json_load_file(file, JSON_REJECT_DUPLICATES, &error);
    if (whole == NULL)
        fail_msg("%s:%d: %s", file, error.line, error.text);
    runs = json_object_get(whole, "runs");
    if (json_array_size(runs) == 0)
        fail_msg("%s: no runs", file);
    json_array_foreach(runs, i, run) {
        struct place at = {.folder = folder, .run = i};

        ok = run_matches(&at, run, event) && ok;
    }
    json_decref(whole);
    if (!ok)
        fail_msg("%s does not hold", folder);
}

/* The part of a path after its last slash. */
static const char *base_name(const char *path) {
    const char *slash = strrchr(path, '/');

    return slash != NULL ? slash + 1 : path;
}

static int by_name(const void *a, const void *b) {
    const char *const *left = a;
    const char *const *right = b;

    return strcmp(*left, *right);
}

/* All case folders of `dir` whose name contains `filter` (NULL: all), sorted; *count of them. The
 * caller frees each path and the list. */
static char **find_cases(const char *dir, const char *filter, size_t *count) {
    DIR *d = opendir(dir);
    struct dirent *entry;
    char **found = NULL;

    *count = 0;
    if (d == NULL) {
        fprintf(stderr, "run_cases: %s: %s\n", dir, strerror(errno));
        return NULL;
    }
    while ((entry = readdir(d)) != NULL) {
        char file[MAX_PATH];
        int len = snprintf(file, sizeof file, "%s/%s/case.json", dir, entry->d_name);

        if (entry->d_name[0] == '.' || len < 0 || (size_t)len >= sizeof file ||
            access(file, R_OK) != 0)
            continue;
        if (filter != NULL && strstr(entry->d_name, filter) == NULL)
            continue;
        file[(size_t)len - strlen("/case.json")] = '\0';
        found = need(realloc(found, (*count + 1) * sizeof *found));
        found[(*count)++] = need(strdup(file));
    }
    closedir(d);
    if (found != NULL)
        qsort(found, *count, sizeof *found, by_name);
    return found;
}

int main(int argc, char **argv) {
    char **folders;
    struct CMUnitTest *tests;
    size_t count;
    int failed;

    if (argc < 3 || argc > 4) {
        fprintf(stderr, "usage: %s CASES_DIR PROGRAM [FILTER]\n", argv[0]);
        return EXIT_FAILURE;
    }
    program_path = argv[2];
    folders = find_cases(argv[1], argc == 4 ? argv[3] : NULL, &count);
    if (count == 0) {
        fprintf(stderr, "run_cases: no case found in %s\n", argv[1]);
        free(folders);
        return EXIT_FAILURE;
    }
    tests = need(calloc(count, sizeof *tests));
    for (size_t i = 0; i < count; i++)
        tests[i] = (struct CMUnitTest){
            .name = base_name(folders[i]), .test_func = case_holds, .initial_state = folders[i]};
    failed = _cmocka_run_group_tests(base_name(argv[1]), tests, count, NULL, NULL);
    for (size_t i = 0; i < count; i++)
        free(folders[i]);
    free(folders);
    free(tests);
    return failed == 0 ? EXIT_SUCCESS : EXIT_FAILURE;
}
