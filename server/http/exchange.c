/* SPDX-License-Identifier: MIT */
#include "http/exchange.h"

#include <stdlib.h>
#include <string.h>

#include "format/media_type.h"
#include "http/connections.h"
#include "http/dispatch.h"
#include "http/error_answer.h"
#include "http/request_head.h"
#include "http/response.h"
#include "http/server_private.h"
#include "live/write.h"
#include "store/keys.h"
#include "system/hard_limits.h"
#include "system/log.h"
#include "system/system_clock.h"

static int find_key(const struct request *r) {
    return key_find(r->snapshot->keys->keys, r->snapshot->keys->count, r->key_hash);
}

/* Has the writer read the keys anew. On a machine whose disk hangs that takes a moment: one thread
 * may wait for it, and the others go on answering. Returns false where another waits. */
static bool refresh_keys(const struct request *r) {
    bool idle = !atomic_exchange(&r->served->refreshing, true);
    if (idle) {
        served_event_refresh(r->served);
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
        r->key = find_key(r);
    }
    /* A revoked key is no guess: a desk that has one gets this answer however many others guess. */
    if (bearer && r->key < 0 &&
        key_is_revoked(r->snapshot->keys->keys, r->snapshot->keys->count, r->key_hash))
        return request_fail(r, MHD_HTTP_UNAUTHORIZED, "The key is not in force for this event.");
    /* The key may be newer than the snapshot: the writer is asked to look, unless this address
     * has been guessing. */
    if (bearer && r->key < 0 && request_may_try(r, 0)) {
        if (!refresh_keys(r))
            return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                                "Keys are being looked for; try again.");
        snapshot_release(r->snapshot);
        r->snapshot = snapshot_acquire(&r->served->slot);
        if (r->snapshot == NULL)
            return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no event “%s”.", r->args[0]);
        r->key = find_key(r);
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
           client_address_is_loopback(request_peer(r));
}

/* Too many are connected, and this one shows no key. Figures of the server are answered all the
 * same, as are routes that say so. */
static bool is_crowded_out(const struct exchange *x) {
    const struct request *r = &x->request;
    return r->role == ROLE_PUBLIC && !route_is(r->route, ROUTE_LOCAL) &&
           !route_is(r->route, ROUTE_CROWDED) &&
           connections_are_crowded(r->server->connections, x->client);
}

/* What people type: the address of an event's page without its last slash. */
static bool is_slashless(const struct request *r, const char *path) {
    if ((strcmp(r->method, "GET") != 0 && strcmp(r->method, "HEAD") != 0) || *path != '/' ||
        strchr(path + 1, '/') != NULL)
        return false;
    struct served_event *served = served_events_find(r->server->events, path + 1);
    struct snapshot *snapshot = served == NULL ? NULL : snapshot_acquire(&served->slot);
    if (snapshot != NULL)
        snapshot_release(snapshot);
    return snapshot != NULL;
}

/* Takes hold of the event that the address names, if it names one. Returns as authenticate. */
static unsigned find_event(struct request *r) {
    if (!route_names_event(r->route))
        return 0;
    r->served = served_events_find(r->server->events, r->args[0]);
    r->snapshot = r->served == NULL ? NULL : snapshot_acquire(&r->served->slot);
    if (r->snapshot != NULL)
        return 0;
    if (served_events_is_opening(r->server->events, r->args[0]))
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                            "The event “%s” is just being opened; try again in a moment.",
                            r->args[0]);
    return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no event “%s”.", r->args[0]);
}

/* The values of the query's parameters that the route knows. Returns as authenticate. */
static unsigned read_query(struct request *r) {
    const char *const *names = r->route->parameters;
    for (int i = 0; names != NULL && names[i] != NULL; i++) {
        const char *value =
            MHD_lookup_connection_value(r->connection, MHD_GET_ARGUMENT_KIND, names[i]);
        r->query[i] = value != NULL && *value != '\0' ? value : NULL;
        if (value != NULL && strlen(value) >= ARG_LEN)
            return request_fail(r, MHD_HTTP_BAD_REQUEST, "The value of “%s” is too long.",
                                names[i]);
    }
    return 0;
}

/* Whether the role may use this route. Returns as authenticate. */
static unsigned authorise(struct exchange *x) {
    struct request *r = &x->request;
    if (r->route->role != ROLE_PUBLIC && r->role == ROLE_PUBLIC)
        return request_fail(r, MHD_HTTP_UNAUTHORIZED,
                            "This needs a key: Authorization: Bearer KEY.");
    if (r->role < r->route->role)
        return request_fail(r, MHD_HTTP_FORBIDDEN, "This needs an organiser's key.");
    if (is_crowded_out(x)) {
        x->refusal = REFUSAL_CROWDED;
        return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                            "Too many are here at once; try again in a moment.");
    }
    return 0;
}

