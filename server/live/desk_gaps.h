/* SPDX-License-Identifier: MIT */
/* desk_gaps.h - what each timekeeper's desk has sent, read back from the readings' extra columns,
 * so that it survives everything that the readings survive. Any thread that holds the snapshot. */
#ifndef CAIRN_DESK_GAPS_H
#define CAIRN_DESK_GAPS_H

#include "event/event.h"
#include "live/desk_reports.h"

/* A reading that came from a desk. */
struct desk_reading {
    const char *desk;
    int64_t seq; /* 0 where the desk did not number it */
    int index;   /* in the log */
};

/* All readings of desks, in order of desk and number.
 *   count  gets how many
 * Returns: the list, which the caller frees; NULL when memory is out. */
struct desk_reading *desk_readings_find(const struct event *event, size_t *count);

/* What a reading's column that nobody else knows holds; "" where it has none of that name. */
const char *reading_extra(const struct reading *reading, const char *name);

struct desk_gaps {
    int desks;
    int with_gaps;   /* desks that gave out numbers which are not here */
    int64_t missing; /* such numbers */
};

/* Counts an event's desks: those that sent a reading, and those that reported.
 * Returns: ERR_OK; ERR_NOMEM. */
int desk_gaps_make(const struct event *event, const struct served_event *served,
                   struct desk_reports *reports, struct desk_gaps *out);

#endif
