/* SPDX-License-Identifier: MIT */
/* http_client.h - requests over HTTP, with TLS or without, by libcurl.
 * The library is loaded when a client is made (shared_library.h). Follows no redirection, so that
 * the key goes to no other server. This machine is asked without a proxy, others by the one that
 * the environment names (https_proxy, no_proxy and so on). One owner at a time. */
#ifndef CAIRN_HTTP_CLIENT_H
#define CAIRN_HTTP_CLIENT_H

#include <signal.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct http_client;
struct textbuf;

/* The longest scheme, host and port that are taken, in bytes. */
enum { HTTP_BASE_MAX = 200 };

enum http_result {
    HTTP_ANSWERED,  /* a whole answer came, whatever its status */
    HTTP_NO_ANSWER, /* none came, or not all of it; a later try may do better */
    HTTP_NO_TLS,    /* what answers does not speak TLS, or none that both know */
    HTTP_NO_HTTP,   /* what answers does not speak HTTP */
    HTTP_TOO_LARGE, /* the answer is larger than is taken */
    HTTP_UNTRUSTED, /* the server's certificate is not to be trusted */
    HTTP_STOPPED,   /* *stop was set */
    HTTP_FAILED     /* the machine failed, or the address cannot be used */
};

/* How to ask. */
struct http_options {
    const char *key;      /* sent as a bearer token in a header, copied; NULL: none */
    const char *ca_file;  /* certificates to trust instead of the system's; borrowed; NULL */
    bool any_certificate; /* asks whoever answers; never together with a key */
    size_t answer_max;    /* bytes of a body that are taken */
    int connect_seconds;  /* until a connection must stand, TLS and all */
    int silent_seconds;   /* without a byte */
    int total_seconds;    /* for one question and its answer; 0: no end */
    const volatile sig_atomic_t *stop; /* not 0 ends a request that is under way; borrowed; NULL */
};

/* An answer. A plain value; http_answer_clear frees it. */
struct http_answer {
    long status;      /* of HTTP */
    long retry_after; /* seconds that the server asks to wait, 0 where it does not */
    int64_t took_ms;  /* from the question to the end of the answer, without connecting */
    int64_t date;     /* the server's clock, seconds since 1970; -1 where it does not send it */
    char *body;       /* NUL-terminated, NULL where there is none */
    size_t len;
    char *location; /* where the server sends on to; NULL */
};

/* Makes a client.
 *   why  gets what is wrong
 * Returns: ERR_OK; ERR_IO where the library cannot be used; ERR_NOMEM. */
int http_client_new(const struct http_options *options, struct http_client **out,
                    struct textbuf *why);

/* Frees a client; NULL is accepted. */
void http_client_free(struct http_client *client);

/* Asks and waits for the answer.
 *   url     absolute
 *   answer  set up in any case; call http_answer_clear
 *   why     gets what went wrong, in words, unless it was answered or stopped */
enum http_result http_get(struct http_client *client, const char *url, struct http_answer *answer,
                          struct textbuf *why);

/* Posts JSON; as http_get. */
enum http_result http_post(struct http_client *client, const char *url, const char *body,
                           size_t len, struct http_answer *answer, struct textbuf *why);

/* The certificate that the other side showed last, trusted or not, as PEM; NULL where it showed
 * none. Good until the next question. */
const char *http_client_certificate(const struct http_client *client);

/* Frees what an answer owns. */
void http_answer_clear(struct http_answer *answer);

/* How much of an address is scheme, host and port: http or https, a host, perhaps a port, and then
 * nothing or a path. Returns 0 where it is none. */
size_t http_base_length(const char *url);

/* True where an address begins with http:// or https:// and this machine's own name or number. */
bool http_is_this_machine(const char *url);

#endif
