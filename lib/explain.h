/* SPDX-License-Identifier: MIT */
/* explain.h - how a number came about, in the trade's words.
 * Writes from the workings that made the number, never from a second calculation; each step that
 * changed the number has its words. English; the pages put it beside the figures. */
#ifndef CAIRN_EXPLAIN_H
#define CAIRN_EXPLAIN_H

#include "sheet.h"
#include "textbuf.h"

/* What an explanation may look at. */
struct story {
    const struct event *event;
    const struct view *view;
    const struct sheet *sheet; /* the car's, scored */
    const struct item *item;
    int scored; /* place of the scored point */
};

/* Appends the sentence(s) on one scored point. */
void explain_point(struct textbuf *b, const struct story *story);

/* Pieces for the kinds: "3 s late at 1 a second = 3", with grace and cap; "Missed: …". */
void explain_price(struct textbuf *b, const struct penalty_rule *rule, const struct working *w);
void explain_missed(struct textbuf *b, const struct item *item);

/* "at most 300: 300"-like tail for a special test's cap is written by its kind. Appends a
 * reading as read and, where truncation changed it, as counted: "10:42:59.9, counted as 10:42:59".
 *   read     as read, ms
 *   counted  after truncation, ms */
void explain_reading(struct textbuf *b, int64_t read, int64_t counted);

/* The same for durations. */
void explain_duration(struct textbuf *b, int64_t read, int64_t counted);

/* Appends a penalty with no more decimals than needed. */
void explain_penalty(struct textbuf *b, int64_t penalty);

/* Name of a reading point for people: its id. */
const char *explain_point_id(const struct story *story, int point);

#endif
