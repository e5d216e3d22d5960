/* SPDX-License-Identifier: MIT */
/* tls.h - the server's certificate and key, and the options by which the HTTP library gets them.
 * Only TLS 1.2 and newer is spoken, with ciphers that authenticate what they hide. */
#ifndef CAIRN_TLS_H
#define CAIRN_TLS_H

#include <stdint.h>

#include "base/textbuf.h"
#include "system/http_library.h"

struct tls;

/* Reads a certificate and its private key, and holds one against the other.
 *   cert_file  PEM: the server's own certificate, then those that vouch for it, if any
 *   key_file   PEM: its private key, not encrypted
 *   why        gets what is wrong, with the name of the file
 * Returns: ERR_OK, and `*out` to be freed by tls_free; ERR_IO where a file cannot be read or the
 * HTTP library has no TLS; ERR_INPUT where the files are not what they should be; ERR_NOMEM. */
int tls_load(const char *cert_file, const char *key_file, struct textbuf *why, struct tls **out);

/* Wipes the key. NULL is accepted. */
void tls_free(struct tls *tls);

/* A certificate with fewer days left than this: a person should look. */
enum { DATES_DOUBTFUL_DAYS = 14 };

/* When the server's certificate runs out, seconds since 1970. */
int64_t tls_expires(const struct tls *tls);

enum { TLS_OPTIONS_MAX = 4 };

/* The options for MHD_start_daemon, as an array that ends itself; an empty one for NULL. They
 * point into `tls`, which must live as long as the daemon. */
void tls_options(struct tls *tls, struct MHD_OptionItem items[TLS_OPTIONS_MAX]);

#endif
