/* SPDX-License-Identifier: MIT */
/* api_cases.h - doubtful things that wait for somebody: doubts about readings, rows that were
 * refused; and those that somebody looked at and left as they are. Organisers only. See http.h. */
#ifndef CAIRN_API_CASES_H
#define CAIRN_API_CASES_H

#include "http/http.h"

/* Everything doubtful with its evidence, what moves places first; without what was acknowledged. */
unsigned api_doubts(struct request *r, struct textbuf *b);

/* Rows of uploads that were refused and not taken since, the latest first. */
unsigned api_refusals(struct request *r, struct textbuf *b);

/* What was acknowledged, and by whom and why; the latest first. */
unsigned api_acknowledgements(struct request *r, struct textbuf *b);

/* Acknowledges a doubtful thing that needs no ruling, or takes it up again. Returns 0, or the
 * status of an error described. */
unsigned write_acknowledgement(struct request *r, struct write *write);

#endif
