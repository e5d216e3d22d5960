/* SPDX-License-Identifier: MIT */
/* http.h - one request on its way through the server: route, role, results, answer.
 * The HTTP library's threads run everything here; reads use snapshots only. */
#ifndef CAIRN_HTTP_H
#define CAIRN_HTTP_H

#include "base/textbuf.h"
#include "http/form_body.h"
#include "http/worker_pool.h"
#include "live/cache.h"
#include "live/etag.h"
#include "live/write_queue.h"
#include "scoring/standings.h"
#include "system/data_dir.h"
#include "system/http_library.h"
#include "system/version.h"

struct static_page;
struct connections;
struct server;
struct visitor;
struct stream_hub;
struct desk_reports;

enum role { ROLE_PUBLIC, ROLE_TIMEKEEPER, ROLE_ORGANISER };

struct request;

/* A line of the route table. */
struct route {
    const char *method;  /* GET (which HEAD may use too), POST or PUT */
    const char *pattern; /* "{}" stands for one part of the path */
    enum role role;      /* the least that may use it */
    size_t body_limit;   /* bytes; 0 for no body */
    const char *const
        *parameters; /* query parameters that it knows, NULL-terminated; may be NULL */
    /* Writes the body and sets what it needs in the request; returns the HTTP status. NULL for
     * routes with `act`, `write` or `special`. */
    unsigned (*render)(struct request *r, struct textbuf *b);
    /* Does what a POST asks without the writer, since it is no fact of the event; the request's
     * `body` may be NULL. Writes the answer and returns the HTTP status. */
    unsigned (*act)(struct request *r, struct textbuf *b);
    /* Makes the write of a request. Returns 0, or the status of an error already described. */
    unsigned (*write)(struct request *r, struct write *write);
    /* Tells a done write. */
    void (*tell)(struct request *r, const struct write *write, struct textbuf *b);
    /* Writes the page that tells what is wrong with a form of a page: instead of a problem, where
     * the request's `form` was read. NULL for what is no form. */
    void (*refused)(struct request *r, struct textbuf *b, unsigned status);
    enum MHD_Result (*special)(struct request *r);
    bool moves;     /* a done write is told by where it leads (303): `tell` writes that address */
    bool eventless; /* its first wildcard is no event */
    bool fresh;     /* depends on more than the event's revision: never kept, has no tag */
    bool local;     /* answered to this machine only: its figures count hidden uploads too */
    /* Costs less than handing it on: made by the thread that took the request, see dispatch.h. */
    bool at_once;
    bool always;   /* answered even when too many are here */
    bool constant; /* the same for all events and revisions of this program */
    bool paper;    /* a PDF */
};

enum { ARG_COUNT = 2, ARG_LEN = 80, PARAMETERS_MAX = 8 };

struct request {
    struct server *server;
    struct MHD_Connection *connection;
    struct visitor *visitor; /* who asks, see connections.h; NULL: nobody that is counted */
    const struct route *route;
    const char *method;
    const char *version;               /* of HTTP */
    char *path;                        /* without the query, as it was sent */
    const char *raw_query;             /* what follows its "?", as it was sent; NULL for none */
    char args[ARG_COUNT][ARG_LEN];     /* what "{}" stood for: slug, then the rest */
    const char *query[PARAMETERS_MAX]; /* values of the route's parameters, NULL where not given */
    int64_t began_us;

    struct served_event *served;
    struct snapshot *snapshot;
    enum role role;
    int key; /* place in the snapshot's keyring, -1 */
    unsigned char key_hash[32];
    const struct results *results; /* of the role; a timekeeper starts from the public one */
    const struct static_page
        *copy; /* where the page becomes a file, see static_page.h; NULL: it is answered */

    /* body */
    char *body;
    size_t body_len, body_cap;
    bool body_too_large;
    bool bad_path;         /* it holds an escaped NUL, behind which the library sees nothing */
    bool slashless;        /* its event has a page at this address with a slash behind it */
    bool bad_framing;      /* how long the body is cannot be trusted; see request_head.h */
    bool called;           /* the library's first call has been seen */
    struct form_body form; /* of a page, where the body was one */

    /* write */
    struct write *write;

    /* what is made while the connection is suspended, see dispatch.h */
    struct order order;
    bool waiting;         /* suspended, or just resumed */
    bool counted;         /* among those under way */
    struct textbuf name;  /* of the answer, see answer_kept */
    struct answer *made;  /* held; NULL */
    unsigned made_status; /* of an error, an act, or of what a write came to before the writer */
    struct textbuf told;  /* by an act */

    /* answer */
    const char *base; /* "https://HOST" for addresses on paper; NULL: as the client called it */
    const char *media_type;
    char tag[ETAG_LEN];  /* what a later If-Match may name, see etag.h; else "" */
    const char *problem; /* detail of an error, for `problem_text` */
    struct textbuf detail;
    unsigned status;
    enum refusal refusal; /* where the status alone does not tell why */
    size_t bytes_sent;
};

/* The route of a method and path.
 *   args     gets what the wildcards stood for
 *   allowed  gets the methods of the path where the method is wrong, "GET, HEAD, POST"
 * Returns: the route; NULL where there is none, `allowed` then "" (404) or not (405). */
const struct route *route_find(const char *method, const char *path, char args[][ARG_LEN],
                               char *allowed, size_t allowed_size);

/* All routes, for tests and the permission matrix. */
extern const struct route routes[];
extern const size_t route_count;

