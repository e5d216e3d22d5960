/* SPDX-License-Identifier: MIT */
/* exchange.h - a request on its way through the server, from its head to the end of its answer.
 *
 * The HTTP library's threads run it: the address comes first, then the head, which is judged; then
 * the body; then it is answered (dispatch.h), for which its connection may be suspended while
 * another thread owns it; and it ends when the answer is sent or the client is gone. */
#ifndef CAIRN_EXCHANGE_H
#define CAIRN_EXCHANGE_H

#include "system/http_library.h"

#include "http/request.h"
#include "http/worker_pool.h"
#include "live/cache.h"
#include "http/refusal.h"

struct client;

struct exchange {
    struct request request; /* what its handler is given */
    struct client *client;  /* see connections.h; NULL where it is not counted */
    int64_t began_us;       /* of the monotonic clock */
    const char *version;    /* of HTTP */
    char *address;          /* owned: the request's path, cut off before the query */
    const char *raw_query;  /* what follows its "?", as it was sent; NULL for none */

    bool bad_path;       /* the path holds an escaped NUL, behind which the library sees nothing */
    bool slashless;      /* its event has a page at this address with a slash behind it */
    bool bad_framing;    /* how long the body is cannot be trusted; see request_head.h */
    bool called;         /* the library's first call has been seen */
    bool body_too_large; /* what came beyond the route's limit is dropped */
    char *body;          /* owned: the request's body; NULL where there is none */
    size_t body_cap;     /* room of it */

    /* What is made while the connection is suspended. */
    struct task task;
    bool waiting;             /* suspended, or just resumed */
    bool counted;             /* among those under way */
    struct textbuf cache_key; /* of the answer, see answer_kept */
    struct answer *made;      /* held; NULL */
    unsigned made_status;     /* of an error, an action, or of a write before the writer had it */
    struct textbuf result;    /* of an action */
    struct write *write;      /* of a write */

    unsigned status;      /* of the answer; before it an error's; 0 */
    enum refusal refusal; /* where the status alone does not tell why */
};

/* The library's callbacks of a request; `context` is the struct server. See MHD_OPTION_URI_LOG_-
 * CALLBACK, MHD_AccessHandlerCallback and MHD_RequestCompletedCallback. */
void *exchange_begin(void *context, const char *uri, struct MHD_Connection *connection);
enum MHD_Result exchange_handle(void *context, struct MHD_Connection *connection, const char *url,
                                const char *method, const char *version, const char *data,
                                size_t *data_size, void **state);
void exchange_end(void *context, struct MHD_Connection *connection, void **state,
                  enum MHD_RequestTerminationCode code);

#endif
