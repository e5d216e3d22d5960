/* SPDX-License-Identifier: MIT */
#include "json_match.h"

#include <stdarg.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "program.h"
#include "testing.h"

enum { MAX_PATH = 1024 };

/* Where we are, for messages. */
struct place {
    const char *what;
    char path[MAX_PATH]; /* JSON path within it */
};

/* One printable line of a JSON value; the caller frees it. NULL prints as "nothing". */
static char *json_line(const json_t *v) {
    if (v == NULL)
        return need(strdup("nothing"));
    return need(json_dumps(v, JSON_ENCODE_ANY | JSON_COMPACT));
}

static void say_mismatch(const struct place *at, const json_t *expected, const json_t *actual) {
    char *want = json_line(expected);
    char *have = json_line(actual);

    print_error("%s: at $%s\n  expected %s\n  actual   %s\n", at->what, at->path, want, have);
    free(want);
    free(have);
}

/* Longer by a step of the path; returns the old length, to be given to path_back. */
__attribute__((format(printf, 2, 3))) static size_t path_on(struct place *at, const char *format,
                                                            ...) {
    size_t old = strlen(at->path);
    va_list args;

    va_start(args, format);
    (void)vsnprintf(at->path + old, sizeof at->path - old, format, args);
    va_end(args);
    return old;
}

static void path_back(struct place *at, size_t old) {
    at->path[old] = '\0';
}

static bool match(struct place *at, const json_t *expected, const json_t *actual, bool quiet);

/* Each of `wanted` must match some element of `actual`. Where one does not, the element that shares
 * its first key's value, if any, is the one to show: `{"car": 3, ...}` is compared with car 3, not
 * with the whole list. */
static bool match_any(struct place *at, const json_t *wanted, const json_t *actual, bool quiet) {
    size_t i;
    json_t *want;
    bool ok = true;

    json_array_foreach(wanted, i, want) {
        size_t k;
        json_t *have;
        const json_t *nearest = actual;
        bool found = false;

        json_array_foreach(actual, k, have) {
            void *first = json_object_iter(want);

            if (match(at, want, have, true)) {
                found = true;
                break;
            }
            if (first != NULL && nearest == actual &&
                json_equal(json_object_iter_value(first),
                           json_object_get(have, json_object_iter_key(first))) == 1)
                nearest = have;
        }
        if (!found) {
            ok = false;
            if (!quiet) {
                size_t old = path_on(at, "[any %zu]", i);

                say_mismatch(at, want, nearest);
                path_back(at, old);
            }
        }
    }
    return ok;
}

/* quiet   nothing is printed
 * actual  may be NULL, which matches nothing */
static bool match(struct place *at, const json_t *expected, const json_t *actual, bool quiet) {
    bool ok = true;

    if (json_is_object(expected) && json_is_array(actual)) {
        const json_t *any = json_object_get(expected, "$any");

        if (any != NULL && json_object_size(expected) == 1)
            return match_any(at, any, actual, quiet);
    }
    if (json_is_object(expected) && json_is_object(actual)) {
        const char *key;
        json_t *want;

        /* Only read, although the library's loop takes a pointer to non-const. */
        json_object_foreach((json_t *)(uintptr_t)expected, key, want) {
            size_t old = path_on(at, ".%s", key);

            ok = match(at, want, json_object_get(actual, key), quiet) && ok;
            path_back(at, old);
        }
        return ok;
    }
    if (json_is_array(expected) && json_is_array(actual) &&
        json_array_size(expected) == json_array_size(actual)) {
        size_t i;
        json_t *want;

        json_array_foreach(expected, i, want) {
            size_t old = path_on(at, "[%zu]", i);

            ok = match(at, want, json_array_get(actual, i), quiet) && ok;
            path_back(at, old);
        }
        return ok;
    }
    if (actual != NULL && json_equal(expected, actual) == 1)
        return true;
    if (!quiet)
        say_mismatch(at, expected, actual);
    return false;
}

bool json_matches(const char *what, const json_t *expected, const json_t *actual) {
    struct place at = {.what = what};

    return match(&at, expected, actual, false);
}
