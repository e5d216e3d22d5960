/* SPDX-License-Identifier: MIT */
/* server_private.h - the parts of a server, for http/ alone. */
#ifndef CAIRN_SERVER_PRIVATE_H
#define CAIRN_SERVER_PRIVATE_H

#include <stdatomic.h>

#include "http/server.h"
#include "system/http_library.h"

/* Set up before the first request and freed after the last, by the thread that starts and stops it;
 * between the two only read, but for what is atomic. The parts have locks of their own. */
struct server {
    const struct app *app;
    struct served_events *events;
    struct stream_hub *streams;
    struct guess_limits *guesses;
    struct connections *connections; /* NULL where it listens on no port */
    struct desk_reports *desks;
    struct tls *tls; /* NULL for plain HTTP */
    struct MHD_Daemon *daemon;
    char assets[24]; /* "/_/VERSION" */
    char *data_dir, *backups;
    const char *program; /* see server.h; lives for ever */
    bool access_log;
    int64_t began_us;
    atomic_llong requests[6]; /* by hundreds of the status */
    atomic_llong refusals[REFUSAL_COUNT];
    atomic_int under_way; /* requests whose connection is suspended, and writes not answered yet:
                             the end waits for them */
    atomic_llong large_bytes;    /* of large answers that live */
    struct worker_pool *workers; /* NULL where it listens on no port */
    struct cache *constants;     /* answers that are the same for all events and revisions */
};

#endif
