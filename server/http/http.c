/* SPDX-License-Identifier: MIT */
#include "http/http.h"

#include <errno.h>
#include <netdb.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <unistd.h>

#include "base/err.h"
#include "base/utf8.h"
#include "http/answer.h"
#include "http/connections.h"
#include "http/dispatch.h"
#include "http/guess_limits.h"
#include "http/request_head.h"
#include "http/stream.h"
#include "http/worker_pool.h"
#include "live/desk_reports.h"
#include "live/upload.h"
#include "output/output.h"
#include "store/keys.h"
#include "system/assets.h"
#include "system/client_address.h"
#include "system/hard_limits.h"
#include "system/http_library.h"
#include "system/log.h"
#include "system/system_clock.h"
#include "system/tls.h"
#include "system/words.h"

/* How long the answers to the last writes may take when the server ends, ms. */
enum { STOP_WAIT_MS = 2000 };

struct server {
    struct write_queue *queue;
    struct stream_hub *streams;
    struct guess_limits *guard;
    struct connections *door; /* NULL where there is none to come in by */
    struct desk_reports *desks;
    struct tls *tls; /* NULL for plain HTTP */
    struct MHD_Daemon *daemon;
    char assets[24]; /* "/_/VERSION" */
    char *data_dir, *backups;
    const char *program; /* see http.h; lives for ever */
    bool access_log;
    int64_t began_us;
    atomic_llong requests[6]; /* by hundreds of the status */
    atomic_llong refusals[REFUSAL_COUNT];
    atomic_int under_way; /* requests whose connection is suspended, and writes not answered yet */
    atomic_llong large_bytes;
    struct worker_pool *makers; /* NULL where there is no door */
    struct cache *cache;        /* of what is the same for all events and revisions */
};

struct write_queue *server_write_queue(struct server *server) {
    return server->queue;
}

struct stream_hub *server_streams(struct server *server) {
    return server->streams;
}

struct desk_reports *server_desks(struct server *server) {
    return server->desks;
}

const char *server_assets(const struct server *server) {
    return server->assets;
}

bool server_tls(const struct server *server) {
    return server->tls != NULL;
}

struct worker_pool *server_makers(const struct server *server) {
    return server->makers;
}

struct cache *server_cache(const struct server *server) {
    return server->cache;
}

atomic_int *server_under_way(struct server *server) {
    return &server->under_way;
}

atomic_llong *server_large_bytes(struct server *server) {
    return &server->large_bytes;
}

long long server_requests(const struct server *server, int hundreds) {
    return atomic_load(&server->requests[hundreds]);
}

long long server_key_failures(const struct server *server) {
    return guess_limits_failures(server->guard);
}

long long server_refusals(const struct server *server, enum refusal refusal) {
    return atomic_load(&server->refusals[refusal]);
}

const struct connections *server_door(const struct server *server) {
    return server->door;
}

int64_t server_uptime_seconds(const struct server *server) {
    return (monotonic_microseconds() - server->began_us) / 1000000;
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

unsigned request_fail(struct request *r, unsigned status, const char *format, ...) {
    char text[512];
    va_list args;
    va_start(args, format);
    (void)vsnprintf(text, sizeof text, format, args);
    va_end(args);
    /* What is quoted of an address may be no text at all. */
    if (!utf8_valid(text, strlen(text))) {
        for (char *p = text; *p != '\0'; p++) {
            if ((unsigned char)*p >= 0x80)
                *p = '?';
        }
    }
    textbuf_reset(&r->detail);
    textbuf_puts(&r->detail, text);
    return status;
}

const char *request_query(const struct request *r, const char *name) {
    for (int i = 0; r->route->parameters != NULL && r->route->parameters[i] != NULL; i++) {
        if (strcmp(r->route->parameters[i], name) == 0)
            return r->query[i];
    }
    return NULL;
}

/* What a browser may send as the name of a machine; anything else is no address to print. */
static bool is_host(const char *host) {
    return host != NULL && *host != '\0' && strlen(host) < 256 &&
           host[strspn(host,
                       "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-:[]")] ==
               '\0';
}

/* Over TLS here, or at the proxy in front. */
static bool is_secure(const struct request *r) {
    const char *told =
        MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, "X-Forwarded-Proto");
    const union MHD_ConnectionInfo *tls =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_PROTOCOL);
    return tls != NULL || (told != NULL && strcmp(told, "https") == 0);
}

