/* SPDX-License-Identifier: MIT */
#include "system/tls.h"

#include <errno.h>
#include <sodium.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "system/files.h"
#include "system/http_library.h"
#include "system/tls_library.h"

enum { FILE_BYTES_MAX = 1 << 20, CHAIN_MAX = 16 };

#define PRIORITIES                                                                                 \
    "SECURE128:-VERS-ALL:+VERS-TLS1.3:+VERS-TLS1.2:-KX-ALL:+ECDHE-ECDSA:+ECDHE-RSA:"               \
    "-CIPHER-ALL:+AES-128-GCM:+CHACHA20-POLY1305:+AES-256-GCM:-MAC-ALL:+AEAD"

struct tls {
    char *cert;
    char *key;
    size_t key_len;
    int64_t expires;                    /* seconds since 1970 */
    char priorities[sizeof PRIORITIES]; /* the library's options are not const */
};

/* Reads a certificate or a key, and tells what is wrong with the file. */
static int read_pem(const char *path, char **out, size_t *len, struct textbuf *why) {
    int err = file_read_at_most(path, FILE_BYTES_MAX, out, len);
    if (err == ERR_UNKNOWN || err == ERR_IO) {
        textbuf_printf(why, "%s: %s", path, strerror(errno));
        return ERR_IO;
    }
    if (err == ERR_RANGE) {
        textbuf_printf(why, "%s: too large for a certificate or a key", path);
        return ERR_INPUT;
    }
    return err;
}

static int wrong(const struct tls_library *f, struct textbuf *why, const char *file,
                 const char *what, int code) {
    textbuf_printf(why, "%s: %s (%s)", file, what, f->gnutls_strerror(code));
    return code == GNUTLS_E_MEMORY_ERROR ? ERR_NOMEM : ERR_INPUT;
}

static bool same_public_key(const struct tls_library *f, gnutls_x509_crt_t cert,
                            gnutls_x509_privkey_t key) {
    unsigned char of_cert[64];
    unsigned char of_key[64];
    size_t cert_len = sizeof of_cert;
    size_t key_len = sizeof of_key;
    return f->gnutls_x509_crt_get_key_id(cert, GNUTLS_KEYID_USE_SHA256, of_cert, &cert_len) == 0 &&
           f->gnutls_x509_privkey_get_key_id(key, GNUTLS_KEYID_USE_SHA256, of_key, &key_len) == 0 &&
           cert_len == key_len && memcmp(of_cert, of_key, key_len) == 0;
}

static int check(const struct tls_library *f, struct tls *tls, const char *cert_file,
                 const char *key_file, struct textbuf *why) {
    gnutls_datum_t cert_text = {(unsigned char *)tls->cert, (unsigned)strlen(tls->cert)};
    gnutls_datum_t key_text = {(unsigned char *)tls->key, (unsigned)strlen(tls->key)};
    gnutls_x509_crt_t chain[CHAIN_MAX] = {0};
    unsigned count = CHAIN_MAX;
    gnutls_x509_privkey_t key = NULL;
    int err = ERR_OK;
    int code = f->gnutls_x509_crt_list_import(chain, &count, &cert_text, GNUTLS_X509_FMT_PEM,
                                              GNUTLS_X509_CRT_LIST_IMPORT_FAIL_IF_EXCEED);
    if (code < 0) {
        count = 0;
        err = wrong(f, why, cert_file, "holds no certificate in PEM form", code);
    }
    if (err == ERR_OK && (code = f->gnutls_x509_privkey_init(&key)) < 0)
        err = wrong(f, why, key_file, "cannot be looked at", code);
    if (err == ERR_OK && (code = f->gnutls_x509_privkey_import2(key, &key_text, GNUTLS_X509_FMT_PEM,
                                                                NULL, GNUTLS_PKCS_PLAIN)) < 0)
        err = wrong(f, why, key_file, "holds no private key in PEM form without a password", code);
    if (err == ERR_OK && !same_public_key(f, chain[0], key)) {
        textbuf_printf(why, "%s is not the key of the first certificate in %s", key_file,
                       cert_file);
        err = ERR_INPUT;
    }
    if (err == ERR_OK)
        tls->expires = f->gnutls_x509_crt_get_expiration_time(chain[0]);
    f->gnutls_x509_privkey_deinit(key);
    for (unsigned i = 0; i < count; i++)
        f->gnutls_x509_crt_deinit(chain[i]);
    return err;
}

int tls_load(const char *cert_file, const char *key_file, struct textbuf *why, struct tls **out) {
    size_t cert_len = 0;
    *out = NULL;
    if (!http_library_load(why))
        return ERR_IO;
    if (MHD_is_feature_supported(MHD_FEATURE_TLS) != MHD_YES) {
        textbuf_puts(why, "the HTTP library of this machine is built without TLS");
        return ERR_IO;
    }
    const struct tls_library *f = tls_library(why);
    if (f == NULL)
        return ERR_IO;
    struct tls *tls = calloc(1, sizeof *tls);
    int err = tls == NULL ? ERR_NOMEM : read_pem(cert_file, &tls->cert, &cert_len, why);
    if (err == ERR_OK)
        err = read_pem(key_file, &tls->key, &tls->key_len, why);
    if (err == ERR_OK)
        err = check(f, tls, cert_file, key_file, why);
    if (err == ERR_OK) {
        memcpy(tls->priorities, PRIORITIES, sizeof PRIORITIES);
        *out = tls;
    } else {
        tls_free(tls);
    }
    return err;
}

void tls_free(struct tls *tls) {
    if (tls == NULL)
        return;
    if (tls->key != NULL)
        sodium_memzero(tls->key, tls->key_len);
    free(tls->cert);
    free(tls->key);
    free(tls);
}

int64_t tls_expires(const struct tls *tls) {
    return tls->expires;
}

void tls_options(struct tls *tls, struct MHD_OptionItem items[TLS_OPTIONS_MAX]) {
    size_t count = 0;
    if (tls != NULL) {
        items[count++] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_MEM_CERT, 0, tls->cert};
        items[count++] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_MEM_KEY, 0, tls->key};
        items[count++] = (struct MHD_OptionItem){MHD_OPTION_HTTPS_PRIORITIES, 0, tls->priorities};
    }
    items[count] = (struct MHD_OptionItem){MHD_OPTION_END, 0, NULL};
}
