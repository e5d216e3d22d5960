/* SPDX-License-Identifier: MIT */
#include "http/answer.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "http/negotiation.h"
#include "http/response.h"
#include "http/server_private.h"
#include "system/hard_limits.h"
#include "system/version.h"

/* Below this a compressed body saves nothing that a packet would notice. A large one would take
 * longer to compress well than to make. */
enum { GZIP_FROM = 600, GZIP_LEVEL = 6, GZIP_LEVEL_LARGE = 2 };

/* What an answer takes beside its bytes: the library's headers, mostly. */
enum { ANSWER_OVERHEAD = 4096 };

bool answer_may_compress(const struct request *r) {
    return accepts_gzip(request_header(r, MHD_HTTP_HEADER_ACCEPT_ENCODING));
}

/* The body as gzip; an empty buffer where that is no smaller. */
static void compress_body(const struct textbuf *b, struct textbuf *out) {
    z_stream z = {0};
    if (b->len < GZIP_FROM ||
        deflateInit2(&z, b->len < LIMIT_ANSWER_LARGE ? GZIP_LEVEL : GZIP_LEVEL_LARGE, Z_DEFLATED,
                     15 + 16, 8, Z_DEFAULT_STRATEGY) != Z_OK)
        return;
    size_t room = deflateBound(&z, b->len);
    char *bytes = malloc(room);
    z.next_in = (Bytef *)b->bytes;
    z.avail_in = (uInt)b->len;
    z.next_out = (Bytef *)bytes;
    z.avail_out = (uInt)room;
    if (bytes != NULL && deflate(&z, Z_FINISH) == Z_STREAM_END && z.total_out < b->len)
        *out = (struct textbuf){bytes, z.total_out, room, false};
    else
        free(bytes);
    (void)deflateEnd(&z);
}

/* True where the route knows a parameter of that name. */
static bool takes(const struct request *r, const char *name) {
    return route_parameter(r->route, name) >= 0;
}

/* True for what names the machine as the browser did: codes and papers. */
static bool names_host(const struct request *r) {
    return takes(r, "to") || route_is(r->route, ROUTE_PAPER);
}

/* Who may keep it, and for how long: a shared cache one second, so that it serves the crowd and
 * still shows a new revision within a second; a browser asks each time. A cache that knows one copy
 * for all hosts would hand what one client called the machine to all others. */
static const char *cache_control(const struct request *r) {
    if (r->role != ROLE_PUBLIC)
        return "private, no-store";
    if ((r->route->flags & (ROUTE_LOCAL | ROUTE_FRESH)) != 0)
        return "no-store";
    if (r->snapshot == NULL && strncmp(r->path, "/_/", 3) == 0)
        return "public, max-age=31536000, immutable";
    if (names_host(r))
        return "private, max-age=0, must-revalidate";
    return "public, max-age=0, s-maxage=1, must-revalidate";
}

/* True where an answer is in the reader's language. */
static bool has_language(const struct request *r) {
    return takes(r, "lang");
}

/* What a cache needs, with a body and with a 304 alike. */
static void add_kept_headers(const struct request *r, struct MHD_Response *response,
                             const char *etag) {
    response_add(response, MHD_HTTP_HEADER_CACHE_CONTROL, cache_control(r));
    bool chose_language = has_language(r) && !request_names_language(r);
    response_add(response, MHD_HTTP_HEADER_VARY,
                 chose_language ? "Accept-Encoding, Accept-Language, Authorization"
                                : "Accept-Encoding, Authorization");
    if (has_language(r))
        response_add(response, MHD_HTTP_HEADER_CONTENT_LANGUAGE, lang_code(request_language(r)));
    if (*etag != '\0')
        response_add(response, MHD_HTTP_HEADER_ETAG, etag);
}

static void add_headers(struct request *r, struct MHD_Response *response, const char *etag) {
    response_add_common(r, response);
    response_add(response, MHD_HTTP_HEADER_CONTENT_TYPE, r->media_type);
    add_kept_headers(r, response, etag);
    response_add_page_headers(response, r->media_type);
}

/* What people type has no end of values, and would push out what everybody asks for. */
static bool is_typed(const struct request *r) {
    static const char *const typed[] = {"q", "add", "cars", "car"};
    for (size_t i = 0; i < sizeof typed / sizeof typed[0]; i++) {
        if (request_query(r, typed[i]) != NULL)
            return true;
    }
    return names_host(r);
}

