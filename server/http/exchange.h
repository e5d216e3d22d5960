/* SPDX-License-Identifier: MIT */
/* exchange.h - one request on its way through the server, from its first line to the end of its
 * answer.
 *
 * The HTTP library accepts connections on a few threads of its own, and each connection stays with
 * one of them. All that follows happens on that thread, but for what is between 5 and 6:
 *
 * 1. A connection begins: it is counted, or closed unheard (connections.h, server.c).
 * 2. exchange_begin: the address has come. The exchange is made.
 * 3. exchange_handle, first call: the head has come, and is judged before any body is read: framing
 *    (request_head.h), route (route_table.h), query, event and its snapshot, key, and whether there
 *    is room for one more.
 * 4. exchange_handle, while there is data: the body, as much as the route takes.
 * 5. exchange_handle, without data: the request is there. One that was found wrong gets its error
 *    (error_answer.h). Any other is answered at once, or its connection is suspended and it is
 *    handed to a worker (worker_pool.h) or to its event's writer (live/write.h): dispatch.h
 *    says which. Whoever has it owns the exchange and its request until it resumes the connection,
 *    and touches neither from then on. A stream takes its connection out of here (stream.h).
 * 6. exchange_handle, once resumed: what was made is queued (answer.h, response.h), and the library
 *    sends it.
 * 7. exchange_end: it is sent, or the client has gone. Counted, logged, freed.
 *
 * One connection has many such requests, one after the other. */
#ifndef CAIRN_EXCHANGE_H
#define CAIRN_EXCHANGE_H

#include "http/refusal.h"
#include "http/request.h"
#include "http/worker_pool.h"
#include "live/cache.h"
#include "system/http_library.h"

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
    bool head_seen;      /* exchange_handle was called before */
    bool body_too_large; /* what came beyond the route's limit is dropped */
    char *body;          /* owned: the request's body; NULL where there is none */
    size_t body_cap;     /* room of it */

    /* What is made while the connection is suspended; each of its kind of handler. */
    struct task task;
    bool waiting;             /* suspended, or just resumed */
    bool counted;             /* among the server's `under_way` */
    struct textbuf cache_key; /* of a read's answer, see answer_kept */
    struct answer *made;      /* of a read: held; NULL */
    unsigned made_status;     /* of an error, an action, or of a write before the writer had it */
    struct textbuf result;    /* of an action */
    struct write *write;      /* of a write: owned, but the writer's while it has it */

    unsigned status;      /* of the answer; before it an error's; 0 */
    enum refusal refusal; /* where the status alone does not tell why */
};

/* The library's callbacks of a request, in the order above; `context` is the struct server, and
 * `*state` what exchange_begin returned: NULL where memory was out or the address names too much.
 * See MHD_OPTION_URI_LOG_CALLBACK, MHD_AccessHandlerCallback and MHD_RequestCompletedCallback. */
void *exchange_begin(void *context, const char *uri, struct MHD_Connection *connection);
enum MHD_Result exchange_handle(void *context, struct MHD_Connection *connection, const char *url,
                                const char *method, const char *version, const char *data,
                                size_t *data_size, void **state);
void exchange_end(void *context, struct MHD_Connection *connection, void **state,
                  enum MHD_RequestTerminationCode code);

#endif
