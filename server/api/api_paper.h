/* SPDX-License-Identifier: MIT */
/* api_paper.h - the papers of an event as PDF: what the routes of the same names tell as JSON, set
 * out for print. See http.h. */
#ifndef CAIRN_API_PAPER_H
#define CAIRN_API_PAPER_H

#include "http/http.h"

/* Each writes its body and returns the HTTP status; 503 where the libraries for it are missing. */
unsigned paper_notice(struct request *r, struct textbuf *b);
unsigned paper_standings(struct request *r, struct textbuf *b);
unsigned paper_starts(struct request *r, struct textbuf *b);
unsigned paper_card(struct request *r, struct textbuf *b);
unsigned paper_control(struct request *r, struct textbuf *b);
unsigned paper_prizes(struct request *r, struct textbuf *b);
unsigned paper_codes(struct request *r, struct textbuf *b);

#endif
