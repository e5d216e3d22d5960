/* SPDX-License-Identifier: MIT */
/* api_desk.h - what a timekeeper's desk asks for and tells, and what the office sees of the desks.
 * See http.h. */
#ifndef CAIRN_API_DESK_H
#define CAIRN_API_DESK_H

#include "http/http.h"

/* The server's clock, for desks to set theirs by: never kept by anybody. */
unsigned api_clock(struct request *r, struct textbuf *b);

/* The event as a desk needs it: the points of its key, and the cars. */
unsigned api_desk(struct request *r, struct textbuf *b);

/* The cars expected at the point of the parameter "point", in order, and which were seen. */
unsigned api_expected(struct request *r, struct textbuf *b);

/* Takes a desk's report on itself. */
unsigned act_desk_report(struct request *r, struct textbuf *b);

/* For the office: every desk with its sequence numbers, gaps and latest report; and the readings
 * that a desk has put a flag on. */
unsigned api_desks(struct request *r, struct textbuf *b);
unsigned api_flags(struct request *r, struct textbuf *b);

/* The shells of the desk and of the office, and the desk's service worker. All are the same for
 * everybody. */
unsigned page_control(struct request *r, struct textbuf *b);
unsigned page_office(struct request *r, struct textbuf *b);
unsigned page_worker(struct request *r, struct textbuf *b);

#endif
