/* SPDX-License-Identifier: MIT */
/* pages.h - the public pages, complete without JavaScript. See http.h. */
#ifndef CAIRN_PAGES_H
#define CAIRN_PAGES_H

#include "http/http.h"

/* Each writes a whole page and returns the HTTP status. */
unsigned page_events(struct request *r, struct textbuf *b);
unsigned page_event(struct request *r, struct textbuf *b);
unsigned page_standings(struct request *r, struct textbuf *b);
unsigned page_screen(struct request *r, struct textbuf *b);
unsigned page_card(struct request *r, struct textbuf *b);
unsigned page_compare(struct request *r, struct textbuf *b);
unsigned page_test(struct request *r, struct textbuf *b);
unsigned page_starts(struct request *r, struct textbuf *b);
unsigned page_notices(struct request *r, struct textbuf *b);

/* A page of this event as a QR code to pin up; the parameter `to` is its path. */
unsigned page_qr(struct request *r, struct textbuf *b);

/* The figures of the board as JSON, for the page's own script. */
unsigned page_figures(struct request *r, struct textbuf *b);

/* A file that pages load, and the worker that keeps them for when the network is gone. */
unsigned page_asset(struct request *r, struct textbuf *b);
unsigned page_board_worker(struct request *r, struct textbuf *b);

/* Appends the page that tells an error described in the request. */
void page_problem(struct request *r, struct textbuf *b, unsigned status);

#endif
