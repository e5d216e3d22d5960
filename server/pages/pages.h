/* SPDX-License-Identifier: MIT */
/* pages.h - the public pages, complete without JavaScript. */
#ifndef CAIRN_PAGES_H
#define CAIRN_PAGES_H

#include "http/request.h"

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

/* The forms by which a crew asks about its card, and the receipt of a case where the address names
 * one. */
unsigned page_enquiry(struct request *r, struct textbuf *b);

/* What the forms send: a question, which leads on to a page with the case's number and time; and
 * the code for a look at the cases of the car. */
extern const struct write_handler page_enquiry_form;
unsigned page_enquiry_cases(struct request *r, struct textbuf *b);

/* A page of this event as a QR code to pin up; the parameter `to` is its path. */
unsigned page_qr(struct request *r, struct textbuf *b);

/* The figures of the board as JSON, for the page's own script. */
unsigned page_figures(struct request *r, struct textbuf *b);

/* A file that pages load, and the worker that keeps them for when the network is gone. */
unsigned page_asset(struct request *r, struct textbuf *b);
unsigned page_board_worker(struct request *r, struct textbuf *b);

/* The shells of the desk and of the office, and the desk's service worker: the same for everybody.
 */
unsigned page_desk(struct request *r, struct textbuf *b);
unsigned page_office(struct request *r, struct textbuf *b);
unsigned page_desk_worker(struct request *r, struct textbuf *b);

/* Appends the page that tells of an error described in the request. */
void page_problem(struct request *r, struct textbuf *b, unsigned status);

#endif