/* What the head tells of the body. Returns as authenticate. */
static unsigned check_body_head(struct request *r) {
    const char *length = request_header(r, MHD_HTTP_HEADER_CONTENT_LENGTH);
    const char *coding = request_header(r, MHD_HTTP_HEADER_CONTENT_ENCODING);
    if (r->route->body_limit == 0)
        return 0;
    if (coding != NULL && strcasecmp(coding, "identity") != 0)
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE,
                            "Send the body as it is, not packed.");
    if (!media_type_is_utf8(request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE)))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send the body in UTF-8.");
    if (length != NULL && (strlen(length) > 9 || strtoul(length, NULL, 10) > r->route->body_limit))
        return request_fail(r, MHD_HTTP_CONTENT_TOO_LARGE, "The body may have %zu bytes.",
                            r->route->body_limit);
    return 0;
}

/* The route, and whether it is there for this client. Returns as authenticate.
 *   allowed  gets the methods for a 405 */
static unsigned find_route(struct exchange *x, const char *path, char *allowed, size_t size) {
    struct request *r = &x->request;
    r->route =
        route_find(&r->server->app->routes, strcmp(r->method, "HEAD") == 0 ? "GET" : r->method,
                   path, r->args, allowed, size);
    x->slashless = r->route == NULL && is_slashless(r, path);
    if (r->route == NULL && *allowed != '\0')
        return request_fail(r, MHD_HTTP_METHOD_NOT_ALLOWED, "The address takes %s.", allowed);
    if (r->route == NULL || (route_is(r->route, ROUTE_LOCAL) && !is_local(r)))
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    return 0;
}

/* All that follows from the head alone. Returns 0, or the status of an error. */
static unsigned judge_head(struct exchange *x, const char *path, char *allowed, size_t size) {
    struct request *r = &x->request;
    if (x->bad_path)
        return request_fail(r, MHD_HTTP_NOT_FOUND, "There is nothing at this address.");
    unsigned status = request_head_refusal(x);
    x->bad_framing = status != 0;
    if (status == 0)
        status = find_route(x, path, allowed, size);
    if (status == 0)
        status = read_query(r);
    if (status == 0)
        status = find_event(r);
    if (status == 0)
        status = authenticate(r);
    if (status == 0)
        status = authorise(x);
    if (status != 0)
        return status;
    if (r->snapshot != NULL)
        r->results =
            r->role == ROLE_ORGANISER ? &r->snapshot->office_results : &r->snapshot->public_results;
    return check_body_head(r);
}

static void take_body(struct exchange *x, const char *data, size_t len) {
    struct request *r = &x->request;
    if (r->body_len + len > r->route->body_limit) {
        x->body_too_large = true;
        return;
    }
    size_t need = r->body_len + len + 1;
    if (need > x->body_cap) {
        size_t cap = need < 4096 ? 4096 : need * 2;
        char *moved = realloc(x->body, cap);
        if (moved == NULL) {
            x->status = request_no_memory(r);
            return;
        }
        r->body = x->body = moved;
        x->body_cap = cap;
    }
    memcpy(x->body + r->body_len, data, len);
    r->body_len += len;
    x->body[r->body_len] = '\0';
}

/* True where a body that will be refused is already on its way, and not without end. */
static bool sends_at_once(const struct exchange *x) {
    const struct request *r = &x->request;
    const char *length = request_header(r, MHD_HTTP_HEADER_CONTENT_LENGTH);
    return !x->bad_framing && request_header(r, MHD_HTTP_HEADER_EXPECT) == NULL &&
           (length == NULL ||
            (strlen(length) < 10 && strtoul(length, NULL, 10) <= LIMIT_BODY_HEARD));
}

/* The library's first call, with the head. */
static enum MHD_Result take_head(struct exchange *x, const char *url, const char *method,
                                 const char *version) {
    char allowed[64] = "";
    x->head_seen = true;
    x->request.method = method;
    x->version = version;
    x->status = judge_head(x, url, allowed, sizeof allowed);
    bool has_body = strcmp(method, "GET") != 0 && strcmp(method, "HEAD") != 0;
    /* Refused before its body is sent, where the client waits for a word; the connection ends
     * with it. One that sends at once is heard to its end, or it would never read the answer;
     * and an error without a body waits for the next call, which keeps the connection. */
    bool at_once = x->bad_framing || (x->status != 0 && has_body && !sends_at_once(x));
    client_await(x->client, at_once ? AWAITED_NOTHING : AWAITED_BODY);
    return at_once ? error_answer(x, x->status, allowed) : MHD_YES;
}

/* Sends on, for good, to the same address with a slash behind it. */
static enum MHD_Result add_slash(struct exchange *x) {
    struct textbuf address = {0};
    textbuf_printf(&address, "%s/", x->address);
    if (x->raw_query != NULL)
        textbuf_printf(&address, "?%s", x->raw_query);
    return response_redirect(x, MHD_HTTP_PERMANENT_REDIRECT, &address);
}

