/* SPDX-License-Identifier: MIT */
#include "sender.h"

#include <curl/curl.h>
#include <sodium.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "err.h"
#include "library.h"
#include "textbuf.h"

/* An answer to 50,000 rows that are all refused is shorter. */
enum { ANSWER_MAX = 32 << 20, CONNECT_SECONDS = 20, SILENT_SECONDS = 60, RETRY_AFTER_MAX = 3600 };

/* The functions used, by the library's own types. */
struct curl_functions {
    CURLcode (*global_init)(long flags);
    CURL *(*easy_init)(void);
    void (*easy_cleanup)(CURL *curl);
    CURLcode (*easy_setopt)(CURL *curl, CURLoption option, ...);
    CURLcode (*easy_perform)(CURL *curl);
    CURLcode (*easy_getinfo)(CURL *curl, CURLINFO info, ...);
    const char *(*easy_strerror)(CURLcode code);
    struct curl_slist *(*slist_append)(struct curl_slist *list, const char *text);
    void (*slist_free_all)(struct curl_slist *list);
};

struct sender {
    struct curl_functions f;
    CURL *curl;
    struct curl_slist *headers;
    const volatile sig_atomic_t *stop;
    struct textbuf body;
    bool too_long;
    char error[CURL_ERROR_SIZE];
};

static bool load_library(struct curl_functions *f, struct textbuf *why) {
    static const struct library_function wanted[] = {
        {"curl_global_init", offsetof(struct curl_functions, global_init)},
        {"curl_easy_init", offsetof(struct curl_functions, easy_init)},
        {"curl_easy_cleanup", offsetof(struct curl_functions, easy_cleanup)},
        {"curl_easy_setopt", offsetof(struct curl_functions, easy_setopt)},
        {"curl_easy_perform", offsetof(struct curl_functions, easy_perform)},
        {"curl_easy_getinfo", offsetof(struct curl_functions, easy_getinfo)},
        {"curl_easy_strerror", offsetof(struct curl_functions, easy_strerror)},
        {"curl_slist_append", offsetof(struct curl_functions, slist_append)},
        {"curl_slist_free_all", offsetof(struct curl_functions, slist_free_all)}};
    const size_t count = sizeof wanted / sizeof wanted[0];
    /* One with GnuTLS, which the HTTP server's library uses too; else the one with OpenSSL. */
    bool loaded = library_load("libcurl-gnutls.so.4", wanted, count, f) ||
                  library_load("libcurl.so.4", wanted, count, f);
    if (!loaded)
        textbuf_puts(why, "the library libcurl is not there; on Debian: apt-get install "
                          "libcurl3-gnutls");
    return loaded;
}

static size_t take_answer(char *bytes, size_t size, size_t count, void *context) {
    struct sender *s = context;
    size_t len = size * count;
    if (s->body.len + len > ANSWER_MAX) {
        s->too_long = true;
        return 0;
    }
    textbuf_add(&s->body, bytes, len);
    return s->body.failed ? 0 : len;
}

static int look_at_stop(void *context, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d) {
    const struct sender *s = context;
    (void)a;
    (void)b;
    (void)c;
    (void)d;
    return *s->stop != 0;
}

static bool set_headers(struct sender *s, const char *key) {
    struct textbuf b = {0};
    textbuf_printf(&b, "Authorization: Bearer %s", key);
    /* "Expect:" without a value: no waiting for leave to send the body. */
    const char *const lines[] = {textbuf_text(&b), "Content-Type: application/json",
                                 "Accept: application/json", "Expect:"};
    bool good = !b.failed;
    for (size_t i = 0; good && i < sizeof lines / sizeof lines[0]; i++) {
        struct curl_slist *more = s->f.slist_append(s->headers, lines[i]);
        good = more != NULL;
        if (good)
            s->headers = more;
    }
    if (b.bytes != NULL)
        sodium_memzero(b.bytes, b.len);
    textbuf_clear(&b);
    return good;
}

