/* SPDX-License-Identifier: MIT */
/* what_if.h - what an event would be with a few more decisions or readings, to see before they are
 * made. The event itself is not changed: a what-if has logs of its own. Not thread-safe: one owner
 * at a time. */
#ifndef CAIRN_WHAT_IF_H
#define CAIRN_WHAT_IF_H

#include "scoring/scoring.h"

struct what_if {
    const struct event *of;
    struct event event;          /* with what was added, after what_if_score */
    struct decisions *decisions; /* those of the event, and those that were added */
    struct readings *readings;   /* the same; NULL until a reading is added */
    struct rulings *rulings;     /* after what_if_score */
    struct view *view;
    struct scores *scores;
};

/* Begins with the event as it is.
 *   event  borrowed until what_if_free
 * Returns: ERR_OK or ERR_NOMEM. Owner: the caller. */
int what_if_new(const struct event *event, struct what_if **out);

/* Adds a decision or a reading; as decisions_add and readings_add. A revoke must name a decision
 * that is there. */
enum fact_result what_if_decision(struct what_if *what_if, const struct decision_text *text,
                                  struct textbuf *reason);
enum fact_result what_if_reading(struct what_if *what_if, const struct reading_text *text,
                                 struct textbuf *reason);

/* Scores the event with what was added so far; again after more was added.
 * Returns: ERR_OK or ERR_NOMEM. */
int what_if_score(struct what_if *what_if, struct view_request request);

/* Frees it; NULL is accepted. */
void what_if_free(struct what_if *what_if);

#endif