/* The key under which the answer is kept: the address with the parameters that count, and the
 * language, however it was chosen: links keep the one that the address names. */
static void write_key(const struct request *r, struct textbuf *key) {
    textbuf_puts(key, r->path);
    if (names_host(r)) {
        struct textbuf base = {0};
        textbuf_printf(key, "\n%s", request_base(r, &base) ? textbuf_text(&base) : "");
        key->failed = key->failed || base.failed;
        textbuf_clear(&base);
    }
    if (has_language(r))
        textbuf_printf(key, "\n%s%s", request_names_language(r) ? "" : "~",
                       lang_code(request_language(r)));
    for (int i = 0; r->route->parameters != NULL && r->route->parameters[i] != NULL; i++) {
        if (r->query[i] != NULL && strcmp(r->route->parameters[i], "lang") != 0)
            textbuf_printf(key, "\n%s=%s", r->route->parameters[i], r->query[i]);
    }
}

// NOLINTNEXTLINE(readability-non-const-parameter) the type is the library's
static ssize_t read_nothing(void *context, uint64_t position, char *bytes, size_t room) {
    (void)context;
    (void)position;
    (void)bytes;
    (void)room;
    return MHD_CONTENT_READER_END_WITH_ERROR;
}

/* The answer 304: the length that it tells is that of the body which is not sent. */
static struct MHD_Response *same_new(const struct request *r, size_t len, const char *etag) {
    struct MHD_Response *response =
        MHD_create_response_from_callback(len, 1, read_nothing, NULL, NULL);
    if (response != NULL)
        add_kept_headers(r, response, etag);
    return response;
}

/* Writes the tags. The revision is the cheapest there is. The versions of the program and of its
 * files are part of it, since others may write the same revision in other bytes. */
static void write_tags(const struct request *r, const struct textbuf *body, struct answer *answer) {
    char tag[sizeof answer->etag - 6] = "";
    bool tagged = (r->route->flags & (ROUTE_LOCAL | ROUTE_FRESH)) == 0;
    if (*r->tag != '\0') {
        (void)snprintf(tag, sizeof tag, "%s", r->tag);
    } else if (tagged && r->results != NULL && r->role != ROLE_TIMEKEEPER) {
        char lang[8] = "";
        if (has_language(r))
            (void)snprintf(lang, sizeof lang, "-%s", lang_code(request_language(r)));
        (void)snprintf(tag, sizeof tag, "%c%lld-" CAIRN_VERSION "-%.8s%s",
                       r->role == ROLE_ORGANISER ? 'o' : 'r', (long long)r->results->revision,
                       r->server->assets + strlen("/_/"), lang);
    } else if (tagged) {
        /* Each timekeeper sees an event of its own, which a revision does not name. */
        unsigned char hash[8];
        char hex[2 * sizeof hash + 1];
        (void)crypto_generichash(hash, sizeof hash, (const unsigned char *)body->bytes, body->len,
                                 NULL, 0);
        (void)sodium_bin2hex(hex, sizeof hex, hash, sizeof hash);
        (void)snprintf(tag, sizeof tag, "h%s", hex);
    }
    if (*tag == '\0')
        return;
    (void)snprintf(answer->etag, sizeof answer->etag, "\"%s\"", tag);
    (void)snprintf(answer->etag_gzip, sizeof answer->etag_gzip, "\"%s-gz\"", tag);
}

/* Makes the responses of a body, which it takes. A large one is made in the coding that is wanted,
 * and not in the other: it is mostly asked for once.
 *   wants_gzip  of who asked */
