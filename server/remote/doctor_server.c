/* SPDX-License-Identifier: MIT */
/* Certificates, and whether a server answers and can write. */
#include <inttypes.h>
#include <jansson.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>

#include "base/err.h"
#include "remote/doctor.h"
#include "remote/http_client.h"
#include "store/writability.h"
#include "system/files.h"
#include "system/system_clock.h"
#include "system/tls.h"
#include "system/tls_library.h"

enum {
    DATES_BAD_DAYS = 2, /* an event is a weekend */
    ANSWER_BYTES = 65536,
    CONNECT_SECONDS = 5,
    ANSWER_SECONDS = 10, /* with the connecting */
    ANSWER_DOUBTFUL_MS = 500,
    CLOCK_DOUBTFUL_SECONDS = 2
};

void doctor_dates(struct doctor *d, const char *what, int64_t from, int64_t until, int64_t now) {
    int64_t days = (until - now) / (INT64_C(24) * 60 * 60);
    if (now < from)
        doctor_add(d, FINDING_BAD, "%s: the certificate is not good yet (is the clock right?)",
                   what);
    else if (now >= until)
        doctor_add(d, FINDING_BAD, "%s: the certificate has run out", what);
    else
        doctor_add(d,
                   days < DATES_BAD_DAYS        ? FINDING_BAD
                   : days < DATES_DOUBTFUL_DAYS ? FINDING_DOUBTFUL
                                                : FINDING_GOOD,
                   "%s: the certificate is good for %" PRId64 " more days", what, days);
}

/* Dates of the first certificate of a PEM text. */
static void check_dates(struct doctor *d, const char *what, const char *text, size_t len) {
    const gnutls_datum_t pem = {(unsigned char *)text, (unsigned)len};
    gnutls_x509_crt_t cert = NULL;
    struct textbuf why = {0};
    const struct tls_library *f = tls_library(&why);
    if (f == NULL) {
        doctor_add(d, FINDING_BAD, "%s: %s", what, textbuf_text(&why));
        textbuf_clear(&why);
        return;
    }
    int code = f->gnutls_x509_crt_init(&cert);
    if (code == GNUTLS_E_SUCCESS)
        code = f->gnutls_x509_crt_import(cert, &pem, GNUTLS_X509_FMT_PEM);
    if (code != GNUTLS_E_SUCCESS)
        doctor_add(d, FINDING_BAD, "%s: no certificate: %s", what, f->gnutls_strerror(code));
    else
        doctor_dates(d, what, f->gnutls_x509_crt_get_activation_time(cert),
                     f->gnutls_x509_crt_get_expiration_time(cert), now_ms() / 1000);
    f->gnutls_x509_crt_deinit(cert);
}

static void check_key(struct doctor *d, const char *cert_file, const char *key_file) {
    struct stat file;
    struct textbuf why = {0};
    struct tls *tls = NULL;
    if (tls_load(cert_file, key_file, &why, &tls) != ERR_OK)
        doctor_add(d, FINDING_BAD, "%s", textbuf_text(&why));
    else if (stat(key_file, &file) == 0 && (file.st_mode & (S_IROTH | S_IWOTH)) != 0)
        doctor_add(d, FINDING_BAD, "%s: every user of this machine can read the key (chmod o-rwx)",
                   key_file);
    else
        doctor_add(d, FINDING_GOOD, "%s: the key belongs to the certificate", key_file);
    tls_free(tls);
    textbuf_clear(&why);
}

void doctor_certificate(struct doctor *d, const char *cert_file, const char *key_file) {
    char *text = NULL;
    size_t len = 0;
    int err = file_read(cert_file, &text, &len);
    if (err != ERR_OK) {
        doctor_add(d, FINDING_BAD, "%s: %s", cert_file, err_text(err));
        return;
    }
    check_dates(d, cert_file, text, len);
    free(text);
    if (key_file != NULL)
        check_key(d, cert_file, key_file);
}

/* The clock of a server on another machine against this one's. */
static void check_date(struct doctor *d, const char *url, int64_t date) {
    int64_t apart = date - now_ms() / 1000;
    if (date >= 0 && (apart > CLOCK_DOUBTFUL_SECONDS || apart < -CLOCK_DOUBTFUL_SECONDS))
        doctor_add(d, FINDING_DOUBTFUL, "%s: its clock and this machine's are %" PRId64 " s apart",
                   url, apart < 0 ? -apart : apart);
}

