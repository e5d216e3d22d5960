/* SPDX-License-Identifier: MIT */
/* dispatch.h - how a request that has come in whole is answered: at once where the answer is kept
 * or costs next to nothing, else by the makers (worker_pool.h), its connection suspended meanwhile;
 * writes by the writer. */
#ifndef CAIRN_DISPATCH_H
#define CAIRN_DISPATCH_H

#include "http/http.h"

/* Answers, or suspends the connection: then the request is `waiting`, and the library calls again.
 */
enum MHD_Result dispatch_begin(struct request *r);

/* After a connection was resumed: answers with what was made or written. */
enum MHD_Result dispatch_end(struct request *r);

/* For what takes long: true where nobody waits for it any more, since its client and those who
 * share it have gone, or the server ends. */
bool dispatch_is_given_up(struct request *r);

/* The same as upload.h asks for it. */
bool dispatch_upload_is_given_up(void *request);

/* Says why it was not made: the server ends, or too many wait. Returns 503. */
unsigned dispatch_refuse(struct request *r);

#endif
