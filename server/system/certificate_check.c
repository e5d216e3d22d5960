/* SPDX-License-Identifier: MIT */
#include "system/certificate_check.h"

#include <inttypes.h>
#include <stdlib.h>
#include <sys/stat.h>

#include "base/err.h"
#include "system/files.h"
#include "system/system_clock.h"
#include "system/tls.h"
#include "system/tls_library.h"

enum { DATES_BAD_DAYS = 2 /* an event is a weekend */ };

void certificate_check_dates(struct findings *f, const char *what, int64_t from, int64_t until,
                             int64_t now) {
    int64_t days = (until - now) / (INT64_C(24) * 60 * 60);
    if (now < from)
        findings_add(f, FINDING_BAD, "%s: the certificate is not good yet (is the clock right?)",
                     what);
    else if (now >= until)
        findings_add(f, FINDING_BAD, "%s: the certificate has run out", what);
    else
        findings_add(f,
                     days < DATES_BAD_DAYS        ? FINDING_BAD
                     : days < DATES_DOUBTFUL_DAYS ? FINDING_DOUBTFUL
                                                  : FINDING_GOOD,
                     "%s: the certificate is good for %" PRId64 " more days", what, days);
}

void certificate_check_text(struct findings *f, const char *what, const char *text, size_t len) {
    const gnutls_datum_t pem = {(unsigned char *)text, (unsigned)len};
    gnutls_x509_crt_t cert = NULL;
    struct textbuf why = {0};
    const struct tls_library *library = tls_library(&why);
    if (library == NULL) {
        findings_add(f, FINDING_BAD, "%s: %s", what, textbuf_text(&why));
        textbuf_clear(&why);
        return;
    }
    int code = library->gnutls_x509_crt_init(&cert);
    if (code == GNUTLS_E_SUCCESS)
        code = library->gnutls_x509_crt_import(cert, &pem, GNUTLS_X509_FMT_PEM);
    if (code != GNUTLS_E_SUCCESS)
        findings_add(f, FINDING_BAD, "%s: no certificate: %s", what,
                     library->gnutls_strerror(code));
    else
        certificate_check_dates(f, what, library->gnutls_x509_crt_get_activation_time(cert),
                                library->gnutls_x509_crt_get_expiration_time(cert),
                                now_ms() / 1000);
    library->gnutls_x509_crt_deinit(cert);
}

static void check_key(struct findings *f, const char *cert_file, const char *key_file) {
    struct stat file;
    struct textbuf why = {0};
    struct tls *tls = NULL;
    if (tls_load(cert_file, key_file, &why, &tls) != ERR_OK)
        findings_add(f, FINDING_BAD, "%s", textbuf_text(&why));
    else if (stat(key_file, &file) == 0 && (file.st_mode & (S_IROTH | S_IWOTH)) != 0)
        findings_add(f, FINDING_BAD,
                     "%s: every user of this machine can read the key (chmod o-rwx)", key_file);
    else
        findings_add(f, FINDING_GOOD, "%s: the key belongs to the certificate", key_file);
    tls_free(tls);
    textbuf_clear(&why);
}

void certificate_check(struct findings *f, const char *cert_file, const char *key_file) {
    char *text = NULL;
    size_t len = 0;
    int err = file_read(cert_file, &text, &len);
    if (err != ERR_OK) {
        findings_add(f, FINDING_BAD, "%s: %s", cert_file, err_text(err));
        return;
    }
    certificate_check_text(f, cert_file, text, len);
    free(text);
    if (key_file != NULL)
        check_key(f, cert_file, key_file);
}