/* What it cannot write, each a finding; how many. That one stands by is as it should be. */
static size_t add_unwritable(struct doctor *d, const char *url, const json_t *list) {
    size_t told = 0;
    for (size_t i = 0; i < json_array_size(list); i++) {
        const json_t *item = json_array_get(list, i);
        const char *event = json_string_value(json_object_get(item, "event"));
        const char *why = json_string_value(json_object_get(item, "why"));
        if (event == NULL)
            continue;
        if (why != NULL && strcmp(why, writability_message(UNWRITABLE_STANDBY)) == 0)
            doctor_add(d, FINDING_GOOD,
                       "%s: %s stands by for another server: promote it first to "
                       "write here",
                       url, event);
        else
            doctor_add(d, FINDING_BAD, "%s: it cannot write %s: %s", url, event,
                       why == NULL ? "no reason given" : why);
        told++;
    }
    return told;
}

void doctor_health(struct doctor *d, const char *url, const char *body, size_t len) {
    json_t *root = json_loadb(body, len, JSON_REJECT_DUPLICATES, NULL);
    const json_t *can_write = json_object_get(root, "can_write");
    if (!json_is_string(json_object_get(root, "status")))
        doctor_add(d, FINDING_BAD, "%s: what answers is no cairn server", url);
    else if (add_unwritable(d, url, json_object_get(root, "cannot_write")) > 0)
        ; /* each is a finding */
    else if (json_is_true(can_write))
        doctor_add(d, FINDING_GOOD, "%s: it can write", url);
    else if (json_is_false(can_write))
        doctor_add(d, FINDING_BAD, "%s: it cannot write", url);
    else
        doctor_add(d, FINDING_DOUBTFUL, "%s: it does not say whether it can write", url);
    json_decref(root);
}

static void check_answer(struct doctor *d, const char *url, const struct http_answer *answer) {
    if (answer->location != NULL) {
        doctor_add(d, FINDING_BAD, "%s: it sends on to %s: give that address", url,
                   answer->location);
        return;
    }
    if (answer->status != 200) {
        doctor_add(d, FINDING_BAD, "%s: /healthz is answered with %ld", url, answer->status);
    } else {
        doctor_add(d, answer->took_ms >= ANSWER_DOUBTFUL_MS ? FINDING_DOUBTFUL : FINDING_GOOD,
                   "%s: answered after %" PRId64 " ms", url, answer->took_ms);
        doctor_health(d, url, answer->body == NULL ? "" : answer->body, answer->len);
    }
    check_date(d, url, answer->date);
}

/* Asks, and looks at the certificate as somebody would who knows the machine's authorities only.
 *   any_certificate  asks on where it is not trusted, and says no more of it
 * Returns false where that is to be done. */
static bool ask(struct doctor *d, const char *url, const char *healthz, bool any_certificate) {
    const struct http_options line = {.any_certificate = any_certificate,
                                      .answer_max = ANSWER_BYTES,
                                      .connect_seconds = CONNECT_SECONDS,
                                      .silent_seconds = ANSWER_SECONDS,
                                      .total_seconds = ANSWER_SECONDS};
    struct http_client *client = NULL;
    struct http_answer answer = {0};
    struct textbuf why = {0};
    int err = http_client_new(&line, &client, &why);
    if (err != ERR_OK) {
        doctor_add(d, FINDING_BAD, "%s: %s", url, why.len > 0 ? textbuf_text(&why) : err_text(err));
        textbuf_clear(&why);
        return true;
    }
    enum http_result result = http_get(client, healthz, &answer, &why);
    const char *cert = any_certificate ? NULL : http_client_certificate(client);
    if (cert != NULL)
        check_dates(d, url, cert, strlen(cert));
    if (result == HTTP_ANSWERED)
        check_answer(d, url, &answer);
    else if (result == HTTP_UNTRUSTED)
        doctor_add(d, FINDING_DOUBTFUL, "%s: browsers will warn of the certificate: %s", url,
                   textbuf_text(&why));
    else if (result == HTTP_NO_TLS)
        doctor_add(d, FINDING_BAD, "%s: no TLS: %s", url, textbuf_text(&why));
    else if (result == HTTP_NO_ANSWER)
        doctor_add(d, FINDING_BAD, "%s: no answer: %s", url, textbuf_text(&why));
    else
        doctor_add(d, FINDING_BAD, "%s: %s", url, textbuf_text(&why));
    http_answer_clear(&answer);
    http_client_free(client);
    textbuf_clear(&why);
    return result != HTTP_UNTRUSTED;
}

void doctor_url(struct doctor *d, const char *url) {
    char healthz[HTTP_BASE_MAX + sizeof "/healthz"];
    size_t len = http_base_length(url);
    if (len == 0) {
        doctor_add(d, FINDING_BAD, "%s: that is no http:// or https:// address", url);
        return;
    }
    (void)snprintf(healthz, sizeof healthz, "%.*s/healthz", (int)len, url);
    if (!ask(d, url, healthz, false))
        (void)ask(d, url, healthz, true);
}
