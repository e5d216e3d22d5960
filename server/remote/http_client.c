/* SPDX-License-Identifier: MIT */
#include "remote/http_client.h"

#include <sodium.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "system/curl_library.h"

enum { RETRY_AFTER_MAX = 3600 };

struct http_client {
    const struct curl_library *f;
    CURL *curl;
    struct curl_slist *headers;      /* of each question */
    struct curl_slist *post_headers; /* and of those with a body */
    const volatile sig_atomic_t *stop;
    size_t answer_max;
    const char *ca_file;
    struct textbuf body;
    bool too_large;
    char error[CURL_ERROR_SIZE];
};

static size_t take_answer(char *bytes, size_t size, size_t count, void *context) {
    struct http_client *c = context;
    size_t len = size * count;
    if (len > c->answer_max - c->body.len) {
        c->too_large = true;
        return 0;
    }
    textbuf_add(&c->body, bytes, len);
    return c->body.failed ? 0 : len;
}

static int stop_requested(void *context, curl_off_t a, curl_off_t b, curl_off_t c, curl_off_t d) {
    const struct http_client *client = context;
    (void)a;
    (void)b;
    (void)c;
    (void)d;
    return client->stop != NULL && *client->stop != 0;
}

static bool add_header(const struct http_client *c, struct curl_slist **list, const char *line) {
    struct curl_slist *more = c->f->curl_slist_append(*list, line);
    if (more == NULL)
        return false;
    *list = more;
    return true;
}

/* The key comes first, where wipe() finds it. */
static bool set_headers(struct http_client *c, const char *key) {
    struct textbuf line = {0};
    bool good = true;
    if (key != NULL) {
        textbuf_printf(&line, "Authorization: Bearer %s", key);
        good = !line.failed && add_header(c, &c->headers, textbuf_text(&line)) &&
               add_header(c, &c->post_headers, textbuf_text(&line));
    }
    if (line.bytes != NULL)
        sodium_memzero(line.bytes, line.len);
    textbuf_clear(&line);
    /* "Expect:" without a value: no waiting for leave to send the body. */
    return good && add_header(c, &c->headers, "Accept: application/json") &&
           add_header(c, &c->post_headers, "Accept: application/json") &&
           add_header(c, &c->post_headers, "Content-Type: application/json") &&
           add_header(c, &c->post_headers, "Expect:");
}

static CURLcode set_callbacks(struct http_client *c) {
    CURLcode code = c->f->curl_easy_setopt(c->curl, CURLOPT_ERRORBUFFER, c->error);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_WRITEDATA, c);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_WRITEFUNCTION, take_answer);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_XFERINFODATA, c);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_XFERINFOFUNCTION, stop_requested);
    return code;
}

static CURLcode set_options(struct http_client *c, const struct http_options *o) {
    const struct {
        CURLoption option;
        long value;
    } numbers[] = {{CURLOPT_FOLLOWLOCATION, 0},
                   {CURLOPT_HTTP_VERSION, CURL_HTTP_VERSION_1_1},
                   {CURLOPT_NOSIGNAL, 1},
                   {CURLOPT_NOPROGRESS, 0},
                   /* A name that nobody looks up holds up no command's end. */
                   {CURLOPT_QUICK_EXIT, 1},
                   {CURLOPT_CONNECTTIMEOUT, o->connect_seconds},
                   {CURLOPT_TIMEOUT, o->total_seconds},
                   /* A line may be slow, but not silent. */
                   {CURLOPT_LOW_SPEED_LIMIT, 1},
                   {CURLOPT_LOW_SPEED_TIME, o->silent_seconds},
                   {CURLOPT_TCP_KEEPALIVE, 1},
                   {CURLOPT_CERTINFO, 1},
                   {CURLOPT_SSL_VERIFYPEER, !o->any_certificate},
                   {CURLOPT_SSL_VERIFYHOST, o->any_certificate ? 0 : 2}};
    CURLcode code = set_callbacks(c);
    for (size_t i = 0; code == CURLE_OK && i < sizeof numbers / sizeof numbers[0]; i++)
        code = c->f->curl_easy_setopt(c->curl, numbers[i].option, numbers[i].value);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_PROTOCOLS_STR, "http,https");
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_USERAGENT, "cairn");
    if (code == CURLE_OK && o->ca_file != NULL)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_CAINFO, o->ca_file);
    /* Else the system's folder would count as well. */
    if (code == CURLE_OK && o->ca_file != NULL)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_CAPATH, NULL);
    return code;
}

