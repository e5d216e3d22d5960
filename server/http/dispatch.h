/* SPDX-License-Identifier: MIT */
/* dispatch.h - how a request that has come in whole is answered: at once where the answer is kept
 * or costs next to nothing, else by the workers (worker_pool.h), its connection suspended
 * meanwhile; writes by the writer. */
#ifndef CAIRN_DISPATCH_H
#define CAIRN_DISPATCH_H

#include "http/exchange.h"

/* Answers, or suspends the connection: then the exchange is `waiting`, and the library calls again.
 */
enum MHD_Result dispatch_begin(struct exchange *x);

/* After a connection was resumed: answers with what was made or written. */
enum MHD_Result dispatch_end(struct exchange *x);

#endif
