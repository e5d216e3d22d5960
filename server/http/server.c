/* SPDX-License-Identifier: MIT */
#include "http/server.h"

#include <errno.h>
#include <netdb.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "base/err.h"
#include "http/connections.h"
#include "http/exchange.h"
#include "http/guess_limits.h"
#include "http/server_private.h"
#include "http/stream.h"
#include "live/desk_reports.h"
#include "system/assets.h"
#include "system/hard_limits.h"
#include "system/http_library.h"
#include "system/log.h"
#include "system/system_clock.h"
#include "system/tls.h"
#include "system/words.h"

/* How long the answers to the last writes may take when the server ends, ms. */
enum { STOP_WAIT_MS = 2000 };

const struct route_table *server_routes(const struct server *server) {
    return &server->app->routes;
}

struct served_events *server_events(const struct server *server) {
    return server->events;
}

struct desk_reports *server_desk_reports(const struct server *server) {
    return server->desks;
}

struct stream_hub *server_streams(const struct server *server) {
    return server->streams;
}

struct worker_pool *server_workers(const struct server *server) {
    return server->workers;
}

const struct connections *server_connections(const struct server *server) {
    return server->connections;
}

const char *server_assets(const struct server *server) {
    return server->assets;
}

const char *server_data_dir(const struct server *server) {
    return server->data_dir;
}

const char *server_backups(const struct server *server) {
    return server->backups;
}

const char *server_program(const struct server *server) {
    return server->program;
}

int64_t server_tls_expires(const struct server *server) {
    return server->tls == NULL ? -1 : tls_expires(server->tls);
}

int64_t server_uptime_seconds(const struct server *server) {
    return (monotonic_microseconds() - server->began_us) / 1000000;
}

long long server_requests(const struct server *server, int hundreds) {
    return atomic_load(&server->requests[hundreds]);
}

long long server_refusals(const struct server *server, enum refusal refusal) {
    return atomic_load(&server->refusals[refusal]);
}

long long server_key_failures(const struct server *server) {
    return guess_limits_failures(server->guesses);
}

/* A connection begins or ends. */
static void connected(void *context, struct MHD_Connection *connection, void **socket_context,
                      enum MHD_ConnectionNotificationCode code) {
    struct server *server = context;
    if (code == MHD_CONNECTION_NOTIFY_CLOSED) {
        connections_remove(server->connections, *socket_context);
        return;
    }
    const union MHD_ConnectionInfo *address =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const union MHD_ConnectionInfo *socket =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    *socket_context =
        connections_add(server->connections, address == NULL ? NULL : address->client_addr,
                        socket == NULL ? -1 : socket->connect_fd, server->tls != NULL);
}

static enum MHD_Result admit(void *context, const struct sockaddr *address, socklen_t len) {
    struct server *server = context;
    (void)len;
    return connections_admits(server->connections, address) ? MHD_YES : MHD_NO;
}

static void published(void *context, struct served_event *served, const struct snapshot *before,
                      const struct snapshot *now) {
    struct server *server = context;
    stream_publish(server->streams, served, before, now);
}

/* How many files may be open for connections and streams: as many as the machine allows. */
static unsigned open_files(void) {
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) != 0)
        return 1000;
    limit.rlim_cur = limit.rlim_max;
    (void)setrlimit(RLIMIT_NOFILE, &limit);
    (void)getrlimit(RLIMIT_NOFILE, &limit);
    rlim_t room = limit.rlim_cur > 64 + LIMIT_EVENTS ? limit.rlim_cur - 64 - LIMIT_EVENTS : 64;
    rlim_t most = LIMIT_CONNECTIONS + LIMIT_LISTENERS;
    return (unsigned)(room < most ? room : most);
}

/* Streams have half of the files at most: pages are read and times posted however many listen. */
static unsigned listener_limit(void) {
    unsigned half = open_files() / 2;
    return half < LIMIT_LISTENERS ? half : LIMIT_LISTENERS;
}

/* Under TLS the streams are among the library's connections. */
static unsigned connection_limit(bool tls) {
    unsigned room = open_files() - (tls ? 0 : listener_limit());
    return room < LIMIT_CONNECTIONS ? room : LIMIT_CONNECTIONS;
}

/* No address may take all: half of what there is at most, where nothing else is said. */
static unsigned address_limit(const struct server_options *options, unsigned connections) {
    if (options->per_address >= 0)
        return (unsigned)options->per_address;
    return connections / 2 < LIMIT_CONNECTIONS_ADDRESS ? connections / 2
                                                       : LIMIT_CONNECTIONS_ADDRESS;
}