bool request_base(const struct request *r, struct textbuf *b) {
    const char *host =
        r->connection == NULL
            ? NULL
            : MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_HOST);
    if (r->base != NULL)
        textbuf_puts(b, r->base);
    else if (is_host(host))
        textbuf_printf(b, "http%s://%s", is_secure(r) ? "s" : "", host);
    return b->len > 0;
}

static const struct sockaddr *address_of(const struct request *r) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    return info == NULL ? NULL : info->client_addr;
}

const char *request_header(const struct request *r, const char *name) {
    return MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, name);
}

static enum MHD_Result keep_forwarded(void *context, enum MHD_ValueKind kind, const char *name,
                                      const char *value) {
    (void)kind;
    if (value != NULL && strcasecmp(name, "X-Forwarded-For") == 0)
        *(const char **)context = value;
    return MHD_YES;
}

/* Who asks, also through a proxy. Of several such headers the last was added last. */
static struct client_address client_of(const struct request *r) {
    const char *forwarded = NULL;
    (void)MHD_get_connection_values(r->connection, MHD_HEADER_KIND, keep_forwarded, &forwarded);
    return connections_client(r->server->door, address_of(r), forwarded);
}

size_t request_address(const struct request *r, unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX]) {
    struct client_address peer = client_of(r);
    memcpy(bytes, peer.bytes, peer.len);
    return peer.len;
}

/* What a code or key is counted under. An event's place in memory is as good a number as any. */
static struct guessed tried(const struct request *r, int64_t car) {
    return (struct guessed){client_of(r), car == 0 ? 0 : (uint64_t)(uintptr_t)r->served, car};
}

bool request_may_try(const struct request *r, int64_t car) {
    struct guessed what = tried(r, car);
    return guess_limits_allows(r->server->guard, &what);
}

bool request_tried_wrong(const struct request *r, int64_t car) {
    struct guessed what = tried(r, car);
    return guess_limits_failed(r->server->guard, &what);
}

void request_tried_right(const struct request *r, int64_t car) {
    struct guessed what = tried(r, car);
    guess_limits_right(r->server->guard, &what);
}

static int find_key(const struct request *r, const char *text) {
    return key_find(r->snapshot->keys->keys, r->snapshot->keys->count, text);
}

/* Asks the writer to look for keys. On a machine whose disk hangs that takes a moment: one thread
 * may wait for it, and the others go on answering. Returns false where another waits. */
static bool look_for_key(const struct request *r) {
    bool idle = !atomic_exchange(&r->served->refreshing, true);
    if (idle) {
        write_queue_refresh(r->served);
        atomic_store(&r->served->refreshing, false);
    }
    return idle;
}

/* Who asks. Returns 0, or the status of an error. A key is compared with those of the snapshot;
 * the writer looks again before it writes. */
static unsigned authenticate(struct request *r) {
    const char *value = request_header(r, MHD_HTTP_HEADER_AUTHORIZATION);
    r->role = ROLE_PUBLIC;
    r->key = -1;
    if (value == NULL || r->snapshot == NULL)
        return 0;
    bool bearer = strncasecmp(value, "Bearer ", 7) == 0;
    if (bearer) {
        key_hash(value + 7, r->key_hash);
        r->key = find_key(r, value + 7);
    }
    /* Known, and no guess: a desk whose key was taken back is told so, whoever else tries what. */
    if (bearer && r->key < 0 &&
        key_is_revoked(r->snapshot->keys->keys, r->snapshot->keys->count, value + 7))
        return request_fail(r, MHD_HTTP_UNAUTHORIZED, "The key is not in force for this event.");
    /* The key may be newer than the snapshot: the writer is asked to look, unless this address
     * has been guessing. */
    if (bearer && r->key < 0 && request_may_try(r, 0)) {
        if (!look_for_key(r))
            return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                                "Keys are being looked for; try again.");
        snapshot_release(r->snapshot);
        r->snapshot = snapshot_acquire(&r->served->slot);
        if (r->snapshot == NULL)
            return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no event “%s”.", r->args[0]);
        r->key = find_key(r, value + 7);
    }
    if (r->key < 0) {
        if (!request_tried_wrong(r, 0))
            return request_fail(r, MHD_HTTP_TOO_MANY_REQUESTS,
                                "Too many wrong keys from this address; wait a minute.");
        return request_fail(r, MHD_HTTP_UNAUTHORIZED, "The key is not in force for this event.");
    }
    r->role = r->snapshot->keys->keys[r->key].organiser ? ROLE_ORGANISER : ROLE_TIMEKEEPER;
    return 0;
}

