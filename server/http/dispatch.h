/* SPDX-License-Identifier: MIT */
/* dispatch.h - who answers a request that has come in whole, by what its route is:
 *
 *   read    this thread, where the answer is kept or the route costs next to nothing
 *           (ROUTE_AT_ONCE); else a worker, and who asks for the same meanwhile shares it
 *   action  a worker, or this thread (ROUTE_AT_ONCE)
 *   write   the event's writer; a worker takes a large body apart first, this thread a small one
 *   stream  nobody: the client becomes a listener (stream.h)
 *
 * While a worker or the writer has it, its connection is suspended. Both functions are called by
 * the thread of the HTTP library that owns the connection. */
#ifndef CAIRN_DISPATCH_H
#define CAIRN_DISPATCH_H

#include "http/exchange.h"

/* Answers, or hands it on: then the connection is suspended, the exchange is `waiting` and is
 * another thread's, and the library calls exchange_handle again once that resumes the connection.
 */
enum MHD_Result dispatch_begin(struct exchange *x);

/* After a connection was resumed: answers with what was made or written. */
enum MHD_Result dispatch_end(struct exchange *x);

#endif