static int make_connections(struct server *s, const struct server_options *options,
                            struct textbuf *why) {
    unsigned connections = connection_limit(s->tls != NULL);
    struct connection_bounds bounds = {connections, address_limit(options, connections),
                                       options->patience_s, options->proxies};
    s->connections = connections_new(&bounds);
    if (s->connections == NULL)
        return ERR_NOMEM;
    if (!connections_start(s->connections)) {
        textbuf_puts(why, "there is no thread to be had");
        return ERR_IO;
    }
    return ERR_OK;
}

/* What a server with a port has besides. */
static int make_workers(struct server *s, struct textbuf *why) {
    s->constants = cache_new();
    s->workers = worker_pool_new();
    if (s->constants != NULL && s->workers != NULL)
        return ERR_OK;
    textbuf_puts(why, "there is no thread or memory to be had");
    return ERR_IO;
}

/* Copies of what the options name. */
static int copy_names(struct server *s, const struct server_options *options) {
    s->data_dir = strdup(options->data_dir);
    s->backups = options->backups == NULL ? NULL : strdup(options->backups);
    return s->data_dir == NULL || (options->backups != NULL && s->backups == NULL) ? ERR_NOMEM
                                                                                   : ERR_OK;
}

/* The library does not say why it may not listen: the same is tried once more by hand. */
static void explain_failure(const struct addrinfo *address, unsigned port, struct textbuf *why) {
    int fd = socket(address->ai_family, SOCK_STREAM | SOCK_CLOEXEC, 0);
    int reason = fd >= 0 && bind(fd, address->ai_addr, address->ai_addrlen) == 0 ? 0 : errno;
    if (fd >= 0)
        (void)close(fd);
    if (reason != 0)
        textbuf_printf(why, ": %s", strerror(reason));
    if (reason == EACCES && port < 1024)
        textbuf_puts(why,
                     "; ports below 1024 are the system's: take another, such as 8080, and put "
                     "a proxy in front");
}

static int listen_on(struct server *s, const char *host, unsigned port, struct textbuf *why) {
    struct MHD_OptionItem tls_items[TLS_OPTIONS_MAX];
    struct addrinfo hints = {.ai_flags = AI_PASSIVE | AI_NUMERICSERV, .ai_socktype = SOCK_STREAM};
    struct addrinfo *found = NULL;
    char service[16];
    (void)snprintf(service, sizeof service, "%u", port);
    int rc = getaddrinfo(host, service, &hints, &found);
    if (rc != 0) {
        textbuf_printf(why, "%s: %s", host, gai_strerror(rc));
        return ERR_IO;
    }
    long cores = sysconf(_SC_NPROCESSORS_ONLN);
    /* A pool of one is ignored by the library, so it is two at least. */
    unsigned threads = cores < 2 ? 2 : cores > 16 ? 16 : (unsigned)cores;
    unsigned flags = MHD_USE_EPOLL_INTERNAL_THREAD | MHD_USE_SUSPEND_RESUME;
    if (found->ai_family == AF_INET6)
        flags |= MHD_USE_IPv6;
    /* Without TLS streams leave the library, which must not shut their sockets down
     * (stream_sender.h). */
    flags |= s->tls != NULL ? MHD_USE_TLS : MHD_USE_TURBO;
    tls_options(s->tls, tls_items);
    /* Without its option for reuse the library lets a new server have the port of one that has
     * ended, which is wanted; with it, that of one that still serves, and each would get a part. */
    s->daemon = MHD_start_daemon(
        flags, 0, admit, s, exchange_handle, s, MHD_OPTION_SOCK_ADDR, found->ai_addr,
        MHD_OPTION_THREAD_POOL_SIZE, threads, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        (size_t)LIMIT_CONNECTION_BYTES, MHD_OPTION_CONNECTION_LIMIT,
        connections_max(s->connections), MHD_OPTION_CONNECTION_TIMEOUT,
        (unsigned)LIMIT_IDLE_SECONDS, MHD_OPTION_URI_LOG_CALLBACK, exchange_begin, s,
        MHD_OPTION_NOTIFY_COMPLETED, exchange_end, s, MHD_OPTION_NOTIFY_CONNECTION, connected, s,
        MHD_OPTION_LISTEN_BACKLOG_SIZE, 1024u, MHD_OPTION_ARRAY, tls_items, MHD_OPTION_END);
    if (s->daemon == NULL) {
        textbuf_printf(why, "cannot listen on %s port %u", host, port);
        explain_failure(found, port, why);
    }
    freeaddrinfo(found);
    return s->daemon == NULL ? ERR_IO : ERR_OK;
}

