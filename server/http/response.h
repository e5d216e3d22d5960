/* SPDX-License-Identifier: MIT */
/* response.h - responses of the HTTP library with the headers that all answers have. */
#ifndef CAIRN_RESPONSE_H
#define CAIRN_RESPONSE_H

#include <stdatomic.h>

#include "http/exchange.h"
#include "system/http_library.h"

/* A response of a buffer's bytes, which it takes; without any header.
 *   sum  counts the bytes while they live; NULL: they are not counted
 * NULL when memory is out, or the buffer has failed; then it is cleared. */
struct MHD_Response *response_take(struct textbuf *b, atomic_llong *sum);

/* The same with the headers of a response that no cache may store, but for what only TLS wants:
 * response_send adds it. */
struct MHD_Response *response_private(struct textbuf *b, const char *media_type);

/* Adds a header. Where memory is out, the response lacks it. */
void response_add(struct MHD_Response *response, const char *name, const char *value);

/* Adds the headers of every response with a body. */
void response_add_common(const struct request *r, struct MHD_Response *response);

/* Adds the media type, with the headers that pages have besides. */
void response_add_page_headers(struct MHD_Response *response, const char *media_type);

/* Queues a response that is the exchange's own, and lets it go. Sets the status. */
enum MHD_Result response_send(struct exchange *x, unsigned status, struct MHD_Response *response);

/* Sends the client on to another address.
 *   address  of this server; cleared here */
enum MHD_Result response_redirect(struct exchange *x, unsigned status, struct textbuf *address);

#endif