/* True where the request comes from this machine, and not through a proxy on it. */
static bool is_local(const struct request *r) {
    return request_header(r, "X-Forwarded-For") == NULL && request_header(r, "Forwarded") == NULL &&
           client_address_is_loopback(address_of(r));
}

/* Too many are here, and this one shows no key. What tells how the server is doing is answered all
 * the same, and a stream says it in its own words. */
static bool is_crowded_out(const struct request *r) {
    return r->role == ROLE_PUBLIC && !r->route->local && r->route->special == NULL &&
           !r->route->always && connections_are_crowded(r->server->door, r->visitor);
}

/* What people type: the address of an event's page without its last sign. */
static bool is_slashless(const struct request *r, const char *path) {
    if ((strcmp(r->method, "GET") != 0 && strcmp(r->method, "HEAD") != 0) || *path != '/' ||
        strchr(path + 1, '/') != NULL)
        return false;
    struct served_event *served = write_queue_find(r->server->queue, path + 1);
    struct snapshot *snapshot = served == NULL ? NULL : snapshot_acquire(&served->slot);
    if (snapshot != NULL)
        snapshot_release(snapshot);
    return snapshot != NULL;
}

/* Takes hold of the event that the address names, if it names one. Returns as authenticate. */
static unsigned find_event(struct request *r) {
    if (strstr(r->route->pattern, "{}") == NULL || r->route->eventless)
        return 0;
    r->served = write_queue_find(r->server->queue, r->args[0]);
    r->snapshot = r->served == NULL ? NULL : snapshot_acquire(&r->served->slot);
    if (r->snapshot != NULL)
        return 0;
    if (write_queue_is_opening(r->server->queue, r->args[0]))
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                            "The event “%s” is just being opened; try again in a moment.",
                            r->args[0]);
    return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no event “%s”.", r->args[0]);
}

/* Everything that can be told from the head alone. Returns 0, or the status of an error. */
static unsigned open_request(struct request *r, const char *path, char *allowed, size_t size) {
    if (r->bad_path)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    unsigned wrong = request_head_refusal(r);
    r->bad_framing = wrong != 0;
    if (wrong != 0)
        return wrong;
    r->route = route_find(strcmp(r->method, "HEAD") == 0 ? "GET" : r->method, path, r->args,
                          allowed, size);
    r->slashless = r->route == NULL && is_slashless(r, path);
    if (r->route == NULL && *allowed != '\0')
        return request_fail(r, MHD_HTTP_METHOD_NOT_ALLOWED, "The address takes %s.", allowed);
    if (r->route == NULL || (r->route->local && !is_local(r)))
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    for (int i = 0; r->route->parameters != NULL && r->route->parameters[i] != NULL; i++) {
        const char *value = MHD_lookup_connection_value(r->connection, MHD_GET_ARGUMENT_KIND,
                                                        r->route->parameters[i]);
        r->query[i] = value != NULL && *value != '\0' ? value : NULL;
        if (value != NULL && strlen(value) >= ARG_LEN)
            return request_fail(r, MHD_HTTP_BAD_REQUEST, "The value of “%s” is too long.",
                                r->route->parameters[i]);
    }
    unsigned status = find_event(r);
    if (status == 0)
        status = authenticate(r);
    if (status != 0)
        return status;
    if (r->route->role != ROLE_PUBLIC && r->role == ROLE_PUBLIC)
        return request_fail(r, MHD_HTTP_UNAUTHORIZED,
                            "This needs a key: Authorization: Bearer KEY.");
    if (r->role < r->route->role)
        return request_fail(r, MHD_HTTP_FORBIDDEN, "This needs an organiser's key.");
    if (is_crowded_out(r)) {
        r->refusal = REFUSAL_CROWDED;
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                            "Too many are here at once; try again in a moment.");
    }
    if (r->snapshot != NULL)
        r->results =
            r->role == ROLE_ORGANISER ? &r->snapshot->office_results : &r->snapshot->public_results;
    const char *length = request_header(r, MHD_HTTP_HEADER_CONTENT_LENGTH);
    const char *packed = request_header(r, MHD_HTTP_HEADER_CONTENT_ENCODING);
    if (r->route->body_limit > 0 && packed != NULL && strcasecmp(packed, "identity") != 0)
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send the body as it is, not packed.");
    if (r->route->body_limit > 0 && !media_is_utf8(request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE)))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send the body in UTF-8.");
    if (r->route->body_limit > 0 && length != NULL &&
        (strlen(length) > 9 || strtoul(length, NULL, 10) > r->route->body_limit))
        return request_fail(r, MHD_HTTP_CONTENT_TOO_LARGE, "The body may have %zu bytes.",
                            r->route->body_limit);
    return 0;
}

