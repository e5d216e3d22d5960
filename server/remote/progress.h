/* SPDX-License-Identifier: MIT */
/* progress.h - shows a person how far a long task has come.
 * On a terminal one line on standard output that is drawn over; elsewhere a line each time that
 * something was done. Messages about single things go to standard error and do not mix with it. */
#ifndef CAIRN_PROGRESS_H
#define CAIRN_PROGRESS_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

/* A plain value; set up by progress_init. */
struct progress {
    bool quiet;
    bool on_terminal;
    bool drawn; /* a line stands on the terminal */
    size_t total;
    size_t sent;
    size_t refused;
};

/* Sets up a progress of `total` things. */
void progress_init(struct progress *progress, size_t total, bool quiet);

/* Shows how far it has come.
 *   wait  seconds until the next try, shown on a terminal only; -1 where none is waited for */
void progress_show(struct progress *progress, long wait);

/* Takes the line away, before something else is written to the terminal. */
void progress_hide(struct progress *progress);

/* Appends "712 of 1,204 sent, 3 refused". */
void progress_write(const struct progress *progress, struct textbuf *b);

/* Appends a whole number with a comma between thousands. */
void progress_write_count(struct textbuf *b, size_t count);

#endif
