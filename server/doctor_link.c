/* SPDX-License-Identifier: MIT */
/* doctor_link.c - certificates, and whether a server answers. */
#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "data_dir.h"
#include "doctor.h"
#include "err.h"
#include "folder.h"
#include "line.h"
#include "tls.h"
#include "tls_library.h"

enum {
    DATES_BAD_DAYS = 2, /* an event is a weekend */
    ANSWER_BYTES = 65536,
    ANSWER_DOUBTFUL_MS = 500,
    CLOCK_DOUBTFUL_SECONDS = 2
};

void doctor_dates(struct doctor *d, const char *what, int64_t from, int64_t until, int64_t now) {
    int64_t days = (until - now) / (INT64_C(24) * 60 * 60);
    if (now < from)
        doctor_say(d, FOUND_BAD, "%s: the certificate is not good yet (is the clock right?)", what);
    else if (now >= until)
        doctor_say(d, FOUND_BAD, "%s: the certificate has run out", what);
    else
        doctor_say(d,
                   days < DATES_BAD_DAYS        ? FOUND_BAD
                   : days < DATES_DOUBTFUL_DAYS ? FOUND_DOUBTFUL
                                                : FOUND_GOOD,
                   "%s: the certificate is good for %" PRId64 " more days", what, days);
}

/* Dates of the first certificate of a PEM or DER text. */
static void look_at_dates(struct doctor *d, const char *what, const gnutls_datum_t *text,
                          gnutls_x509_crt_fmt_t form) {
    gnutls_x509_crt_t cert = NULL;
    int code = tls_library()->x509_crt_init(&cert);
    if (code == GNUTLS_E_SUCCESS)
        code = tls_library()->x509_crt_import(cert, text, form);
    if (code != GNUTLS_E_SUCCESS)
        doctor_say(d, FOUND_BAD, "%s: no certificate: %s", what, tls_library()->strerror(code));
    else
        doctor_dates(d, what, tls_library()->x509_crt_get_activation_time(cert),
                     tls_library()->x509_crt_get_expiration_time(cert), now_ms() / 1000);
    tls_library()->x509_crt_deinit(cert);
}

static void look_at_key(struct doctor *d, const char *cert_file, const char *key_file) {
    struct stat file;
    struct textbuf why = {0};
    struct tls *tls = NULL;
    if (tls_load(cert_file, key_file, &why, &tls) != ERR_OK)
        doctor_say(d, FOUND_BAD, "%s", textbuf_text(&why));
    else if (stat(key_file, &file) == 0 && (file.st_mode & (S_IROTH | S_IWOTH)) != 0)
        doctor_say(d, FOUND_BAD, "%s: every user of this machine can read the key (chmod o-rwx)",
                   key_file);
    else
        doctor_say(d, FOUND_GOOD, "%s: the key belongs to the certificate", key_file);
    tls_free(tls);
    textbuf_clear(&why);
}

void doctor_certificate(struct doctor *d, const char *cert_file, const char *key_file) {
    char *text = NULL;
    size_t len = 0;
    int err = file_read(cert_file, &text, &len);
    if (err != ERR_OK) {
        doctor_say(d, FOUND_BAD, "%s: %s", cert_file, err_text(err));
        return;
    }
    const gnutls_datum_t pem = {(unsigned char *)text, (unsigned)len};
    look_at_dates(d, cert_file, &pem, GNUTLS_X509_FMT_PEM);
    free(text);
    if (key_file != NULL)
        look_at_key(d, cert_file, key_file);
}

/* The clock of a server on another machine against this one's. */
static void look_at_date(struct doctor *d, const char *url, const char *answer) {
    struct tm date = {0};
    const char *at = strcasestr(answer, "\r\nDate:");
    if (at == NULL || strptime(at + 7, " %a, %d %b %Y %H:%M:%S GMT", &date) == NULL)
        return;
    int64_t apart = timegm(&date) - now_ms() / 1000;
    if (apart > CLOCK_DOUBTFUL_SECONDS || apart < -CLOCK_DOUBTFUL_SECONDS)
        doctor_say(d, FOUND_DOUBTFUL, "%s: its clock and this machine's are %" PRId64 " s apart",
                   url, apart < 0 ? -apart : apart);
}

/* Shakes hands and looks at the certificate as somebody would who knows the machine's authorities
 * only. Trusted or not, the question is then asked. */
static bool shake_hands(struct doctor *d, const char *url, const struct address *a,
                        struct line *line) {
    unsigned status = 0;
    unsigned count = 0;
    gnutls_datum_t words = {0};
    struct textbuf why = {0};
    bool secured = line_secure(line, a, NULL, &status, &why);
    if (!secured)
        doctor_say(d, FOUND_BAD, "%s: no TLS: %s", url, textbuf_text(&why));
    textbuf_clear(&why);
    if (!secured)
        return false;
    const gnutls_datum_t *certs = tls_library()->certificate_get_peers(line->session, &count);
    if (certs != NULL && count > 0)
        look_at_dates(d, url, &certs[0], GNUTLS_X509_FMT_DER);
    if (status != 0) {
        (void)tls_library()->certificate_verification_status_print(status, GNUTLS_CRT_X509, &words,
                                                                   0);
        doctor_say(d, FOUND_DOUBTFUL, "%s: browsers will warn of the certificate: %s", url,
                   words.data == NULL ? "it is not trusted" : (char *)words.data);
        (*tls_library()->free)(words.data);
    }
    return true;
}

static void look_at_answer(struct doctor *d, const char *url, const struct address *a,
                           struct line *line) {
    struct textbuf answer = {0};
    size_t body = 0;
    int64_t began = now_ms();
    int status = line_get(line, a, "/healthz", NULL, ANSWER_BYTES, &answer, &body);
    int64_t took = now_ms() - began;
    const char *text = textbuf_text(&answer);
    if (status < 0 || (status == 0 && answer.len > 0 && strncmp(text, "HTTP/1.", 7) != 0))
        doctor_say(d, FOUND_BAD, "%s: what answers speaks no HTTP", url);
    else if (status == 0)
        doctor_say(d, FOUND_BAD, "%s: no answer within %d s", url, LINE_PATIENCE_SECONDS);
    else if (status != 200)
        doctor_say(d, FOUND_BAD, "%s: /healthz is answered with %d", url, status);
    else
        doctor_say(d, took >= ANSWER_DOUBTFUL_MS ? FOUND_DOUBTFUL : FOUND_GOOD,
                   "%s: answered after %" PRId64 " ms", url, took);
    look_at_date(d, url, text);
    textbuf_clear(&answer);
}

void doctor_url(struct doctor *d, const char *url) {
    struct address a;
    struct line line;
    struct textbuf why = {0};
    if (!address_parse(url, &a, NULL)) {
        doctor_say(d, FOUND_BAD, "%s: that is no http:// or https:// address", url);
        return;
    }
    if (!line_open(&line, &a, &why)) {
        doctor_say(d, FOUND_BAD, "%s: %s", url, textbuf_text(&why));
    } else {
        if (!a.tls || shake_hands(d, url, &a, &line))
            look_at_answer(d, url, &a, &line);
        line_close(&line);
    }
    textbuf_clear(&why);
}
