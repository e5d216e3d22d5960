/* SPDX-License-Identifier: MIT */
/* tls_library.h - GnuTLS, loaded when it is first needed, see shared_library.h. Only certificates
 * and keys are read with it here; TLS itself is spoken by the HTTP library and by libcurl. */
#ifndef CAIRN_TLS_LIBRARY_H
#define CAIRN_TLS_LIBRARY_H

#include <gnutls/gnutls.h>
#include <gnutls/x509.h>

#include "system/shared_library.h"

#define TLS_FUNCTIONS(X)                                                                           \
    X(gnutls_strerror)                                                                             \
    X(gnutls_x509_crt_deinit)                                                                      \
    X(gnutls_x509_crt_get_activation_time)                                                         \
    X(gnutls_x509_crt_get_expiration_time)                                                         \
    X(gnutls_x509_crt_get_key_id)                                                                  \
    X(gnutls_x509_crt_import)                                                                      \
    X(gnutls_x509_crt_init)                                                                        \
    X(gnutls_x509_crt_list_import)                                                                 \
    X(gnutls_x509_privkey_deinit)                                                                  \
    X(gnutls_x509_privkey_get_key_id)                                                              \
    X(gnutls_x509_privkey_import2)                                                                 \
    X(gnutls_x509_privkey_init)

struct tls_library {
    TLS_FUNCTIONS(LIBRARY_MEMBER)
};

/* The library; NULL where it is missing, with `why`. Any thread. */
const struct tls_library *tls_library(struct textbuf *why);

#endif
