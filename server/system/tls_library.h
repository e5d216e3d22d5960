/* SPDX-License-Identifier: MIT */
/* tls_library.h - GnuTLS, loaded when it is first needed (see shared_library.h). Who serves
 * without TLS, and every command that looks at no certificate, does without it. */
#ifndef CAIRN_TLS_LIBRARY_H
#define CAIRN_TLS_LIBRARY_H

#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <stdbool.h>

struct textbuf;

/* What is used of it; the names are without the library's prefix. */
#define TLS_FUNCTIONS(X)                                                                           \
    X(strerror)                                                                                    \
    X(x509_crt_deinit)                                                                             \
    X(x509_crt_get_activation_time)                                                                \
    X(x509_crt_get_expiration_time)                                                                \
    X(x509_crt_get_key_id)                                                                         \
    X(x509_crt_import)                                                                             \
    X(x509_crt_init)                                                                               \
    X(x509_crt_list_import)                                                                        \
    X(x509_privkey_deinit)                                                                         \
    X(x509_privkey_get_key_id)                                                                     \
    X(x509_privkey_import2)                                                                        \
    X(x509_privkey_init)

/* A pointer to each. */
struct tls_library {
#define TLS_MEMBER(name) __typeof__(gnutls_##name) *(name);
    TLS_FUNCTIONS(TLS_MEMBER)
#undef TLS_MEMBER
};

/* Loads the library, unless it is loaded. Any thread may call it.
 *   why  gets what is missing
 * Returns: true once it is there. */
bool tls_library_load(struct textbuf *why);

/* The library. Only where tls_library_load has said that it is there; else the program ends. */
const struct tls_library *tls_library(void);

#endif
