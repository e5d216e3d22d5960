/* SPDX-License-Identifier: MIT */
/* desk_list.h - the timekeepers' desks of an event: what each has sent, read back from the
 * readings' extra columns, so that it survives everything that the readings survive, and what each
 * reported last. Any thread that holds the snapshot. */
#ifndef CAIRN_DESK_LIST_H
#define CAIRN_DESK_LIST_H

#include "event/event.h"
#include "live/desk_reports.h"

/* A reading that came from a desk. */
struct desk_reading {
    const char *desk;
    int64_t seq; /* 0 where the desk did not number it */
    int index;   /* in the log */
};

/* A plain value that holds a list; the desks are taken from it one by one. */
struct desk_list {
    struct desk_reading *readings; /* in order of desk and number */
    struct desk_report *reports;   /* in order of desk */
    size_t reading_count, report_count;
    size_t next_reading, next_report;
};

/* A desk that sent a reading, or reported, or both. Borrowed from its list. */
struct desk {
    const char *id;
    const struct desk_reading *readings; /* in order of their numbers */
    size_t reading_count;
    const struct desk_report *report; /* NULL where it has not reported since the server started */
    int64_t first;                    /* the first number that is here; 0 for none */
    int64_t last;                     /* the last one that is here or was reported; 0 for none */
    int64_t here;                     /* how many numbers are here, each counted once */
};

/* Lists the desks of an event.
 *   out  to be cleared by desk_list_clear, also on failure; may not outlive the event
 * Returns: ERR_OK; ERR_NOMEM. */
int desk_list_make(const struct event *event, const struct served_event *served,
                   struct desk_reports *reports, struct desk_list *out);
void desk_list_clear(struct desk_list *list);

/* Takes the next desk, in the order of their ids. Returns false where there is none any more. */
bool desk_list_next(struct desk_list *list, struct desk *out);

struct desk_gaps {
    int desks;
    int with_gaps;   /* desks that gave out numbers which are not here */
    int64_t missing; /* such numbers */
};

/* Counts an event's desks and what is missing of them.
 * Returns: ERR_OK; ERR_NOMEM. */
int desk_list_gaps(const struct event *event, const struct served_event *served,
                   struct desk_reports *reports, struct desk_gaps *out);

#endif
