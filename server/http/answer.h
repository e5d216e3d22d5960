/* SPDX-License-Identifier: MIT */
/* answer.h - answers to reads: made once by the route's handler, compressed, tagged, and kept for
 * further requests (struct answer, live/cache.h): with the snapshot that they tell of, or with the
 * server where they are the same for all events. An answer is counted; it never changes. */
#ifndef CAIRN_ANSWER_H
#define CAIRN_ANSWER_H

#include "http/exchange.h"

/* The answer to a read where it is kept already, held for the caller; else NULL. Names what is
 * asked for in the exchange. */
struct answer *answer_kept(struct exchange *x);

/* Makes the answer, after answer_kept, and keeps it. The memory of the request is cleared.
 *   status  gets the status of an error
 * Returns: the answer, held for the caller; NULL with an error described in the request. Any thread
 * while the connection is suspended. */
struct answer *answer_make(struct exchange *x, unsigned *status);

/* True where the request accepts an answer that is compressed. */
bool answer_may_compress(const struct request *r);

/* True for what few will ask for, and what costs more than a page of the board. */
bool answer_is_expensive(const struct request *r);

/* Queues an answer: plain or compressed, whole or 304, as the request asks. The library holds what
 * it sends. */
enum MHD_Result answer_queue(struct exchange *x, struct answer *answer);

#endif
