/* SPDX-License-Identifier: MIT */
/* answer.h - makes responses: rendered pages and tables, compressed, tagged, cached; errors. */
#ifndef CAIRN_ANSWER_H
#define CAIRN_ANSWER_H

#include "http/http.h"

/* The answer to a reading request where it is kept already, held for the caller; else NULL. Names
 * what is asked for in the request. */
struct answer *answer_kept(struct request *r);

/* Makes the answer, after answer_kept, and keeps it. What it costs, and whether memory can be had,
 * nobody knows before.
 *   status  gets the status of an error
 * Returns: the answer, held for the caller; NULL with an error described in the request. Any thread
 * while the request is suspended. */
struct answer *answer_make(struct request *r, unsigned *status);

/* True where the request can be answered with it: a large answer has one coding only. */
bool answer_suits(const struct request *r, const struct answer *answer);

/* True where the request accepts an answer that is compressed. */
bool answer_may_compress(const struct request *r);

/* True for what only some will ask for, and what costs more than a page of the board. */
bool answer_is_dear(const struct request *r);

/* Answers with the error described in the request.
 *   allowed  methods for a 405, else NULL */
enum MHD_Result answer_error(struct request *r, unsigned status, const char *allowed);

/* Queues an answer: plain or compressed, whole or 304, as the request asks. */
enum MHD_Result answer_queue(struct request *r, struct answer *answer);

/* A response that nobody may store. Takes the buffer's bytes. NULL when memory is out. */
struct MHD_Response *answer_private(struct textbuf *b, const char *media_type);

/* Headers of every response with a body. Those that answer_private makes have them,
 * but for what only TLS wants: answer_send adds it. */
void answer_common_headers(const struct request *r, struct MHD_Response *response);

/* Queues a response that is the request's own, and lets it go. Sets the request's status. */
enum MHD_Result answer_send(struct request *r, unsigned status, struct MHD_Response *response);

/* Leads on to an address (303), so that loading the page again sends nothing. Takes the buffer's
 * text. */
enum MHD_Result answer_move(struct request *r, struct textbuf *address);

/* Sends on, for good, to the same address with a slash behind it. */
enum MHD_Result answer_slash(struct request *r);

#endif
