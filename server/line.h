/* SPDX-License-Identifier: MIT */
/* line.h - asking a server over HTTP, with TLS or without: one question, one answer, one
 * connection. Follows no redirection. One owner at a time. */
#ifndef CAIRN_LINE_H
#define CAIRN_LINE_H

#include <gnutls/gnutls.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "textbuf.h"

enum { LINE_PATIENCE_SECONDS = 5 }; /* without a byte */

/* An address in its parts. */
struct address {
    bool tls;
    char host[256];
    char port[8];
};

/* Parts http:// or https:// and a host, with or without a port and a path; `path` gets where the
 * path begins (at its end where there is none) and may be NULL. Returns false where it is none. */
bool address_parse(const char *url, struct address *out, const char **path);

/* A line to a server. */
struct line {
    int fd;
    gnutls_session_t session; /* NULL without TLS */
    gnutls_certificate_credentials_t trust;
};

/* Connects.
 *   why  gets why not
 * Returns false where nobody answers; nothing is to be closed then. */
bool line_open(struct line *line, const struct address *address, struct textbuf *why);

/* Shakes hands over an open line.
 *   ca_file  certificates to trust, PEM; NULL for the system's
 *   status   gets what a check of the other side's certificate found, 0 for nothing wrong; the
 *            caller decides what comes of it
 * Returns false where there is no TLS, and `why` tells. */
bool line_secure(struct line *line, const struct address *address, const char *ca_file,
                 unsigned *status, struct textbuf *why);

/* Ends the connection and frees what it holds; a line whose `fd` is -1 is accepted. */
void line_close(struct line *line);

/* Asks with GET and reads the answer.
 *   path    with the query, from the slash
 *   key     sent as a bearer token; NULL for none
 *   room    bytes that an answer may have, head and all
 *   answer  gets head and body
 *   body    gets where the body begins in it
 * Returns the status; 0 where the line broke or what answers speaks no HTTP; -1 where the answer
 * is too large. */
int line_get(struct line *line, const struct address *address, const char *path, const char *key,
             size_t room, struct textbuf *answer, size_t *body);

#endif
