/* SPDX-License-Identifier: MIT */
#include "http/answer.h"

#include <sodium.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>
#include <zlib.h>

#include "format/json_write.h"
#include "pages/page.h"
#include "pages/pages.h"
#include "system/hard_limits.h"
#include "system/html.h"

/* Below this a compressed body saves nothing that a packet would notice. A large one would take
 * longer to compress well than to make. */
enum { GZIP_FROM = 600, GZIP_LEVEL = 6, GZIP_LEVEL_LARGE = 2 };

/* What an answer takes beside its bytes: the library's headers, mostly. */
enum { ANSWER_OVERHEAD = 4096 };

static const char html_policy[] =
    "default-src 'none'; style-src 'self'; script-src 'self'; worker-src 'self'; connect-src "
    "'self'; "
    "img-src 'self' data:; form-action 'self'; base-uri 'none'; frame-ancestors 'none'";

static void add(struct MHD_Response *response, const char *name, const char *value) {
    (void)MHD_add_response_header(response, name, value);
}

/* How long a browser that was here over TLS insists on it: an event and its aftermath, not the
 * years after which the same name may serve something else. */
static const char transport_security[] = "max-age=2592000";

static void add_own(struct MHD_Response *response) {
    add(response, "X-Content-Type-Options", "nosniff");
    add(response, "Referrer-Policy", "no-referrer");
}

/* A page runs and frames nothing that is not the server's own. */
static void add_page_headers(struct MHD_Response *response) {
    add(response, "Content-Security-Policy", html_policy);
    add(response, "X-Frame-Options", "DENY");
}

static void add_transport(const struct request *r, struct MHD_Response *response) {
    if (server_tls(r->server))
        add(response, MHD_HTTP_HEADER_STRICT_TRANSPORT_SECURITY, transport_security);
}

void answer_common_headers(const struct request *r, struct MHD_Response *response) {
    add_own(response);
    add_transport(r, response);
}

enum MHD_Result answer_send(struct request *r, unsigned status, struct MHD_Response *response) {
    add_transport(r, response);
    r->status = status;
    enum MHD_Result result = MHD_queue_response(r->connection, status, response);
    MHD_destroy_response(response);
    return result;
}

/* The bytes of a large answer, counted for as long as a connection sends them. */
struct large {
    atomic_llong *sum;
    size_t len;
    char *bytes;
};

static void let_go_large(void *context) {
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
        MHD_create_response_from_buffer_with_free_callback_cls(len, bytes, let_go_large, large);
    if (response == NULL)
        free(large);
    else
        atomic_fetch_add(sum, (long long)len);
    return response;
}

/* Takes the bytes of the buffer.
 *   sum  counts them while they live; NULL: they are not counted */