static void name_assets(struct server *s) {
    char version[ASSET_VERSION_LEN + 1];
    asset_version(version);
    (void)snprintf(s->assets, sizeof s->assets, "/_/%s", version);
}

/* All that a server without a port has, too. */
static int make_parts(struct server *s, const char *data_dir, const char *only,
                      struct textbuf *why) {
    if (!http_library_load(why))
        return ERR_IO;
    int err = words_load();
    if (err != ERR_OK) {
        textbuf_puts(why, "the words of the pages cannot be read");
        return err;
    }
    if (s->app->prepare != NULL)
        err = s->app->prepare(why);
    if (err != ERR_OK)
        return err;
    name_assets(s);
    s->guesses = guess_limits_new();
    s->desks = desk_reports_new();
    s->streams = stream_hub_new((int)listener_limit());
    if (s->guesses == NULL || s->desks == NULL || s->streams == NULL)
        return ERR_NOMEM;
    err = served_events_new(data_dir, only, published, s, why, &s->events);
    if (err == ERR_OK && why->len > 0) {
        /* An event that cannot be opened is logged, and the others are served. */
        log_errors(NULL, textbuf_text(why));
        textbuf_reset(why);
    }
    return err;
}

int server_start(const struct app *app, const struct server_options *options, struct textbuf *why,
                 struct server **out) {
    struct server *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->app = app;
    s->access_log = options->access_log;
    s->program = options->program;
    s->began_us = monotonic_microseconds();
    int err = copy_names(s, options);
    if (err == ERR_OK && options->tls_cert != NULL)
        err = tls_load(options->tls_cert, options->tls_key, why, &s->tls);
    if (err == ERR_OK)
        err = make_parts(s, options->data_dir, NULL, why);
    if (err == ERR_OK)
        err = make_workers(s, why);
    if (err == ERR_OK)
        err = make_connections(s, options, why);
    if (err == ERR_OK)
        err = listen_on(s, options->host, options->port, why);
    if (err == ERR_OK)
        *out = s;
    else
        server_stop(s);
    return err;
}

int server_open(const struct app *app, const char *data_dir, const char *slug, struct textbuf *why,
                struct server **out) {
    struct server *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->app = app;
    int err = make_parts(s, data_dir, slug, why);
    if (err == ERR_OK)
        *out = s;
    else
        server_stop(s);
    return err;
}

unsigned server_port(const struct server *s) {
    const union MHD_DaemonInfo *info =
        s->daemon == NULL ? NULL : MHD_get_daemon_info(s->daemon, MHD_DAEMON_INFO_BIND_PORT);
    return info == NULL ? 0 : info->port;
}

void server_stop(struct server *s) {
    if (s == NULL)
        return;
    /* First what is to be made is given up; what is queued is written and answered; then the
     * streams end. Only then may the daemon stop: it wants no connection suspended. Until that
     * moment it goes on taking connections, and tells new writes to come again: MHD_quiesce_daemon
     * would spare them, but with epoll it races with the library's own threads for the listening
     * socket, and who loses aborts. */
    worker_pool_stop(s->workers);
    if (s->events != NULL)
        served_events_stop(s->events);
    /* Writes are still to be answered, and the ends of streams to be sent; a client
     * that does not read is not waited for. */
    int left = STOP_WAIT_MS;
    for (; left > 0 && atomic_load(&s->under_way) > 0; left--)
        (void)nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
    stream_hub_stop(s->streams);
    for (; left > 0 && s->streams != NULL && stream_listeners(s->streams) > 0; left--)
        (void)nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
    /* A request that the library itself refuses while it stops has no answer, and it writes that
     * answer all the same: it must have none at hand. */
    connections_close(s->connections);
    if (s->daemon != NULL)
        MHD_stop_daemon(s->daemon);
    served_events_free(s->events);
    cache_free(s->constants);
    worker_pool_free(s->workers);
    stream_hub_free(s->streams);
    desk_reports_free(s->desks);
    connections_free(s->connections);
    guess_limits_free(s->guesses);
    tls_free(s->tls);
    free(s->data_dir);
    free(s->backups);
    free(s);
}
