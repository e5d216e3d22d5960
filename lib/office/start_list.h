/* SPDX-License-Identifier: MIT */
/* start_list.h - who starts a day, in which order and when: the list that starts.csv then keeps.
 * It follows from a plan and from the event's facts alone. Retired and disqualified cars are left
 * out; cars without a place start behind those that have one, by number. Not thread-safe: one
 * owner at a time; the event is only read. */
#ifndef CAIRN_START_LIST_H
#define CAIRN_START_LIST_H

#include "office/start_plan.h"

struct problems;
struct textbuf;

struct start_row {
    int car; /* place in the entry list */
    int64_t time;
    int position; /* in the standings that the order follows; 0 where it has none */
};

struct start_list {
    int day;
    struct start_row *rows; /* by time */
    int count;
};

/* Makes the list.
 *   problems  gets what is wrong (a late car that is out, standings before the first day, a start
 *             past the 47th hour) and, as doubts, what somebody should check: cars still awaited
 *             in the standings, cars that start together, items that the public does not see yet
 *   out       the rows; the caller clears them with start_list_clear in any case
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. */
int start_list_make(const struct start_plan *plan, struct problems *problems,
                    struct start_list *out);
void start_list_clear(struct start_list *list);

/* The rows as starts.csv has them, header first. */
void start_list_csv(const struct start_list *list, const struct event *event, struct textbuf *b);

/* A whole starts.csv: the rows of the old one for other days as they were, unknown columns
 * included, then these.
 *   old, len  the starts.csv that is in force; NULL where there is none
 * Returns: ERR_OK; ERR_INPUT where the old one does not read; ERR_NOMEM. */
int start_list_merge(const struct start_list *list, const struct event *event, const char *old,
                     size_t len, struct textbuf *b);

/* The rows for people, with an empty column for remarks. */
void start_list_text(const struct start_list *list, const struct event *event, struct textbuf *b);

/* One start as a JSON object: car, time, crew, vehicle, year, class. */
void start_write_json(struct textbuf *b, const struct event *event, int car, int64_t time);

#endif