/* Describes an error: `detail` as printf. Returns the status. */
unsigned request_fail(struct request *r, unsigned status, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

/* Value of a query parameter of the route, NULL where not given. */
const char *request_query(const struct request *r, const char *name);

/* A header of the request as it was sent; NULL where it was not. */
const char *request_header(const struct request *r, const char *name);

/* Whose request it is, also behind a proxy: the bytes of a struct client_address and how many. */
size_t request_address(const struct request *r, unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]);

/* For what could be guessed: whether this client may still try, and word that what it tried was
 * wrong or right; see guess_limits.h.
 *   car  whose code is tried; 0 for a key
 * request_tried_wrong returns false where there were too many. */
bool request_may_try(const struct request *r, int64_t car);
bool request_tried_wrong(const struct request *r, int64_t car);
void request_tried_right(const struct request *r, int64_t car);

/* Appends "https://HOST", under which this server was called: what addresses on paper begin with.
 * Returns false where that is not known. */
bool request_base(const struct request *r, struct textbuf *b);

/* Scores to show, up to an item, to this request's role. Where they are not those of its results
 * they are made here: `owned_view` and `owned` are then to be freed by shown_scores_free. */
struct shown_scores {
    const struct view *view;
    const struct scores *scores;
    struct view *owned_view;
    struct scores *owned;
};
int request_scores(const struct request *r, int after, struct shown_scores *out);
void shown_scores_free(struct shown_scores *s);

/* The server as handlers see it. */
struct write_queue *server_write_queue(struct server *server);
struct stream_hub *server_streams(struct server *server);
struct desk_reports *server_desks(struct server *server);
/* What makes answers, and where those are kept that never change. */
struct worker_pool *server_makers(const struct server *server);
struct cache *server_cache(const struct server *server);
/* Requests whose connection is suspended, and writes that are not answered yet: the end waits for
 * them. Bytes of large answers that live. */
atomic_int *server_under_way(struct server *server);
atomic_llong *server_large_bytes(struct server *server);
/* Under which address the files of pages are served: "/_/VERSION". */
const char *server_assets(const struct server *server);
/* True where it is reached by TLS only. */
bool server_tls(const struct server *server);

/* Requests answered, by hundreds of the status (2 for 200 to 299), and wrong keys, since the start.
 */
long long server_requests(const struct server *server, int hundreds);
long long server_key_failures(const struct server *server);

/* Requests refused for that reason, since the start. */
long long server_refusals(const struct server *server, enum refusal refusal);

/* Who is here (connections.h), and for how long the server is. */
const struct connections *server_door(const struct server *server);
int64_t server_uptime_seconds(const struct server *server);

/* The folder of event files; that of their copies, NULL where none was named. */
const char *server_data_dir(const struct server *server);
const char *server_backups(const struct server *server);
/* What it runs to draw papers in a process apart, see drawing_process.h; NULL: they are drawn in
 * this.
 */
const char *server_program(const struct server *server);
/* When its certificate runs out, seconds since 1970; -1 without TLS. */
int64_t server_tls_expires(const struct server *server);

struct server_options {
    const char *data_dir;
    const char *host;
    unsigned port;   /* 0 takes a free one */
    bool access_log; /* a line for each request */
    /* Files in PEM form, for TLS: the server's certificate, followed by those that vouch for it,
     * and its private key. Both or none (NULL). */
    const char *tls_cert, *tls_key;
    unsigned patience_s; /* seconds for a body, see connections.h */
    int per_address;     /* connections of one address; 0 for no limit; -1 for the usual one */
    const char *proxies; /* addresses that this does not hold for, see connections.h; NULL:
                            this machine's */
    /* This program, "/proc/self/exe", to draw papers with: a text that lives for ever; NULL: they
     * are drawn by the server itself. */
    const char *program;
    const char *backups; /* folder of the copies of the event files; NULL: none is known */
};

/* Starts serving.
 *   why  gets why it failed
 * Returns: ERR_OK; ERR_IO; ERR_INPUT where certificate and key are wrong; ERR_NOMEM. */
int server_start(const struct server_options *options, struct textbuf *why, struct server **out);
unsigned server_port(const struct server *server);

/* The same without a door: holds one event of a folder, follows what others commit to it, and
 * answers server_render and server_print. Ended by server_stop. Returns and `why` as server_start;
 * where there is no such event it holds none. */
int server_open(const char *data_dir, const char *slug, struct textbuf *why, struct server **out);

/* What an address answers to the public.
 *   snapshot    of the event, held by the caller: all that is asked of one is of one revision
 *   copy        how links of pages are written, see static_page.h; NULL for links to addresses
 *   address     a path and perhaps a query, as in a request; not NULL
 *   b           gets the body
 *   media_type  gets its media type, a text that lives for ever
 * Returns: the status; 404 too where the address is no public read. Any thread that may hold a
 * snapshot. */
unsigned server_render(struct server *server, struct snapshot *snapshot,
                       const struct static_page *copy, const char *address, struct textbuf *b,
                       const char **media_type);

/* What a paper's address answers.
 *   role   ROLE_PUBLIC or ROLE_ORGANISER: whose event it shows
 *   base   "https://HOST" before the addresses on it; NULL for none
 *   b      gets the PDF; where the status is not 200, what is wrong, in words
 * Returns: the status. */
unsigned server_print(struct server *server, const char *address, enum role role, const char *base,
                      struct textbuf *b);

/* Ends a server, however it was begun: what was taken is written and answered first. NULL is
 * accepted. */
void server_stop(struct server *server);

#endif