static struct MHD_Response *response_take(struct textbuf *b, atomic_llong *sum) {
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

struct MHD_Response *answer_private(struct textbuf *b, const char *media_type) {
    struct MHD_Response *response = response_take(b, NULL);
    if (response == NULL)
        return NULL;
    add_own(response);
    add(response, MHD_HTTP_HEADER_CONTENT_TYPE, media_type);
    add(response, MHD_HTTP_HEADER_CACHE_CONTROL, "private, no-store");
    add(response, MHD_HTTP_HEADER_VARY, "Accept-Encoding, Authorization");
    if (strncmp(media_type, "text/html", 9) == 0)
        add_page_headers(response);
    return response;
}

/* Sends on to `address`, which is cleared here. */
static enum MHD_Result move(struct request *r, unsigned status, struct textbuf *address) {
    struct textbuf body = {0};
    struct MHD_Response *response = NULL;
    textbuf_printf(&body, "<!DOCTYPE html><title>%u</title><p><a href=\"", status);
    html_text(&body, textbuf_text(address));
    textbuf_printf(&body, "\">%u</a></p>\n", status);
    if (!address->failed)
        response = answer_private(&body, "text/html; charset=utf-8");
    else
        textbuf_clear(&body);
    if (response != NULL)
        add(response, MHD_HTTP_HEADER_LOCATION, textbuf_text(address));
    textbuf_clear(address);
    return response == NULL ? MHD_NO : answer_send(r, status, response);
}

enum MHD_Result answer_move(struct request *r, struct textbuf *address) {
    return move(r, MHD_HTTP_SEE_OTHER, address);
}

enum MHD_Result answer_slash(struct request *r) {
    struct textbuf address = {0};
    textbuf_printf(&address, "%s/", r->path);
    if (r->raw_query != NULL)
        textbuf_printf(&address, "?%s", r->raw_query);
    return move(r, MHD_HTTP_PERMANENT_REDIRECT, &address);
}

static const char *problem_name(unsigned status) {
    enum refusal why = refusal_of(status);
    return status == MHD_HTTP_SERVICE_UNAVAILABLE ? "try-again"
           : why == REFUSAL_OTHER                 ? "failure"
                                                  : refusal_word(why);
}

/* Problems of a document, one a line "place: what", as a list. */
static void write_errors(struct textbuf *b, const char *lines) {
    textbuf_puts(b, ",\"errors\":[");
    for (const char *sep = ""; *lines != '\0'; sep = ",") {
        size_t len = strcspn(lines, "\n");
        struct textbuf line = {0};
        textbuf_add(&line, lines, len);
        textbuf_puts(b, sep);
        json_write_text(b, textbuf_text(&line));
        b->failed = b->failed || line.failed;
        textbuf_clear(&line);
        lines += len + (lines[len] == '\n');
    }
    textbuf_putc(b, ']');
}

static void write_problem(const struct request *r, struct textbuf *b, unsigned status) {
    textbuf_printf(b,
                   "{\"type\":\"urn:cairn:problem:%s\",\"title\":\"%s\",\"status\":%u,"
                   "\"detail\":",
                   problem_name(status), MHD_get_reason_phrase_for(status), status);
    json_write_text(b, textbuf_text(&r->detail));
    textbuf_puts(b, ",\"instance\":");
    json_write_text(b, r->path);
    if (r->write != NULL &&
        (r->write->result == WRITE_REFUSED || r->write->result == WRITE_NOT_YET))
        write_errors(b, textbuf_text(&r->write->why));
    textbuf_puts(b, "}\n");
}

/* A browser that asked for a page is told in a page. */
static bool wants_page(const struct request *r) {
    const char *accept =
        MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_ACCEPT);
    return accept != NULL && strstr(accept, "text/html") != NULL &&
           strncmp(r->path, "/api/", 5) != 0;
}

static struct MHD_Response *make_problem(struct request *r, unsigned status, const char *allowed) {
    struct textbuf b = {0};
    bool form = r->form.read && r->route->refused != NULL;
    bool page = form || wants_page(r);
    if (form)
        r->route->refused(r, &b, status);
    else if (page)
        page_problem(r, &b, status);
    else
        write_problem(r, &b, status);
    struct MHD_Response *response =
        answer_private(&b, page ? "text/html; charset=utf-8" : "application/problem+json");
    if (response == NULL)
        return NULL;
    if (r->bad_framing || r->refusal == REFUSAL_CROWDED)
        add(response, MHD_HTTP_HEADER_CONNECTION, "close");
    if (status == MHD_HTTP_METHOD_NOT_ALLOWED && allowed != NULL)
        add(response, MHD_HTTP_HEADER_ALLOW, allowed);
    if (status == MHD_HTTP_UNAUTHORIZED)
        add(response, MHD_HTTP_HEADER_WWW_AUTHENTICATE, "Bearer realm=\"cairn\"");
    if (status == MHD_HTTP_TOO_MANY_REQUESTS)
        add(response, MHD_HTTP_HEADER_RETRY_AFTER, "60");
    if (status == MHD_HTTP_SERVICE_UNAVAILABLE)
        add(response, MHD_HTTP_HEADER_RETRY_AFTER, "2");
    return response;
}

enum MHD_Result answer_error(struct request *r, unsigned status, const char *allowed) {
    struct MHD_Response *response = make_problem(r, status, allowed);
    return response == NULL ? MHD_NO : answer_send(r, status, response);
}

/* True for a weight of zero: "q=0", "q=0.00". */
static bool is_refused(const char *parameters, size_t len) {
    const char *end = parameters + len;
    while (parameters < end && (*parameters == ';' || *parameters == ' ' || *parameters == '\t'))
        parameters++;
    if (end - parameters < 3 || strncasecmp(parameters, "q=0", 3) != 0)
        return false;
    for (parameters += 3; parameters < end; parameters++) {
        if (*parameters >= '1' && *parameters <= '9')
            return false;
    }
    return true;
}