int http_client_new(const struct http_options *o, struct http_client **out, struct textbuf *why) {
    struct http_client *c = calloc(1, sizeof *c);
    int err = ERR_OK;
    *out = NULL;
    if (c == NULL)
        return ERR_NOMEM;
    c->stop = o->stop;
    c->answer_max = o->answer_max;
    c->ca_file = o->ca_file;
    c->f = curl_library(why);
    if (c->f == NULL) {
        free(c);
        return ERR_IO;
    }
    if (c->f->curl_global_init(CURL_GLOBAL_DEFAULT) == CURLE_OK)
        c->curl = c->f->curl_easy_init();
    if (c->curl == NULL || !set_headers(c, o->any_certificate ? NULL : o->key)) {
        err = ERR_NOMEM;
    } else {
        CURLcode code = set_options(c, o);
        if (code != CURLE_OK) {
            textbuf_printf(why, "libcurl: %s", c->f->curl_easy_strerror(code));
            err = ERR_IO;
        }
    }
    if (err != ERR_OK) {
        http_client_free(c);
        return err;
    }
    *out = c;
    return ERR_OK;
}

static void wipe(const struct http_client *c, struct curl_slist *list) {
    if (list != NULL)
        sodium_memzero(list->data, strlen(list->data));
    c->f->curl_slist_free_all(list);
}

void http_client_free(struct http_client *c) {
    if (c == NULL)
        return;
    if (c->curl != NULL)
        c->f->curl_easy_cleanup(c->curl);
    wipe(c, c->headers);
    wipe(c, c->post_headers);
    textbuf_clear(&c->body);
    free(c);
}

/* What became of a request that was not answered. */
static enum http_result result_of(const struct http_client *c, CURLcode code) {
    if (c->too_large)
        return HTTP_TOO_LARGE;
    if (c->body.failed)
        return HTTP_FAILED;
    switch (code) {
    case CURLE_ABORTED_BY_CALLBACK:
        return HTTP_STOPPED;
    case CURLE_PEER_FAILED_VERIFICATION:
        return HTTP_UNTRUSTED;
    case CURLE_SSL_CACERT_BADFILE:
        /* A system without authorities trusts nobody. */
        return c->ca_file != NULL ? HTTP_FAILED : HTTP_UNTRUSTED;
    case CURLE_SSL_CONNECT_ERROR:
        return HTTP_NO_TLS;
    case CURLE_WEIRD_SERVER_REPLY:
    case CURLE_UNSUPPORTED_PROTOCOL: /* an answer without a head */
        return HTTP_NO_HTTP;
    case CURLE_URL_MALFORMAT:
    case CURLE_NOT_BUILT_IN:
    case CURLE_OUT_OF_MEMORY:
        return HTTP_FAILED;
    default:
        return HTTP_NO_ANSWER;
    }
}

/* Puts into words why no answer came. */
static void explain(const struct http_client *c, CURLcode code, struct textbuf *why) {
    long number = 0;
    if (code == CURLE_COULDNT_CONNECT)
        (void)c->f->curl_easy_getinfo(c->curl, CURLINFO_OS_ERRNO, &number);
    if (c->too_large)
        textbuf_printf(why, "the answer is longer than %zu bytes", c->answer_max);
    else if (code == CURLE_SSL_CACERT_BADFILE && c->ca_file != NULL)
        textbuf_printf(why, "%s: no certificates to trust can be read there", c->ca_file);
    else if (code == CURLE_SSL_CACERT_BADFILE)
        textbuf_puts(why, "this machine knows no authorities; on Debian: apt-get install "
                          "ca-certificates");
    else if (result_of(c, code) == HTTP_NO_HTTP)
        textbuf_puts(why, "what answers speaks no HTTP");
    else if (number > 0)
        textbuf_puts(why, strerror((int)number));
    else
        textbuf_puts(why, c->error[0] != '\0' ? c->error : c->f->curl_easy_strerror(code));
}

static void read_answer(struct http_client *c, struct http_answer *answer) {
    struct curl_header *date = NULL;
    char *location = NULL;
    curl_off_t wait = 0;
    curl_off_t before = 0;
    curl_off_t total = 0;
    (void)c->f->curl_easy_getinfo(c->curl, CURLINFO_RESPONSE_CODE, &answer->status);
    (void)c->f->curl_easy_getinfo(c->curl, CURLINFO_RETRY_AFTER, &wait);
    (void)c->f->curl_easy_getinfo(c->curl, CURLINFO_REDIRECT_URL, &location);
    (void)c->f->curl_easy_getinfo(c->curl, CURLINFO_PRETRANSFER_TIME_T, &before);
    (void)c->f->curl_easy_getinfo(c->curl, CURLINFO_TOTAL_TIME_T, &total);
    answer->retry_after = wait > RETRY_AFTER_MAX ? RETRY_AFTER_MAX : wait > 0 ? (long)wait : 0;
    answer->took_ms = (int64_t)(total - before) / 1000;
    if (location != NULL)
        answer->location = strdup(location);
    if (c->f->curl_easy_header(c->curl, "Date", 0, CURLH_HEADER, -1, &date) == CURLHE_OK)
        answer->date = (int64_t)c->f->curl_getdate(date->value, NULL);
    answer->body = c->body.bytes;
    answer->len = c->body.len;
    c->body = (struct textbuf){0};
}