static void take_body(struct request *r, const char *data, size_t len) {
    if (r->body_len + len > r->route->body_limit) {
        r->body_too_large = true;
        return;
    }
    size_t need = r->body_len + len + 1;
    if (need > r->body_cap) {
        size_t cap = need < 4096 ? 4096 : need * 2;
        char *moved = realloc(r->body, cap);
        if (moved == NULL) {
            r->status = request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
            return;
        }
        r->body = moved;
        r->body_cap = cap;
    }
    memcpy(r->body + r->body_len, data, len);
    r->body_len += len;
    r->body[r->body_len] = '\0';
}

/* True where a body that will be refused is already on its way, and not without end. */
static bool sends_at_once(const struct request *r) {
    const char *length = request_header(r, MHD_HTTP_HEADER_CONTENT_LENGTH);
    return !r->bad_framing && request_header(r, MHD_HTTP_HEADER_EXPECT) == NULL &&
           (length == NULL ||
            (strlen(length) < 10 && strtoul(length, NULL, 10) <= LIMIT_BODY_HEARD));
}

static enum MHD_Result handle(void *context, struct MHD_Connection *connection, const char *url,
                              const char *method, const char *version, const char *data,
                              size_t *data_size, void **state) {
    (void)context;
    (void)connection;
    struct request *r = *state;
    char allowed[64] = "";
    if (r == NULL)
        return MHD_NO;
    if (!r->called) {
        r->called = true;
        r->method = method;
        r->version = version;
        r->status = open_request(r, url, allowed, sizeof allowed);
        bool has_body = strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0;
        /* Refused before its body is sent, where the client waits for a word; the connection ends
         * with it. One that sends at once is heard to its end, or it would never read the answer;
         * and an error without a body waits for the next call, which keeps the connection. */
        bool at_once = r->bad_framing || (r->status != 0 && has_body && !sends_at_once(r));
        visitor_await(r->visitor, at_once ? AWAITED_NOTHING : AWAITED_BODY);
        return at_once ? answer_error(r, r->status, allowed) : MHD_YES;
    }
    if (r->waiting) {
        r->waiting = false;
        return dispatch_end(r);
    }
    if (*data_size > 0) {
        if (r->status == 0 && r->route->body_limit > 0)
            take_body(r, data, *data_size);
        *data_size = 0;
        return MHD_YES;
    }
    visitor_await(r->visitor, AWAITED_NOTHING);
    if (r->slashless)
        return answer_slash(r);
    if (r->status != 0) {
        if (r->status == MHD_HTTP_METHOD_NOT_ALLOWED)
            (void)route_find(method, url, r->args, allowed, sizeof allowed);
        return answer_error(r, r->status, allowed);
    }
    if (r->body_too_large) {
        (void)request_fail(r, 0, "The body may have %zu bytes.", r->route->body_limit);
        return answer_error(r, MHD_HTTP_CONTENT_TOO_LARGE, NULL);
    }
    return dispatch_begin(r);
}

static struct visitor *visitor_of(struct MHD_Connection *connection) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info == NULL ? NULL : info->socket_context;
}

/* A connection begins or ends. */
static void connected(void *context, struct MHD_Connection *connection, void **socket_context,
                      enum MHD_ConnectionNotificationCode code) {
    struct server *server = context;
    if (code == MHD_CONNECTION_NOTIFY_CLOSED) {
        connections_leave(server->door, *socket_context);
        return;
    }
    const union MHD_ConnectionInfo *address =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    const union MHD_ConnectionInfo *socket =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    *socket_context =
        connections_enter(server->door, address == NULL ? NULL : address->client_addr,
                          socket == NULL ? -1 : socket->connect_fd, server->tls != NULL);
}

