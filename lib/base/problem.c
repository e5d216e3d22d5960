/* SPDX-License-Identifier: MIT */
#include "base/problem.h"

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/array.h"

void problems_clear(struct problems *problems) {
    for (size_t i = 0; i < problems->count; i++) {
        free((char *)problems->list[i].place);
        free((char *)problems->list[i].text);
    }
    free(problems->list);
    *problems = (struct problems){0};
}

bool problems_keeps(const struct problems *problems, enum problem_level level) {
    return problems->by_level[level] <= PROBLEMS_KEPT;
}

void problems_count_only(struct problems *problems, enum problem_level level) {
    problems->by_level[level]++;
}

/* Counts a problem first, so that an error stays fatal even where memory for it is out. Returns
 * false where so many of its level are kept that it is only counted. */
static bool count_and_keep(struct problems *problems, enum problem_level level) {
    bool keeps = problems_keeps(problems, level);
    problems->by_level[level]++;
    return keeps;
}

/* Keeps a problem, or counts it where memory is out. The last of a level that is kept says instead
 * that there are more.
 *   place, text  on the heap, taken over; NULL where memory was out */
static void keep(struct problems *problems, enum problem_level level, char *place, char *text) {
    struct problem *list = NULL;
    if (problems->by_level[level] > PROBLEMS_KEPT) {
        free(text);
        text = strdup("there are more of this kind from here on; they are not told");
    }
    if (place != NULL && text != NULL)
        list = array_reserve(problems->list, &problems->cap, problems->count + 1, sizeof *list);
    if (list == NULL) {
        problems->out_of_memory = true;
        free(place);
        free(text);
        return;
    }
    problems->list = list;
    list[problems->count++] = (struct problem){level, place, text};
}

void problems_add(struct problems *problems, enum problem_level level, const char *file, long line,
                  const char *format, ...) {
    if (!count_and_keep(problems, level))
        return;
    va_list args;
    va_start(args, format);
    char *place = NULL;
    char *text = NULL;
    int n = line > 0 ? asprintf(&place, "%s:%ld", file, line) : asprintf(&place, "%s", file);
    if (n < 0)
        place = NULL;
    if (vasprintf(&text, format, args) < 0)
        text = NULL;
    va_end(args);
    keep(problems, level, place, text);
}

void problems_add_at(struct problems *problems, enum problem_level level, const char *place,
                     const char *text) {
    if (count_and_keep(problems, level))
        keep(problems, level, strdup(place), strdup(text));
}

bool problems_out_of_memory(const struct problems *problems) {
    return problems->out_of_memory;
}

bool problems_fatal(const struct problems *problems) {
    return problems->by_level[PROBLEM_ERROR] > 0;
}
