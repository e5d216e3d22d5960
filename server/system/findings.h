/* SPDX-License-Identifier: MIT */
/* findings.h - what a check of the machine, of files or of a server has found: each finding is one
 * line that begins with "good: ", "doubtful: " or "bad: ". One thread. */
#ifndef CAIRN_FINDINGS_H
#define CAIRN_FINDINGS_H

#include "base/textbuf.h"

enum finding {
    FINDING_GOOD,     /* as it should be */
    FINDING_DOUBTFUL, /* a person should look; the event can go on */
    FINDING_BAD       /* to be mended before anything else */
};

/* What was found so far. Zero before the first finding; `report` is the caller's to clear. */
struct findings {
    struct textbuf report;
    int counts[FINDING_BAD + 1];
};

/* Adds a line. Text that others wrote is given as an argument, never as the format; control
 * characters in it are written as "?". */
void findings_add(struct findings *f, enum finding finding, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