/* True where "gzip" (or "*") is accepted, in any case and not with a weight of zero. */
static bool accepts_gzip(const char *value) {
    int named = -1;
    int any = -1;
    while (value != NULL && *value != '\0') {
        value += strspn(value, " \t,");
        size_t all = strcspn(value, ",");
        size_t name = strcspn(value, ";, \t");
        int accepted = !is_refused(value + name, all - name);
        if ((name == 4 && strncasecmp(value, "gzip", 4) == 0) ||
            (name == 6 && strncasecmp(value, "x-gzip", 6) == 0))
            named = accepted;
        else if (name == 1 && *value == '*')
            any = accepted;
        value += all;
    }
    return named >= 0 ? named == 1 : any == 1;
}

bool answer_may_compress(const struct request *r) {
    return accepts_gzip(MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND,
                                                    MHD_HTTP_HEADER_ACCEPT_ENCODING));
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
    for (int i = 0; r->route->parameters != NULL && r->route->parameters[i] != NULL; i++) {
        if (strcmp(r->route->parameters[i], name) == 0)
            return true;
    }
    return false;
}

/* True for what names the machine as the browser did: codes and papers. */
static bool names_host(const struct request *r) {
    return takes(r, "to") || r->route->paper;
}

/* Who may keep it, and for how long: a shared cache one second, so that it serves the crowd and
 * still shows a new revision within a second; a browser asks each time. A cache that knows one copy
 * for all hosts would hand what one client called the machine to all others. */