static enum MHD_Result admit(void *context, const struct sockaddr *address, socklen_t len) {
    struct server *server = context;
    (void)len;
    return connections_admits(server->door, address) ? MHD_YES : MHD_NO;
}

/* The library has no room for the names of a long query, and then waits as if for more of the
 * request. No address of ours takes a tenth of so many. */
static bool has_too_many_names(const char *uri) {
    enum { NAMES_MAX = 64 };
    int names = 0;
    for (const char *p = strchr(uri, '?'); p != NULL; p = strchr(p + 1, '&'))
        names++;
    return names > NAMES_MAX;
}

/* Called with the address as sent, before anything else: here the request begins. */
static void *begin(void *context, const char *uri, struct MHD_Connection *connection) {
    struct request *r = calloc(1, sizeof *r);
    if (r == NULL)
        return NULL;
    /* A client may go before the handler is ever called; the log still wants its address. */
    r->server = context;
    r->connection = connection;
    r->visitor = visitor_of(connection);
    r->began_us = monotonic_microseconds();
    r->key = -1;
    r->path = strdup(uri);
    if (r->path == NULL) {
        free(r);
        return NULL;
    }
    char *mark = strchr(r->path, '?');
    if (mark != NULL) {
        *mark = '\0';
        r->raw_query = mark + 1;
    }
    r->bad_path = strstr(r->path, "%00") != NULL;
    if (has_too_many_names(uri))
        visitor_turn_away(r->visitor);
    return r;
}

static void completed(void *context, struct MHD_Connection *connection, void **state,
                      enum MHD_RequestTerminationCode code) {
    struct server *server = context;
    struct request *r = *state;
    (void)connection;
    if (r == NULL)
        return;
    *state = NULL;
    /* After anything else the connection ends, or is a stream's, which the door has no part in. */
    visitor_await(r->visitor,
                  code == MHD_REQUEST_TERMINATED_COMPLETED_OK ? AWAITED_HEAD : AWAITED_NOTHING);
    atomic_fetch_add(&server->requests[r->status / 100 % 6], 1);
    if (r->status >= 400)
        atomic_fetch_add(
            &server->refusals[r->refusal != REFUSAL_NONE ? r->refusal : refusal_of(r->status)], 1);
    /* One that broke off before there was an answer has none to tell. */
    if (server->access_log && r->status != 0)
        log_request(address_of(r), r->method, r->path, r->status,
                    monotonic_microseconds() - r->began_us);
    if (r->counted)
        atomic_fetch_sub(&server->under_way, 1);
    answer_release(r->made);
    snapshot_release(r->snapshot);
    write_free(r->write);
    free(r->body);
    form_body_clear(&r->form);
    free(r->path);
    textbuf_clear(&r->detail);
    textbuf_clear(&r->name);
    textbuf_clear(&r->told);
    free(r);
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

static int make_door(struct server *s, const struct server_options *options, struct textbuf *why) {
    unsigned connections = connection_limit(s->tls != NULL);
    struct connection_bounds limits = {connections, address_limit(options, connections),
                                       options->patience_s, options->proxies};
    s->door = connections_new(&limits);
    if (s->door == NULL)
        return ERR_NOMEM;
    if (!connections_start(s->door)) {
        textbuf_puts(why, "there is no thread to be had");
        return ERR_IO;
    }
    return ERR_OK;
}

/* What a server with a door has beside. */
static int hire(struct server *s, struct textbuf *why) {
    s->cache = cache_new();
    s->makers = worker_pool_new();
    if (s->cache != NULL && s->makers != NULL)
        return ERR_OK;
    textbuf_puts(why, "there is no thread or memory to be had");
    return ERR_IO;
}

/* Copies of what the options name, for later questions. */
static int keep_names(struct server *s, const struct server_options *options) {
    s->data_dir = strdup(options->data_dir);
    s->backups = options->backups == NULL ? NULL : strdup(options->backups);
    return s->data_dir == NULL || (options->backups != NULL && s->backups == NULL) ? ERR_NOMEM
                                                                                   : ERR_OK;
}

/* The library does not say why it may not listen: the same is tried once more by hand. */
static void tell_why_not(const struct addrinfo *address, unsigned port, struct textbuf *why) {
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
        flags, 0, admit, s, handle, s, MHD_OPTION_SOCK_ADDR, found->ai_addr,
        MHD_OPTION_THREAD_POOL_SIZE, threads, MHD_OPTION_CONNECTION_MEMORY_LIMIT,
        (size_t)LIMIT_CONNECTION_BYTES, MHD_OPTION_CONNECTION_LIMIT, connections_max(s->door),
        MHD_OPTION_CONNECTION_TIMEOUT, (unsigned)LIMIT_IDLE_SECONDS, MHD_OPTION_URI_LOG_CALLBACK,
        begin, s, MHD_OPTION_NOTIFY_COMPLETED, completed, s, MHD_OPTION_NOTIFY_CONNECTION,
        connected, s, MHD_OPTION_LISTEN_BACKLOG_SIZE, 1024u, MHD_OPTION_ARRAY, tls_items,
        MHD_OPTION_END);
    if (s->daemon == NULL) {
        textbuf_printf(why, "cannot listen on %s port %u", host, port);
        tell_why_not(found, port, why);
    }
    freeaddrinfo(found);
    return s->daemon == NULL ? ERR_IO : ERR_OK;
}