/* Sends what is set up so far. */
static enum http_result perform(struct http_client *c, CURLcode code, const char *url,
                                struct http_answer *answer, struct textbuf *why) {
    *answer = (struct http_answer){.date = -1};
    textbuf_clear(&c->body);
    c->too_large = false;
    c->error[0] = '\0';
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_URL, url);
    /* None for this machine, else what the environment says. */
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_PROXY,
                                      http_is_this_machine(url) ? "" : (char *)NULL);
    if (code == CURLE_OK)
        code = c->f->curl_easy_perform(c->curl);
    if (code == CURLE_OK) {
        read_answer(c, answer);
        return HTTP_ANSWERED;
    }
    enum http_result result = result_of(c, code);
    if (result != HTTP_STOPPED)
        explain(c, code, why);
    return result;
}

enum http_result http_get(struct http_client *c, const char *url, struct http_answer *answer,
                          struct textbuf *why) {
    CURLcode code = c->f->curl_easy_setopt(c->curl, CURLOPT_HTTPGET, 1L);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_HTTPHEADER, c->headers);
    return perform(c, code, url, answer, why);
}

enum http_result http_post(struct http_client *c, const char *url, const char *body, size_t len,
                           struct http_answer *answer, struct textbuf *why) {
    CURLcode code = c->f->curl_easy_setopt(c->curl, CURLOPT_POST, 1L);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_HTTPHEADER, c->post_headers);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)len);
    if (code == CURLE_OK)
        code = c->f->curl_easy_setopt(c->curl, CURLOPT_POSTFIELDS, body);
    return perform(c, code, url, answer, why);
}

const char *http_client_certificate(const struct http_client *c) {
    static const char name[] = "Cert:";
    struct curl_certinfo *chain = NULL;
    if (c->f->curl_easy_getinfo(c->curl, CURLINFO_CERTINFO, &chain) != CURLE_OK || chain == NULL ||
        chain->num_of_certs < 1)
        return NULL;
    for (const struct curl_slist *fact = chain->certinfo[0]; fact != NULL; fact = fact->next) {
        if (strncmp(fact->data, name, sizeof name - 1) == 0)
            return fact->data + sizeof name - 1;
    }
    return NULL;
}

void http_answer_clear(struct http_answer *answer) {
    free(answer->body);
    free(answer->location);
    *answer = (struct http_answer){0};
}

static size_t scheme_length(const char *url) {
    return strncmp(url, "https://", 8) == 0 ? 8 : strncmp(url, "http://", 7) == 0 ? 7 : 0;
}

/* How much of a text is a host's name or number; 0 for none. */
static size_t host_length(const char *text) {
    static const char name[] = "abcdefghijklmnopqrstuvwxyzABCDEFGHIJKLMNOPQRSTUVWXYZ0123456789.-";
    static const char number[] = "0123456789abcdefABCDEF:.";
    if (*text != '[')
        return strspn(text, name);
    size_t len = strspn(text + 1, number);
    return len > 0 && text[1 + len] == ']' ? len + 2 : 0;
}

size_t http_base_length(const char *url) {
    size_t len = scheme_length(url);
    size_t host = host_length(url + len);
    char port[6] = "";
    int64_t number;
    if (len == 0 || host == 0)
        return 0;
    len += host;
    if (url[len] == ':') {
        size_t digits = strcspn(url + ++len, "/?#");
        if (digits >= sizeof port)
            return 0;
        memcpy(port, url + len, digits);
        if (decimal_parse_whole(port, 1, 65535, &number) != ERR_OK)
            return 0;
        len += digits;
    }
    return len <= HTTP_BASE_MAX && strchr("/?#", url[len]) != NULL ? len : 0;
}

bool http_is_this_machine(const char *url) {
    static const char *const names[] = {"localhost", "[::1]"};
    const char *host = url + scheme_length(url);
    if (host == url)
        return false;
    if (strncmp(host, "127.", 4) == 0)
        return strchr(":/?#", host[strspn(host, "0123456789.")]) != NULL;
    for (size_t i = 0; i < sizeof names / sizeof names[0]; i++) {
        size_t len = strlen(names[i]);
        if (strncasecmp(host, names[i], len) == 0 && strchr(":/?#", host[len]) != NULL)
            return true;
    }
    return false;
}
