/* SPDX-License-Identifier: MIT */
/* what_if.h - what an event would be with a few more decisions or readings, to be judged before
 * they are made. The event itself is not changed: a trial has logs of its own. Not thread-safe: one
 * owner at a time. */
#ifndef CAIRN_WHAT_IF_H
#define CAIRN_WHAT_IF_H

#include "scoring/scoring.h"

struct what_if {
    const struct event *of;
    struct event event;          /* with what was tried, after what_if_score */
    struct decisions *decisions; /* all that were there, and those that were tried */
    struct readings *readings;   /* the same; NULL until a reading is tried */
    struct rulings *rulings;     /* after what_if_score */
    struct view *view;
    struct scores *scores;
};

/* Begins a trial.
 *   event  borrowed until what_if_free
 * Returns: ERR_OK or ERR_NOMEM. Owner: the caller. */
int what_if_new(const struct event *event, struct what_if **out);

/* Tries a decision or a reading; as decisions_add and readings_add. A revoke must name a decision
 * that is there. */
enum fact_result what_if_decision(struct what_if *trial, const struct decision_text *text,
                                  struct textbuf *reason);
enum fact_result what_if_reading(struct what_if *trial, const struct reading_text *text,
                                 struct textbuf *reason);

/* Scores what was tried so far, as it would be seen from there; again after further tries.
 * Returns: ERR_OK or ERR_NOMEM. */
int what_if_score(struct what_if *trial, struct view_request request);

/* Frees a trial; NULL is accepted. */
void what_if_free(struct what_if *trial);

#endif
