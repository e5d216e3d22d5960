/* SPDX-License-Identifier: MIT */
#include "http/request.h"

#include <stdarg.h>
#include <stdio.h>
#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/utf8.h"
#include "format/media_type.h"
#include "http/connections.h"
#include "http/exchange.h"
#include "http/guess_limits.h"
#include "http/server_private.h"

/* ---- what went wrong ---- */

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
    struct arena *arena = request_arena(r);
    const char *kept = arena == NULL ? NULL : arena_text(arena, text, strlen(text));
    r->detail = kept == NULL ? "" : kept;
    return status;
}

unsigned request_no_memory(struct request *r) {
    r->detail = "Out of memory; try again.";
    return MHD_HTTP_SERVICE_UNAVAILABLE;
}

bool request_is_abandoned(struct request *r) {
    return r->exchange != NULL && worker_pool_is_abandoned(r->server->workers, &r->exchange->task);
}

unsigned request_abandon(struct request *r) {
    bool stopping = worker_pool_is_stopping(r->server->workers);
    if (r->exchange != NULL)
        r->exchange->refusal = stopping ? REFUSAL_STOPPING : REFUSAL_BUSY;
    return request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE,
                        stopping ? "The server is stopping; try again."
                                 : "Too many answers wait to be made; try again.");
}

/* ---- what was sent ---- */

const char *request_query(const struct request *r, const char *name) {
    int place = route_parameter(r->route, name);
    return place < 0 ? NULL : r->query[place];
}

const char *request_header(const struct request *r, const char *name) {
    return r->connection == NULL
               ? NULL
               : MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, name);
}

bool request_has_type(const struct request *r, const char *type) {
    return media_type_is(request_header(r, MHD_HTTP_HEADER_CONTENT_TYPE), type);
}

enum lang request_language(const struct request *r) {
    enum lang lang = LANG_EN;
    const char *asked = r->route != NULL ? request_query(r, "lang") : NULL;
    if (asked == NULL || lang_parse(asked, &lang) != ERR_OK)
        lang = lang_accepted(request_header(r, MHD_HTTP_HEADER_ACCEPT_LANGUAGE));
    return lang;
}

bool request_names_language(const struct request *r) {
    enum lang lang;
    const char *asked = r->route != NULL ? request_query(r, "lang") : NULL;
    return asked != NULL && lang_parse(asked, &lang) == ERR_OK;
}

/* ---- who sent it ---- */

/* What a browser may send as the name of a machine; anything else is no address to print. */
static bool is_host(const char *host) {
    return host != NULL && *host != '\0' && strlen(host) < 256 &&
           host[strspn(host,
                       "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-:[]")] ==
               '\0';
}

/* Over TLS here, or at the proxy in front. */
static bool is_secure(const struct request *r) {
    const char *protocol = request_header(r, "X-Forwarded-Proto");
    const union MHD_ConnectionInfo *tls =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_PROTOCOL);
    return tls != NULL || (protocol != NULL && strcmp(protocol, "https") == 0);
}

bool request_base(const struct request *r, struct textbuf *b) {
    const char *host = request_header(r, MHD_HTTP_HEADER_HOST);
    if (r->base != NULL)
        textbuf_puts(b, r->base);
    else if (is_host(host))
        textbuf_printf(b, "http%s://%s", is_secure(r) ? "s" : "", host);
    return b->len > 0;
}

const struct sockaddr *request_peer(const struct request *r) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(r->connection, MHD_CONNECTION_INFO_CLIENT_ADDRESS);
    return info == NULL ? NULL : info->client_addr;
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
    return connections_address_of(r->server->connections, request_peer(r), forwarded);
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
    return guess_limits_allows(r->server->guesses, &what);
}

bool request_tried_wrong(const struct request *r, int64_t car) {
    struct guessed what = tried(r, car);
    return guess_limits_failed(r->server->guesses, &what);
}

void request_tried_right(const struct request *r, int64_t car) {
    struct guessed what = tried(r, car);
    guess_limits_succeeded(r->server->guesses, &what);
}
