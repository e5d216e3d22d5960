/* SPDX-License-Identifier: MIT */
/* api_review.h - what the office asks before it decides and before it gives prizes: the
 * effect of a ruling, the list of prizes. Organisers only. See http.h. */
#ifndef CAIRN_API_REVIEW_H
#define CAIRN_API_REVIEW_H

#include "http/http.h"

/* The prizes as they will be read out. */
unsigned api_prizes(struct request *r, struct textbuf *b);

/* What decisions or readings would do, were they sent now. Changes nothing. */
unsigned act_effects(struct request *r, struct textbuf *b);

#endif
