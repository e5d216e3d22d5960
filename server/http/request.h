/* SPDX-License-Identifier: MIT */
/* request.h - a request as its handler sees it: its address, parameters, body, role and event, and
 * what the handler may set beside the body that it writes.
 *
 * It comes from a client (exchange.h), or from inside, where a command wants a page or a paper
 * (site/render.h). It is used by one thread at a time. Its texts and whatever is put into its
 * memory live until it is answered, so that a handler frees nothing by hand; its snapshot is held
 * as long.
 */
#ifndef CAIRN_REQUEST_H
#define CAIRN_REQUEST_H

#include "base/textbuf.h"
#include "http/form_body.h"
#include "http/request_memory.h"
#include "http/route_table.h"
#include "live/etag.h"
#include "live/served_events.h"
#include "system/client_address.h"
#include "system/http_library.h"
#include "system/words.h"

struct exchange;
struct server;
struct static_page;

/* Writes the page that tells of the error described in a request, in place of a problem in JSON.
 *   status  of the HTTP answer */
typedef void error_page(struct request *r, struct textbuf *b, unsigned status);

struct request {
    struct server *server;
    struct exchange *exchange;         /* with the client; NULL where it is asked from inside */
    struct MHD_Connection *connection; /* likewise */
    struct request_memory memory;
    const struct route *route;

    /* What is asked for. Texts are the request's own unless it says otherwise. */
    const char *method;
    const char *path;                  /* without the query, as it was sent */
    char args[ARG_COUNT][ARG_LEN];     /* what "{}" stood for: slug, then the rest */
    const char *query[PARAMETERS_MAX]; /* values of the route's parameters, NULL where not given */
    const char *body;                  /* "" where there is none */
    size_t body_len;
    struct form_body form; /* of a page, where a handler has read the body as one */

    /* Of which event: all NULL where the route names none. */
    struct served_event *served;
    struct snapshot *snapshot;
    const struct results *results; /* of the role; a timekeeper starts from the public one */

    /* Who asks. */
    enum role role;
    int key;                    /* place in the snapshot's keyring, -1 */
    unsigned char key_hash[32]; /* of the key that was shown */

    /* Where it is asked from inside. */
    const struct static_page *static_page; /* where the page becomes a file; NULL: it is answered */
    const char *base;     /* "https://HOST" for addresses on paper; NULL: as the client called it */
    const char *desk_key; /* for a desk's sheet of paper; NULL for none: no request brings one */

    /* What a handler sets beside the body. */
    const char *media_type; /* of the body; lives for ever */
    char tag[ETAG_LEN];     /* what a later If-Match may name, see etag.h; else "" */
    const char *detail;     /* of an error, for people; "" */
    error_page *error_page; /* tells errors from here on; NULL: as the client's Accept asks */
};

/* ---- what went wrong ---- */

/* Describes an error: `detail` as printf. Returns the status. */
unsigned request_fail(struct request *r, unsigned status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Describes that memory is out. Returns 503. */
unsigned request_no_memory(struct request *r);

/* For what takes long: true where nobody waits for it any more, since its client and those who
 * share it have gone, or the server ends. The thread that runs the handler. */
bool request_is_abandoned(struct request *r);

/* Describes that it was not made: the server ends, or too many wait. Returns 503. */
unsigned request_abandon(struct request *r);

/* ---- what was sent ---- */

/* Value of a query parameter of the route, NULL where not given. */
const char *request_query(const struct request *r, const char *name);

/* A header of the request as it was sent; NULL where it was not. */
const char *request_header(const struct request *r, const char *name);

/* True where the body is said to be of that media type, whatever parameters follow. */
bool request_has_type(const struct request *r, const char *type);

/* The language a request is answered in: its `lang` parameter, else what the browser likes, else
 * English. */
enum lang request_language(const struct request *r);

/* True where the `lang` parameter named it, and links therefore keep it. */
bool request_names_language(const struct request *r);

/* ---- who sent it ---- */

/* The other end of its connection, which may be a proxy; NULL where there is none. */
const struct sockaddr *request_peer(const struct request *r);

/* Whose request it is, also behind a proxy: the bytes of a struct client_address and how many. */
size_t request_address(const struct request *r, unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]);

/* For what could be guessed: whether this client may still try, and notes that what it tried was
 * wrong or right; see guess_limits.h.
 *   car  whose code is tried; 0 for a key
 * request_tried_wrong returns false where there were too many. */
bool request_may_try(const struct request *r, int64_t car);
bool request_tried_wrong(const struct request *r, int64_t car);
void request_tried_right(const struct request *r, int64_t car);

/* Appends "https://HOST", under which this server was called: what addresses on paper begin with.
 * Returns false where that is not known. */
bool request_base(const struct request *r, struct textbuf *b);

#endif
