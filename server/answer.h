/* SPDX-License-Identifier: MIT */
/* answer.h - makes responses: rendered pages and tables, compressed, tagged, cached; errors. */
#ifndef CAIRN_ANSWER_H
#define CAIRN_ANSWER_H

#include "http.h"

/* The answer to a reading request, from the scene's cache or rendered now.
 *   status  gets the status of an error
 * Returns: the answer, held for the caller; NULL with an error described in the request. */
struct answer *answer_for(struct request *r, unsigned *status);

/* Queues an answer: plain or compressed, whole or 304, as the request asks. */
enum MHD_Result answer_queue(struct request *r, struct answer *answer);

/* A problem document (RFC 9457) of the error described in the request.
 *   allowed  methods for a 405, else NULL */
struct MHD_Response *answer_problem(struct request *r, unsigned status, const char *allowed);

/* A response that nobody may store. Takes the buffer's bytes. NULL when memory is out. */
struct MHD_Response *answer_private(struct textbuf *b, const char *media_type);

/* Headers of every response with a body. Those that answer_private and answer_problem make have
 * them, but for what only TLS wants: answer_send adds it. */
void answer_common_headers(const struct request *r, struct MHD_Response *response);

/* Queues a response that is the request's own, and lets it go. Sets the request's status. */
enum MHD_Result answer_send(struct request *r, unsigned status, struct MHD_Response *response);

/* Leads on to an address (303), so that loading the page again sends nothing. Takes the buffer's
 * text. */
enum MHD_Result answer_move(struct request *r, struct textbuf *address);

#endif
