/* SPDX-License-Identifier: MIT */
/* tls_library.h - GnuTLS, loaded when it is first needed (see library.h). Who serves or asks
 * without TLS, and every command that does neither, does without it. */
#ifndef CAIRN_TLS_LIBRARY_H
#define CAIRN_TLS_LIBRARY_H

#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <stdbool.h>

struct textbuf;

/* What is used of it; the names are without the library's prefix. */
#define TLS_FUNCTIONS(X)                                                                           \
    X(certificate_allocate_credentials)                                                            \
    X(certificate_free_credentials)                                                                \
    X(certificate_get_peers)                                                                       \
    X(certificate_set_x509_system_trust)                                                           \
    X(certificate_set_x509_trust_file)                                                             \
    X(certificate_verification_status_print)                                                       \
    X(certificate_verify_peers3)                                                                   \
    X(credentials_set)                                                                             \
    X(deinit)                                                                                      \
    X(error_is_fatal)                                                                              \
    X(free)                                                                                        \
    X(handshake)                                                                                   \
    X(handshake_set_timeout)                                                                       \
    X(init)                                                                                        \
    X(record_recv)                                                                                 \
    X(record_send)                                                                                 \
    X(server_name_set)                                                                             \
    X(set_default_priority)                                                                        \
    X(strerror)                                                                                    \
    X(transport_set_int2)                                                                          \
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

/* A pointer to each; of `free` to the library's own pointer to it. */
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
