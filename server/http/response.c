/* SPDX-License-Identifier: MIT */
#include "http/response.h"

#include <stdlib.h>
#include <string.h>

#include "http/server_private.h"
#include "system/html.h"

static const char html_policy[] =
    "default-src 'none'; style-src 'self'; script-src 'self'; worker-src 'self'; "
    "connect-src 'self'; img-src 'self' data:; form-action 'self'; base-uri 'none'; "
    "frame-ancestors 'none'";

void response_add(struct MHD_Response *response, const char *name, const char *value) {
    (void)MHD_add_response_header(response, name, value);
}

/* How long a browser that was here over TLS insists on it: an event and its aftermath, not the
 * years after which the same name may serve something else. */
static const char transport_security[] = "max-age=2592000";

static void add_own(struct MHD_Response *response) {
    response_add(response, "X-Content-Type-Options", "nosniff");
    response_add(response, "Referrer-Policy", "no-referrer");
}

/* A page runs and frames nothing that is not the server's own. */
void response_add_page_headers(struct MHD_Response *response, const char *media_type) {
    if (strncmp(media_type, "text/html", 9) != 0)
        return;
    response_add(response, "Content-Security-Policy", html_policy);
    response_add(response, "X-Frame-Options", "DENY");
}

static void add_transport(const struct request *r, struct MHD_Response *response) {
    if (r->server->tls != NULL)
        response_add(response, MHD_HTTP_HEADER_STRICT_TRANSPORT_SECURITY, transport_security);
}

void response_add_common(const struct request *r, struct MHD_Response *response) {
    add_own(response);
    add_transport(r, response);
}

/* The bytes of a large answer, counted for as long as a connection sends them. */
struct large {
    atomic_llong *sum;
    size_t len;
    char *bytes;
};

static void free_large(void *context) {
    struct large *large = context;
    atomic_fetch_sub(large->sum, (long long)large->len);
    free(large->bytes);
    free(large);
}

static struct MHD_Response *large_response(char *bytes, size_t len, atomic_llong *sum) {
    struct large *large = malloc(sizeof *large);
    if (large == NULL)
        return NULL;
    *large = (struct large){sum, len, bytes};
    struct MHD_Response *response =
        MHD_create_response_from_buffer_with_free_callback_cls(len, bytes, free_large, large);
    if (response == NULL)
        free(large);
    else
        atomic_fetch_add(sum, (long long)len);
    return response;
}

struct MHD_Response *response_take(struct textbuf *b, atomic_llong *sum) {
    if (b->failed) {
        textbuf_clear(b);
        return NULL;
    }
    /* A buffer that grew has up to as much room again, and an answer may be kept for long. */
    char *fitting = b->len > 0 && b->cap > b->len ? realloc(b->bytes, b->len) : NULL;
    if (fitting != NULL)
        b->bytes = fitting;
    struct MHD_Response *response =
        sum != NULL ? large_response(b->bytes, b->len, sum)
                    : MHD_create_response_from_buffer(b->len, b->bytes, MHD_RESPMEM_MUST_FREE);
    if (response == NULL)
        textbuf_clear(b);
    *b = (struct textbuf){0};
    return response;
}

struct MHD_Response *response_private(struct textbuf *b, const char *media_type) {
    struct MHD_Response *response = response_take(b, NULL);
    if (response == NULL)
        return NULL;
    add_own(response);
    response_add(response, MHD_HTTP_HEADER_CONTENT_TYPE, media_type);
    response_add(response, MHD_HTTP_HEADER_CACHE_CONTROL, "private, no-store");
    response_add(response, MHD_HTTP_HEADER_VARY, "Accept-Encoding, Authorization");
    response_add_page_headers(response, media_type);
    return response;
}

enum MHD_Result response_send(struct exchange *x, unsigned status, struct MHD_Response *response) {
    add_transport(&x->request, response);
    x->status = status;
    enum MHD_Result result = MHD_queue_response(x->request.connection, status, response);
    MHD_destroy_response(response);
    return result;
}

enum MHD_Result response_redirect(struct exchange *x, unsigned status, struct textbuf *address) {
    struct textbuf body = {0};
    struct MHD_Response *response = NULL;
    textbuf_printf(&body, "<!DOCTYPE html><title>%u</title><p><a href=\"", status);
    html_text(&body, textbuf_text(address));
    textbuf_printf(&body, "\">%u</a></p>\n", status);
    if (!address->failed)
        response = response_private(&body, "text/html; charset=utf-8");
    else
        textbuf_clear(&body);
    if (response != NULL)
        response_add(response, MHD_HTTP_HEADER_LOCATION, textbuf_text(address));
    textbuf_clear(address);
    return response == NULL ? MHD_NO : response_send(x, status, response);
}
