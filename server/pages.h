/* SPDX-License-Identifier: MIT */
/* pages.h - the public pages, complete without JavaScript. See http.h. */
#ifndef CAIRN_PAGES_H
#define CAIRN_PAGES_H

#include "http.h"

/* Each writes a whole page and returns the HTTP status. */
unsigned page_events(struct request *r, struct textbuf *b);
unsigned page_standings(struct request *r, struct textbuf *b);
unsigned page_card(struct request *r, struct textbuf *b);
unsigned page_test(struct request *r, struct textbuf *b);
unsigned page_starts(struct request *r, struct textbuf *b);
unsigned page_notices(struct request *r, struct textbuf *b);
unsigned page_asset(struct request *r, struct textbuf *b);

/* Appends the page that tells an error described in the request. */
void page_problem(struct request *r, struct textbuf *b, unsigned status);

#endif
