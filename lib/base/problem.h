/* SPDX-License-Identifier: MIT */
/* problem.h - what is wrong or doubtful in a file, each with its place.
 * A list owns copies of its texts. Adding returns no result: where memory is out the list is
 * marked, see problems_out_of_memory. Not thread-safe. */
#ifndef CAIRN_PROBLEM_H
#define CAIRN_PROBLEM_H

#include <stdbool.h>
#include <stddef.h>

/* How grave a problem is. */
enum problem_level {
    PROBLEM_ERROR,   /* the file cannot be used */
    PROBLEM_REFUSED, /* one row is left out, the others are used */
    PROBLEM_WARNING, /* used, but somebody should check */
    PROBLEM_DOUBT    /* found by a check, for a person to decide */
};

/* Most problems of one level that are kept: each takes more memory than the row that it is about,
 * and a file with more of them is probably the wrong file. One more problem says that there are
 * others, and `by_level` counts all. */
enum { PROBLEMS_KEPT = 10000 };

struct problem {
    enum problem_level level;
    const char *place; /* "readings.csv:12" or "event.json: route[3].day" */
    const char *text;
};

struct problems {
    struct problem *list;
    size_t count;
    size_t cap;
    size_t by_level[4];
    bool out_of_memory;
};

/* Frees what the list owns and makes it empty. */
void problems_clear(struct problems *problems);

/* False where so many of a level are there that another would only be counted, so that the caller
 * need not write its text. */
bool problems_keeps(const struct problems *problems, enum problem_level level);

/* Counts a problem that has no text, where problems_keeps is false. */
void problems_count_only(struct problems *problems, enum problem_level level);

/* Adds a problem of a line of a file; line 0 means the file as a whole. The text is as printf. */
void problems_add(struct problems *problems, enum problem_level level, const char *file, long line,
                  const char *format, ...) __attribute__((format(printf, 5, 6)));

/* Adds a problem at a place already written out. */
void problems_add_at(struct problems *problems, enum problem_level level, const char *place,
                     const char *text);

/* True where memory was out and a problem could not be kept. */
bool problems_out_of_memory(const struct problems *problems);

/* True where the list holds an error. */
bool problems_fatal(const struct problems *problems);

#endif
