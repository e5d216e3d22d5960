/* SPDX-License-Identifier: MIT */
/* shown.h - penalties as people are shown them: in points, or as time (`scoring.shown`), one point
 * being a second. What programs read, JSON, has points in any event. Source: the contract,
 * "Shown". */
#ifndef CAIRN_SHOWN_H
#define CAIRN_SHOWN_H

#include "base/textbuf.h"
#include "event/rules.h"

/* Appends thousandths as time: "0:02:11", "1:02:03.5", "75:00:00", "-0:00:05", with no more
 * decimals than needed. */
void shown_write_time(struct textbuf *b, int64_t thousandths);

/* Appends a penalty as an event shows it: "131.000" or "0:02:11". */
void shown_write_penalty(struct textbuf *b, const struct scoring *scoring, int64_t penalty);

/* The same for a price in a sentence or drawing: "15", "0.5", or "0:00:15". */
void shown_write_price(struct textbuf *b, const struct scoring *scoring, int64_t price);

#endif