static const char *cache_control(const struct request *r) {
    if (r->role != ROLE_PUBLIC)
        return "private, no-store";
    if (r->route->local || r->route->fresh)
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

/* What a cache wants to know, of a body and of word that it is still the same. */
static void dress_kept(const struct request *r, struct MHD_Response *response, const char *etag) {
    add(response, MHD_HTTP_HEADER_CACHE_CONTROL, cache_control(r));
    bool chose_language = has_language(r) && !request_names_language(r);
    add(response, MHD_HTTP_HEADER_VARY,
        chose_language ? "Accept-Encoding, Accept-Language, Authorization"
                       : "Accept-Encoding, Authorization");
    if (has_language(r))
        add(response, MHD_HTTP_HEADER_CONTENT_LANGUAGE, lang_code(request_language(r)));
    if (*etag != '\0')
        add(response, MHD_HTTP_HEADER_ETAG, etag);
}

static void dress(struct request *r, struct MHD_Response *response, const char *etag) {
    answer_common_headers(r, response);
    add(response, MHD_HTTP_HEADER_CONTENT_TYPE, r->media_type);
    dress_kept(r, response, etag);
    if (strncmp(r->media_type, "text/html", 9) == 0)
        add_page_headers(response);
}

/* What people type has no end of values, and would push out what everybody asks for. */
static bool is_typed(const struct request *r) {
    static const char *const typed[] = {"q", "add", "cars", "car"};
    for (size_t i = 0; i < sizeof typed / sizeof typed[0]; i++) {
        if (takes(r, typed[i]) && request_query(r, typed[i]) != NULL)
            return true;
    }
    return names_host(r);
}

/* A name under which the answer is kept: the address with the parameters that count, and the
 * language, however it was chosen: links keep the one that the address names. */
static void write_name(const struct request *r, struct textbuf *name) {
    textbuf_puts(name, r->path);
    if (names_host(r)) {
        struct textbuf base = {0};
        textbuf_printf(name, "\n%s", request_base(r, &base) ? textbuf_text(&base) : "");
        name->failed = name->failed || base.failed;
        textbuf_clear(&base);
    }
    if (has_language(r))
        textbuf_printf(name, "\n%s%s", request_names_language(r) ? "" : "~",
                       lang_code(request_language(r)));
    for (int i = 0; r->route->parameters != NULL && r->route->parameters[i] != NULL; i++) {
        if (r->query[i] != NULL && strcmp(r->route->parameters[i], "lang") != 0)
            textbuf_printf(name, "\n%s=%s", r->route->parameters[i], r->query[i]);
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
        dress_kept(r, response, etag);
    return response;
}

/* Writes the tags. The revision is the cheapest there is. The versions of the program and of its
 * files are part of it, since others may write the same revision in other bytes. */
static void write_tags(const struct request *r, const struct textbuf *body, struct answer *answer) {
    char tag[sizeof answer->etag - 6] = "";
    bool tagged = !r->route->local && !r->route->fresh;
    if (*r->tag != '\0') {
        (void)snprintf(tag, sizeof tag, "%s", r->tag);
    } else if (tagged && r->results != NULL && r->role != ROLE_TIMEKEEPER) {
        char lang[8] = "";
        if (has_language(r))
            (void)snprintf(lang, sizeof lang, "-%s", lang_code(request_language(r)));
        (void)snprintf(tag, sizeof tag, "%c%lld-" CAIRN_VERSION "-%.8s%s",
                       r->role == ROLE_ORGANISER ? 'o' : 'r', (long long)r->results->revision,
                       server_assets(r->server) + strlen("/_/"), lang);
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
    atomic_llong *sum = large ? server_large_bytes(r->server) : NULL;
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
            dress(r, answer->gzip, answer->etag_gzip);
            add(answer->gzip, MHD_HTTP_HEADER_CONTENT_ENCODING, "gzip");
        }
    }
    if (both)
        answer->plain = response_take(b, sum);
    else
        textbuf_clear(b);
    if (answer->plain != NULL)
        dress(r, answer->plain, answer->etag);
    return answer->plain != NULL || (!both && answer->gzip != NULL);
}

static struct answer *render(struct request *r, unsigned *status) {
    struct textbuf b = {0};
    bool wants_gzip = answer_may_compress(r);
    r->media_type = "application/json";
    *status = r->route->render(r, &b);
    if (*status != MHD_HTTP_OK) {
        textbuf_clear(&b);
        return NULL;
    }
    struct answer *answer = b.failed ? NULL : calloc(1, sizeof *answer);
    bool made = answer != NULL;
    if (made) {
        answer->refs = 1;
        answer->status = MHD_HTTP_OK;
        write_tags(r, &b, answer);
        made = make_responses(r, answer, &b, wants_gzip);
    }
    textbuf_clear(&b);
    if (made)
        return answer;
    answer_release(answer);
    *status = request_fail(r, MHD_HTTP_SERVICE_UNAVAILABLE, "Out of memory; try again.");
    return NULL;
}

/* Where what is asked for may be kept; NULL where it may not. */
static struct cache *cache_of(const struct request *r) {
    if (r->route->constant)
        return server_cache(r->server);
    return r->results != NULL && r->role != ROLE_TIMEKEEPER && !r->route->fresh ? r->results->cache
                                                                                : NULL;
}

bool answer_suits(const struct request *r, const struct answer *answer) {
    return answer->plain != NULL || answer_may_compress(r);
}

bool answer_is_dear(const struct request *r) {
    const char *by = takes(r, "by") ? request_query(r, "by") : NULL;
    return is_typed(r) || (by != NULL && strcmp(by, "test") == 0) ||
           (takes(r, "after") && request_query(r, "after") != NULL);
}

struct answer *answer_kept(struct request *r) {
    struct cache *cache = cache_of(r);
    if (cache == NULL)
        return NULL;
    write_name(r, &r->name);
    struct answer *answer = r->name.failed ? NULL : cache_get(cache, textbuf_text(&r->name));
    if (answer == NULL || answer_suits(r, answer))
        return answer;
    answer_release(answer);
    return NULL;
}

struct answer *answer_make(struct request *r, unsigned *status) {
    struct cache *cache = cache_of(r);
    struct answer *answer = render(r, status);
    if (answer == NULL || cache == NULL || r->name.failed)
        return answer;
    bool large = answer->plain == NULL || answer->bytes >= LIMIT_ANSWER_LARGE;
    cache_put(cache, large || is_typed(r) ? CACHE_OTHER : CACHE_USUAL, textbuf_text(&r->name),
              answer);
    return answer;
}

/* True where the list of If-None-Match holds one of the answer's tags; weakly, as it must be. */
static bool is_known(const char *list, const struct answer *answer) {
    return list != NULL && *answer->etag != '\0' &&
           (strcmp(list, "*") == 0 || strstr(list, answer->etag) != NULL ||
            strstr(list, answer->etag_gzip) != NULL);
}

enum MHD_Result answer_queue(struct request *r, struct answer *answer) {
    bool gzip = answer->gzip != NULL && answer_may_compress(r);
    const char *known =
        MHD_lookup_connection_value(r->connection, MHD_HEADER_KIND, MHD_HTTP_HEADER_IF_NONE_MATCH);
    struct MHD_Response *response = gzip ? answer->gzip : answer->plain;
    r->status = answer->status;
    if (known != NULL && is_known(known, answer)) {
        struct MHD_Response *same = gzip ? answer->same_gzip : answer->same_plain;
        r->status = MHD_HTTP_NOT_MODIFIED;
        response = same != NULL ? same : response;
    }
    return MHD_queue_response(r->connection, r->status, response);
}
