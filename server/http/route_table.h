/* SPDX-License-Identifier: MIT */
/* route_table.h - the table of routes: for a method and a path who may ask, what they may send, and
 * the one handler that answers. A server is handed its table when it starts (server.h); it knows no
 * handler by name. */
#ifndef CAIRN_ROUTE_TABLE_H
#define CAIRN_ROUTE_TABLE_H

#include <stdbool.h>
#include <stddef.h>

struct write;
struct request;
struct textbuf;

enum role { ROLE_PUBLIC, ROLE_TIMEKEEPER, ROLE_ORGANISER };

/* How a route is answered. */
enum handler_sort {
    HANDLER_READ,   /* by what a body is made of: snapshots, mostly */
    HANDLER_ACTION, /* by doing what a POST asks, which is no fact of the event */
    HANDLER_WRITE,  /* by the event's writer, and then by telling what came of it */
    HANDLER_STREAM  /* by the event's stream of messages (stream.h) */
};

/* A write: what goes to the event's writer, and what is answered once it is done. */
struct write_handler {
    /* Makes the write of the request's body, which borrows from the request.
     *   out  gets it, or NULL; for the caller to free, whatever is returned
     * Returns 0, or the status of an error described. */
    unsigned (*prepare)(struct request *r, struct write **out);
    /* Writes the answer. */
    void (*answer)(struct request *r, const struct write *write, struct textbuf *b);
    bool redirects; /* the answer is the address that the client is sent on to (303) */
};

struct handler {
    enum handler_sort sort;
    union {
        /* Both write the body and return the HTTP status; for one other than 200 the error is
         * described (request_fail) and the body is dropped. The media type is JSON's where the
         * handler sets no other. */
        unsigned (*read)(struct request *r, struct textbuf *b);
        unsigned (*act)(struct request *r, struct textbuf *b);
        const struct write_handler *write;
    };
};

/* What is special about a route. */
enum route_flag {
    ROUTE_EVENTLESS = 1 << 0, /* its first wildcard is no event */
    ROUTE_FRESH = 1 << 1,     /* depends on more than the event's revision: never kept, no ETag */
    ROUTE_CONSTANT = 1 << 2,  /* the same for all events and revisions of this program */
    ROUTE_LOCAL = 1 << 3, /* answered to this machine only: its figures count hidden uploads too */
    /* Costs less than handing it on: made by the thread that took the request, see dispatch.h. */
    ROUTE_AT_ONCE = 1 << 4,
    ROUTE_CROWDED = 1 << 5, /* answered even when too many are connected */
    ROUTE_PAPER = 1 << 6    /* a PDF */
};

/* A line of the table. */
struct route {
    const char *method;            /* GET (which HEAD may use too), POST or PUT */
    const char *pattern;           /* "{}" stands for one part of the path */
    enum role role;                /* the least that may use it */
    size_t body_limit;             /* bytes; 0 for no body */
    const char *const *parameters; /* of the query, NULL-terminated; NULL for none */
    struct handler handler;
    unsigned flags; /* of enum route_flag */
};

struct route_table {
    const struct route *routes;
    size_t count;
};

/* What a path may hold. */
enum {
    ARG_COUNT = 2,     /* wildcards of a pattern */
    ARG_LEN = 80,      /* bytes of what one stands for, with the NUL; also of a parameter */
    PARAMETERS_MAX = 8 /* of a route */
};

/* The route of a method and path.
 *   args     gets what the wildcards stood for
 *   allowed  gets the methods of the path where the method is wrong, "GET, HEAD, POST"
 * Returns: the route; NULL where there is none, `allowed` then "" (404) or not (405). */
const struct route *route_find(const struct route_table *table, const char *method,
                               const char *path, char args[][ARG_LEN], char *allowed,
                               size_t allowed_size);

/* True where the route has that flag. */
static inline bool route_is(const struct route *route, enum route_flag flag) {
    return (route->flags & flag) != 0;
}

/* True where the first wildcard of its pattern is an event. */
bool route_names_event(const struct route *route);

/* The place of a query parameter among the route's; -1 where it knows none of that name. */
int route_parameter(const struct route *route, const char *name);

#endif