static bool make_responses(struct request *r, struct answer *answer, struct textbuf *b,
                           bool wants_gzip) {
    bool large = b->len >= LIMIT_ANSWER_LARGE;
    atomic_llong *sum = large ? &r->server->large_bytes : NULL;
    struct textbuf small = {0};
    size_t len = b->len;
    if (!large || wants_gzip)
        compress_body(b, &small);
    bool both = !large || small.len == 0;
    answer->bytes = (both ? b->len : 0) + small.len + ANSWER_OVERHEAD;
    if (*answer->etag != '\0' && both)
        answer->same_plain = same_new(r, len, answer->etag);
    if (*answer->etag != '\0' && small.len > 0)
        answer->same_gzip = same_new(r, small.len, answer->etag_gzip);
    if (small.len > 0) {
        answer->gzip = response_take(&small, sum);
        if (answer->gzip != NULL) {
            add_headers(r, answer->gzip, answer->etag_gzip);
            response_add(answer->gzip, MHD_HTTP_HEADER_CONTENT_ENCODING, "gzip");
        }
    }
    if (both)
        answer->plain = response_take(b, sum);
    else
        textbuf_clear(b);
    if (answer->plain != NULL)
        add_headers(r, answer->plain, answer->etag);
    return answer->plain != NULL || (!both && answer->gzip != NULL);
}

static struct answer *new_answer(struct request *r, struct textbuf *b, bool wants_gzip) {
    struct answer *answer = b->failed ? NULL : calloc(1, sizeof *answer);
    if (answer == NULL)
        return NULL;
    answer->refs = 1;
    answer->status = MHD_HTTP_OK;
    write_tags(r, b, answer);
    if (make_responses(r, answer, b, wants_gzip))
        return answer;
    answer_release(answer);
    return NULL;
}

static struct answer *render(struct request *r, unsigned *status) {
    struct textbuf b = {0};
    struct answer *answer = NULL;
    r->media_type = "application/json";
    *status = r->route->handler.read(r, &b);
    if (*status == MHD_HTTP_OK) {
        /* Before the answer is compressed, which takes 256 KB for itself: what a handler works
         * with need not stand beside it. */
        request_memory_clear(r);
        answer = new_answer(r, &b, answer_may_compress(r));
        if (answer == NULL)
            *status = request_no_memory(r);
    }
    textbuf_clear(&b);
    return answer;
}

/* Where what is asked for may be kept; NULL where it may not. */
static struct cache *cache_of(const struct request *r) {
    if (route_is(r->route, ROUTE_CONSTANT))
        return r->server->constants;
    return r->results != NULL && r->role != ROLE_TIMEKEEPER && !route_is(r->route, ROUTE_FRESH)
               ? r->results->cache
               : NULL;
}

/* True where the request can be answered with it: a large answer has one coding only. */
static bool suits(const struct request *r, const struct answer *answer) {
    return answer->plain != NULL || answer_may_compress(r);
}

bool answer_is_expensive(const struct request *r) {
    const char *by = request_query(r, "by");
    return is_typed(r) || (by != NULL && strcmp(by, "test") == 0) ||
           request_query(r, "after") != NULL;
}

struct answer *answer_kept(struct exchange *x) {
    const struct request *r = &x->request;
    struct cache *cache = cache_of(r);
    if (cache == NULL)
        return NULL;
    write_key(r, &x->cache_key);
    struct answer *answer =
        x->cache_key.failed ? NULL : cache_get(cache, textbuf_text(&x->cache_key));
    if (answer == NULL || suits(r, answer))
        return answer;
    answer_release(answer);
    return NULL;
}

struct answer *answer_make(struct exchange *x, unsigned *status) {
    struct request *r = &x->request;
    struct cache *cache = cache_of(r);
    struct answer *answer = render(r, status);
    if (answer == NULL || cache == NULL || x->cache_key.failed)
        return answer;
    bool large = answer->plain == NULL || answer->bytes >= LIMIT_ANSWER_LARGE;
    cache_put(cache, large || is_typed(r) ? CACHE_OTHER : CACHE_USUAL, textbuf_text(&x->cache_key),
              answer);
    return answer;
}

enum MHD_Result answer_queue(struct exchange *x, struct answer *answer) {
    const struct request *r = &x->request;
    bool gzip = answer->gzip != NULL && answer_may_compress(r);
    const char *known = request_header(r, MHD_HTTP_HEADER_IF_NONE_MATCH);
    struct MHD_Response *response = gzip ? answer->gzip : answer->plain;
    x->status = answer->status;
    if (known != NULL &&
        (names_etag(known, answer->etag) || names_etag(known, answer->etag_gzip))) {
        struct MHD_Response *same = gzip ? answer->same_gzip : answer->same_plain;
        x->status = MHD_HTTP_NOT_MODIFIED;
        response = same != NULL ? same : response;
    }
    return MHD_queue_response(r->connection, x->status, response);
}