/* The request has come in whole. */
static enum MHD_Result answer(struct exchange *x, const char *url) {
    struct request *r = &x->request;
    char allowed[64] = "";
    client_await(x->client, AWAITED_NOTHING);
    if (x->slashless)
        return add_slash(x);
    if (x->status != 0) {
        if (x->status == MHD_HTTP_METHOD_NOT_ALLOWED)
            (void)route_find(&r->server->app->routes, r->method, url, r->args, allowed,
                             sizeof allowed);
        return error_answer(x, x->status, allowed);
    }
    if (x->body_too_large) {
        (void)request_fail(r, 0, "The body may have %zu bytes.", r->route->body_limit);
        return error_answer(x, MHD_HTTP_CONTENT_TOO_LARGE, NULL);
    }
    return dispatch_begin(x);
}

enum MHD_Result exchange_handle(void *context, struct MHD_Connection *connection, const char *url,
                                const char *method, const char *version, const char *data,
                                size_t *data_size, void **state) {
    (void)context;
    (void)connection;
    struct exchange *x = *state;
    if (x == NULL)
        return MHD_NO;
    if (!x->head_seen)
        return take_head(x, url, method, version);
    if (x->waiting) {
        x->waiting = false;
        return dispatch_end(x);
    }
    if (*data_size > 0) {
        if (x->status == 0 && x->request.route->body_limit > 0)
            take_body(x, data, *data_size);
        *data_size = 0;
        return MHD_YES;
    }
    return answer(x, url);
}

static struct client *client_of_connection(struct MHD_Connection *connection) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(connection, MHD_CONNECTION_INFO_SOCKET_CONTEXT);
    return info == NULL ? NULL : info->socket_context;
}

/* The library has no room for the names of a long query, and then waits as if for more of the
 * request. No route takes a tenth of so many. */
static bool has_too_many_names(const char *uri) {
    enum { NAMES_MAX = 64 };
    int names = 0;
    for (const char *p = strchr(uri, '?'); p != NULL; p = strchr(p + 1, '&'))
        names++;
    return names > NAMES_MAX;
}

/* Called with the address as sent, before anything else. */
void *exchange_begin(void *context, const char *uri, struct MHD_Connection *connection) {
    struct server *server = context;
    struct client *client = client_of_connection(connection);
    /* The library forgets what it was given for such a request, where the server ends before the
     * client has gone: it is given nothing. */
    if (has_too_many_names(uri)) {
        client_refuse_address(client);
        atomic_fetch_add(&server->requests[MHD_HTTP_URI_TOO_LONG / 100], 1);
        return NULL;
    }
    struct exchange *x = calloc(1, sizeof *x);
    if (x == NULL)
        return NULL;
    x->address = strdup(uri);
    if (x->address == NULL) {
        free(x);
        return NULL;
    }
    /* A client may go before the handler is ever called; the log still wants its address. */
    x->request.server = server;
    x->request.exchange = x;
    x->request.connection = connection;
    x->request.key = -1;
    x->request.detail = "";
    x->request.body = "";
    x->request.path = x->address;
    x->client = client;
    x->began_us = monotonic_microseconds();
    char *mark = strchr(x->address, '?');
    if (mark != NULL) {
        *mark = '\0';
        x->raw_query = mark + 1;
    }
    x->bad_path = strstr(x->address, "%00") != NULL;
    return x;
}

static void free_exchange(struct exchange *x) {
    request_memory_clear(&x->request);
    form_body_clear(&x->request.form);
    answer_release(x->made);
    snapshot_release(x->request.snapshot);
    write_free(x->write);
    textbuf_clear(&x->cache_key);
    textbuf_clear(&x->result);
    free(x->body);
    free(x->address);
    free(x);
}

void exchange_end(void *context, struct MHD_Connection *connection, void **state,
                  enum MHD_RequestTerminationCode code) {
    struct server *server = context;
    struct exchange *x = *state;
    (void)connection;
    if (x == NULL)
        return;
    *state = NULL;
    /* After anything else the connection ends, or is a stream's, on which no request is awaited. */
    client_await(x->client,
                 code == MHD_REQUEST_TERMINATED_COMPLETED_OK ? AWAITED_HEAD : AWAITED_NOTHING);
    atomic_fetch_add(&server->requests[x->status / 100 % 6], 1);
    if (x->status >= 400)
        atomic_fetch_add(
            &server->refusals[x->refusal != REFUSAL_NONE ? x->refusal : refusal_of(x->status)], 1);
    /* One that broke off before there was an answer has none to log. */
    if (server->access_log && x->status != 0)
        log_request(request_peer(&x->request), x->request.method, x->request.path, x->status,
                    monotonic_microseconds() - x->began_us);
    if (x->counted)
        atomic_fetch_sub(&server->under_way, 1);
    free_exchange(x);
}
