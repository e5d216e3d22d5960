/* SPDX-License-Identifier: MIT */
/* server.h - the server: starts it on a folder of events, says how it is doing, ends it. What it
 * serves it is handed as a table of routes. */
#ifndef CAIRN_SERVER_H
#define CAIRN_SERVER_H

#include <stdbool.h>
#include <stdint.h>

#include "http/request.h"
#include "http/route_table.h"
#include "http/refusal.h"

struct cache;
struct connections;
struct desk_reports;
struct server;
struct stream_hub;
struct worker_pool;
struct served_events;

/* What is served. */
struct app {
    struct route_table routes;
    error_page *problem_page; /* for browsers: tells of errors in a page */
    /* Makes ready what its handlers need, once the words are there and before any thread; it may be
     * called again for another server. NULL: nothing. `why` gets why it failed. Returns ERR_OK or
     * an error. */
    int (*prepare)(struct textbuf *why);
};

struct server_options {
    const char *data_dir; /* folder of the event files */
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
    const char *backups; /* folder of the backups of the event files; NULL: none is known */
};

/* Starts serving.
 *   app  stays until the server has ended
 *   why  gets why it failed
 * Returns: ERR_OK; ERR_IO; ERR_INPUT where certificate and key are wrong; ERR_NOMEM. */
int server_start(const struct app *app, const struct server_options *options, struct textbuf *why,
                 struct server **out);

/* The same without a port: holds one event of a folder, follows what others commit to it, and is
 * asked from inside only. Ended by server_stop. Returns and `why` as server_start; where there is
 * no such event it holds none. */
int server_open(const struct app *app, const char *data_dir, const char *slug, struct textbuf *why,
                struct server **out);

/* Ends a server, however it was begun: what was taken is written and answered first. NULL is
 * accepted. */
void server_stop(struct server *server);

/* What follows may be asked by any thread. */

/* The port that it listens on; 0 for none. */
unsigned server_port(const struct server *server);

/* The routes that it was handed. */
const struct route_table *server_routes(const struct server *server);

/* Its events. */
struct served_events *server_events(const struct server *server);

/* What desks have said of themselves. */
struct desk_reports *server_desk_reports(const struct server *server);

/* Who listens to its events. */
struct stream_hub *server_streams(const struct server *server);

/* What makes answers. NULL for a server without a port. */
struct worker_pool *server_workers(const struct server *server);

/* Who is connected, see connections.h. NULL for a server without a port. */
const struct connections *server_connections(const struct server *server);

/* Under which address the files of pages are served: "/_/VERSION". */
const char *server_assets(const struct server *server);

/* The folder of event files; that of their backups, NULL where none was named. */
const char *server_data_dir(const struct server *server);
const char *server_backups(const struct server *server);

/* What it runs to draw papers in a process apart, see drawing_process.h; NULL: they are drawn in
 * this. */
const char *server_program(const struct server *server);

/* When its certificate runs out, seconds since 1970; -1 without TLS. */
int64_t server_tls_expires(const struct server *server);

/* Since its start: seconds; requests answered, by hundreds of the status (2 for 200 to 299);
 * requests refused for a reason; wrong keys and codes. */
int64_t server_uptime_seconds(const struct server *server);
long long server_requests(const struct server *server, int hundreds);
long long server_refusals(const struct server *server, enum refusal refusal);
long long server_key_failures(const struct server *server);

#endif