static CURLcode set_options(struct sender *s, const char *url, const char *ca_file) {
    CURLcode (*set)(CURL *, CURLoption, ...) = s->f.easy_setopt;
    CURLcode code = set(s->curl, CURLOPT_URL, url);
    const struct {
        CURLoption option;
        long value;
    } numbers[] = {{CURLOPT_POST, 1},
                   {CURLOPT_FOLLOWLOCATION, 0},
                   {CURLOPT_NOSIGNAL, 1},
                   {CURLOPT_NOPROGRESS, 0},
                   {CURLOPT_CONNECTTIMEOUT, CONNECT_SECONDS},
                   /* A line may be slow, but not silent. */
                   {CURLOPT_LOW_SPEED_LIMIT, 1},
                   {CURLOPT_LOW_SPEED_TIME, SILENT_SECONDS},
                   {CURLOPT_TCP_KEEPALIVE, 1}};
    const struct {
        CURLoption option;
        const void *value;
    } pointers[] = {{CURLOPT_HTTPHEADER, s->headers},
                    {CURLOPT_ERRORBUFFER, s->error},
                    {CURLOPT_WRITEDATA, s},
                    {CURLOPT_XFERINFODATA, s},
                    {CURLOPT_PROTOCOLS_STR, "http,https"},
                    {CURLOPT_USERAGENT, "cairn"}};
    for (size_t i = 0; code == CURLE_OK && i < sizeof numbers / sizeof numbers[0]; i++)
        code = set(s->curl, numbers[i].option, numbers[i].value);
    for (size_t i = 0; code == CURLE_OK && i < sizeof pointers / sizeof pointers[0]; i++)
        code = set(s->curl, pointers[i].option, pointers[i].value);
    if (code == CURLE_OK)
        code = set(s->curl, CURLOPT_WRITEFUNCTION, take_answer);
    if (code == CURLE_OK)
        code = set(s->curl, CURLOPT_XFERINFOFUNCTION, look_at_stop);
    if (code == CURLE_OK && ca_file != NULL)
        code = set(s->curl, CURLOPT_CAINFO, ca_file);
    return code;
}

int sender_new(const char *url, const char *key, const char *ca_file,
               const volatile sig_atomic_t *stop, struct sender **out, struct textbuf *why) {
    struct sender *s = calloc(1, sizeof *s);
    int err = ERR_OK;
    *out = NULL;
    if (s == NULL)
        return ERR_NOMEM;
    s->stop = stop;
    if (!load_library(&s->f, why)) {
        free(s);
        return ERR_IO;
    }
    if (s->f.global_init(CURL_GLOBAL_DEFAULT) == CURLE_OK)
        s->curl = s->f.easy_init();
    if (s->curl == NULL || !set_headers(s, key)) {
        err = ERR_NOMEM;
    } else {
        CURLcode code = set_options(s, url, ca_file);
        if (code != CURLE_OK) {
            textbuf_printf(why, "libcurl: %s", s->f.easy_strerror(code));
            err = ERR_IO;
        }
    }
    if (err != ERR_OK) {
        sender_free(s);
        return err;
    }
    *out = s;
    return ERR_OK;
}

void sender_free(struct sender *s) {
    if (s == NULL)
        return;
    if (s->curl != NULL)
        s->f.easy_cleanup(s->curl);
    if (s->headers != NULL)
        sodium_memzero(s->headers->data, strlen(s->headers->data));
    s->f.slist_free_all(s->headers);
    textbuf_clear(&s->body);
    free(s);
}

/* What became of a request that was not answered. */
static enum sender_result judge(const struct sender *s, CURLcode code, struct textbuf *why) {
    if (code == CURLE_ABORTED_BY_CALLBACK)
        return SENDER_STOPPED;
    if (s->too_long)
        textbuf_puts(why, "the answer has no end");
    else
        textbuf_puts(why, s->error[0] != '\0' ? s->error : s->f.easy_strerror(code));
    switch (code) {
    case CURLE_PEER_FAILED_VERIFICATION:
        return SENDER_UNTRUSTED;
    case CURLE_SSL_CACERT_BADFILE:
    case CURLE_URL_MALFORMAT:
    case CURLE_UNSUPPORTED_PROTOCOL:
    case CURLE_NOT_BUILT_IN:
    case CURLE_OUT_OF_MEMORY:
        return SENDER_FAILED;
    default:
        return SENDER_NO_LINE;
    }
}

enum sender_result sender_post(struct sender *s, const char *body, size_t len,
                               struct sender_answer *answer, struct textbuf *why) {
    char *location = NULL;
    curl_off_t wait = 0;
    *answer = (struct sender_answer){0};
    textbuf_clear(&s->body);
    s->too_long = false;
    s->error[0] = '\0';
    CURLcode code = s->f.easy_setopt(s->curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)len);
    if (code == CURLE_OK)
        code = s->f.easy_setopt(s->curl, CURLOPT_POSTFIELDS, body);
    if (code == CURLE_OK)
        code = s->f.easy_perform(s->curl);
    if (code != CURLE_OK)
        return judge(s, code, why);
    (void)s->f.easy_getinfo(s->curl, CURLINFO_RESPONSE_CODE, &answer->status);
    (void)s->f.easy_getinfo(s->curl, CURLINFO_RETRY_AFTER, &wait);
    (void)s->f.easy_getinfo(s->curl, CURLINFO_REDIRECT_URL, &location);
    answer->retry_after = wait > RETRY_AFTER_MAX ? RETRY_AFTER_MAX : wait > 0 ? (long)wait : 0;
    if (location != NULL)
        answer->location = strdup(location);
    answer->body = s->body.bytes;
    answer->len = s->body.len;
    s->body = (struct textbuf){0};
    return SENDER_ANSWERED;
}

void sender_answer_clear(struct sender_answer *answer) {
    free(answer->body);
    free(answer->location);
    *answer = (struct sender_answer){0};
}
