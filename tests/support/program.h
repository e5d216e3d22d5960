/* SPDX-License-Identifier: MIT */
/* program.h - runs a program to its end and keeps what it says. */
#ifndef CAIRN_TESTS_PROGRAM_H
#define CAIRN_TESTS_PROGRAM_H

#include <stddef.h>

/* A growing text, always ended by a zero byte once anything was read. */
struct said {
    char *bytes; /* NULL where nothing was read */
    size_t len;
};

/* What one run of the program gave. */
struct outcome {
    struct said out;
    struct said err;
    int exit_code; /* -1 where a signal ended it */
};

/* Runs the program at `path` with `argv` (its first the program's own name, its last NULL) and this
 * process's environment, its standard input included, and reads both outputs to their ends. Fails
 * the test where it cannot be started. The outcome is cleared by the caller. */
void program_run(const char *path, char *const argv[], struct outcome *result);

void outcome_clear(struct outcome *o);

/* What was said as a text: "" where nothing was. */
const char *said_text(const struct said *s);

/* `p`; ends the program where it is NULL: memory for a test that cannot go on without it. */
void *need(void *p);

#endif