static void name_assets(struct server *s) {
    char version[ASSET_VERSION_LEN + 1];
    asset_version(version);
    (void)snprintf(s->assets, sizeof s->assets, "/_/%s", version);
}

/* All but the door. */
static int furnish(struct server *s, const char *data_dir, const char *only, struct textbuf *why) {
    if (!http_library_load(why))
        return ERR_IO;
    int err = words_load();
    if (err != ERR_OK) {
        textbuf_puts(why, "the words of the pages cannot be read");
        return err;
    }
    name_assets(s);
    s->guard = guess_limits_new();
    s->desks = desk_reports_new();
    s->streams = stream_hub_new((int)listener_limit());
    if (s->guard == NULL || s->desks == NULL || s->streams == NULL)
        return ERR_NOMEM;
    err = write_queue_new(data_dir, only, published, s, why, &s->queue);
    if (err == ERR_OK && why->len > 0) {
        /* An event that cannot be opened is told, and the others are served. */
        log_errors(NULL, textbuf_text(why));
        textbuf_reset(why);
    }
    return err;
}

int server_start(const struct server_options *options, struct textbuf *why, struct server **out) {
    struct server *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->access_log = options->access_log;
    s->program = options->program;
    s->began_us = monotonic_microseconds();
    int err = keep_names(s, options);
    if (err == ERR_OK && options->tls_cert != NULL)
        err = tls_load(options->tls_cert, options->tls_key, why, &s->tls);
    if (err == ERR_OK)
        err = furnish(s, options->data_dir, NULL, why);
    if (err == ERR_OK)
        err = hire(s, why);
    if (err == ERR_OK)
        err = make_door(s, options, why);
    if (err == ERR_OK)
        err = listen_on(s, options->host, options->port, why);
    if (err == ERR_OK)
        *out = s;
    else
        server_stop(s);
    return err;
}

int server_open(const char *data_dir, const char *slug, struct textbuf *why, struct server **out) {
    struct server *s = calloc(1, sizeof *s);
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    int err = furnish(s, data_dir, slug, why);
    if (err == ERR_OK)
        *out = s;
    else
        server_stop(s);
    return err;
}

unsigned server_port(const struct server *s) {
    const union MHD_DaemonInfo *info = MHD_get_daemon_info(s->daemon, MHD_DAEMON_INFO_BIND_PORT);
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
    worker_pool_stop(s->makers);
    if (s->queue != NULL)
        write_queue_stop(s->queue);
    /* What was written is still to be answered, and a stream to be told that it is over; a client
     * that does not read is not waited for. */
    int left = STOP_WAIT_MS;
    for (; left > 0 && atomic_load(&s->under_way) > 0; left--)
        (void)nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
    stream_hub_stop(s->streams);
    for (; left > 0 && s->streams != NULL && stream_listeners(s->streams) > 0; left--)
        (void)nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
    if (s->daemon != NULL)
        MHD_stop_daemon(s->daemon);
    write_queue_free(s->queue);
    cache_free(s->cache);
    worker_pool_free(s->makers);
    stream_hub_free(s->streams);
    desk_reports_free(s->desks);
    connections_free(s->door);
    guess_limits_free(s->guard);
    tls_free(s->tls);
    free(s->data_dir);
    free(s->backups);
    free(s);
}
