/* SPDX-License-Identifier: MIT */
/* clock_marks.h - the clock of a device against the event's, by what both showed at one moment.
 * One mark gives how far they are apart, two how the distance grows. Whole milliseconds
 * throughout. */
#ifndef CAIRN_CLOCK_MARKS_H
#define CAIRN_CLOCK_MARKS_H

#include <stdint.h>

struct textbuf;

/* A clock of which nobody knows better is taken to gain or lose no more than this, in millionths: a
 * plain quartz in the cold and in the sun. */
enum { CLOCK_DRIFT_UNKNOWN = 50, CLOCK_MARKS_MAX = 2 };

/* One moment on both clocks, in ms from midnight of the day. */
struct clock_mark {
    int64_t device;
    int64_t event;
    int64_t unit; /* what both were read to: the coarser of the two, in ms */
};

/* {0} is a device whose clock nothing is known of. */
struct clock_marks {
    struct clock_mark mark[CLOCK_MARKS_MAX];
    int count;
};

/* Adds "DEVICE=EVENT", such as 10:00:00.00=10:00:47.21. Both are times of day, or seconds where
 * one of them has no colon.
 *   why  gets what is wrong
 * Returns: ERR_OK; ERR_INPUT: not so written, a third mark, two marks at one moment or of clocks
 * that do not go alike (a thousandth apart). */
int clock_marks_add(struct clock_marks *marks, const char *text, struct textbuf *why);

/* The event's time of a device's.
 *   device       ms, up to 48 hours
 *   uncertainty  gets how far it may be wrong, in ms: what the marks were read to, and beyond them
 *                what the drift may have come to (one mark: CLOCK_DRIFT_UNKNOWN)
 * Returns: ms, rounded down; perhaps negative. `device` itself, with 0, without a mark. */
int64_t clock_marks_event(const struct clock_marks *marks, int64_t device, int64_t *uncertainty);

/* Gain of the device in millionths, rounded towards zero; 0 with less than two marks. */
int64_t clock_marks_drift(const struct clock_marks *marks);

#endif
