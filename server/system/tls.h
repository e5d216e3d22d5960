/* SPDX-License-Identifier: MIT */
/* tls.h - the server's certificate and key, and the options by which the HTTP library gets them.
 * TLS 1.2 and newer only, with authenticated ciphers. One owner at a time. */
#ifndef CAIRN_TLS_H
#define CAIRN_TLS_H

#include <stdint.h>

#include "base/textbuf.h"
#include "system/http_library.h"

struct tls;

/* Reads a certificate and its private key, and checks that they belong together.
 *   cert_file  PEM: the server's own certificate, then those that vouch for it, if any
 *   key_file   PEM: its private key, not encrypted
 *   why        gets what is wrong, with the name of the file
 * Returns: ERR_OK, and `*out` to be freed by tls_free; ERR_IO where a file cannot be read or the
 * HTTP library has no TLS; ERR_INPUT where the files are not what they should be; ERR_NOMEM. */
int tls_load(const char *cert_file, const char *key_file, struct textbuf *why, struct tls **out);

/* Wipes the key, and frees. NULL is accepted. */
void tls_free(struct tls *tls);

/* With fewer days left than this a certificate is reported as doubtful. */
enum { DATES_DOUBTFUL_DAYS = 14 };

/* When the server's certificate expires, seconds since 1970. */
int64_t tls_expires(const struct tls *tls);

enum { TLS_OPTIONS_MAX = 4 };

/* The options for MHD_start_daemon, ended by MHD_OPTION_END; no others for a `tls` of NULL. They
 * point into `tls`, which must live as long as the daemon. */
void tls_options(struct tls *tls, struct MHD_OptionItem items[TLS_OPTIONS_MAX]);

#endif
