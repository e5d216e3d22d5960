/* SPDX-License-Identifier: MIT */
/* doctor_link.c - certificates, and whether a server answers. */
#include <errno.h>
#include <gnutls/gnutls.h>
#include <gnutls/x509.h>
#include <inttypes.h>
#include <netdb.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include "data_dir.h"
#include "decimal.h"
#include "doctor.h"
#include "err.h"
#include "folder.h"
#include "tls.h"

enum {
    DATES_BAD_DAYS = 2, /* an event is a weekend */
    DATES_DOUBTFUL_DAYS = 14,
    ANSWER_SECONDS = 5,
    ANSWER_DOUBTFUL_MS = 500,
    CLOCK_DOUBTFUL_SECONDS = 2
};

void doctor_dates(struct doctor *d, const char *what, int64_t from, int64_t until, int64_t now) {
    int64_t days = (until - now) / (24 * 60 * 60);
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
    int code = gnutls_x509_crt_init(&cert);
    if (code == GNUTLS_E_SUCCESS)
        code = gnutls_x509_crt_import(cert, text, form);
    if (code != GNUTLS_E_SUCCESS)
        doctor_say(d, FOUND_BAD, "%s: no certificate: %s", what, gnutls_strerror(code));
    else
        doctor_dates(d, what, gnutls_x509_crt_get_activation_time(cert),
                     gnutls_x509_crt_get_expiration_time(cert), now_ms() / 1000);
    gnutls_x509_crt_deinit(cert);
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

/* An address in its parts. */
struct address {
    bool tls;
    char host[256];
    char port[8];
};

static bool parse_url(const char *url, struct address *a) {
    int64_t port;
    *a = (struct address){.tls = strncmp(url, "https://", 8) == 0};
    if (!a->tls && strncmp(url, "http://", 7) != 0)
        return false;
    url += a->tls ? 8 : 7;
    bool brackets = *url == '[';
    url += brackets;
    size_t len = strcspn(url, brackets ? "]" : ":/?#");
    if (len == 0 || len >= sizeof a->host)
        return false;
    memcpy(a->host, url, len);
    url += len;
    if (brackets && *url++ != ']')
        return false;
    (void)snprintf(a->port, sizeof a->port, "%s", a->tls ? "443" : "80");
    if (*url == ':') {
        len = strcspn(++url, "/?#");
        if (len == 0 || len >= sizeof a->port)
            return false;
        memcpy(a->port, url, len);
        a->port[len] = '\0';
        url += len;
        if (decimal_parse_whole(a->port, 1, 65535, &port) != ERR_OK)
            return false;
    }
    return strpbrk(a->host, " @\r\n") == NULL && strchr("/?#", *url) != NULL;
}

/* A connected socket, -1 with `why` telling why not. */
static int connect_to(const struct address *a, struct textbuf *why) {
    const struct addrinfo hints = {.ai_socktype = SOCK_STREAM};
    const struct timeval patience = {.tv_sec = ANSWER_SECONDS};
    struct addrinfo *list = NULL;
    int code = getaddrinfo(a->host, a->port, &hints, &list);
    int fd = -1;
    if (code != 0) {
        textbuf_puts(why, gai_strerror(code));
        return -1;
    }
    for (const struct addrinfo *at = list; at != NULL && fd < 0; at = at->ai_next) {
        fd = socket(at->ai_family, at->ai_socktype | SOCK_CLOEXEC, at->ai_protocol);
        if (fd < 0)
            continue;
        (void)setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
        (void)setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
        if (connect(fd, at->ai_addr, at->ai_addrlen) != 0) {
            textbuf_reset(why);
            textbuf_puts(why, strerror(errno == EINPROGRESS ? ETIMEDOUT : errno));
            (void)close(fd);
            fd = -1;
        }
    }
    freeaddrinfo(list);
    return fd;
}

/* A line to a server, with TLS or without. */
struct line {
    int fd;
    gnutls_session_t session;
    gnutls_certificate_credentials_t trust;
};

static void line_close(struct line *line) {
    if (line->session != NULL)
        gnutls_deinit(line->session);
    if (line->trust != NULL)
        gnutls_certificate_free_credentials(line->trust);
    (void)close(line->fd);
}

/* Shakes hands and looks at the certificate as somebody would who knows the machine's authorities
 * only. Trusted or not, the question is then asked. */
static bool shake_hands(struct doctor *d, const char *url, const struct address *a,
                        struct line *line) {
    unsigned status = 0;
    unsigned count = 0;
    gnutls_datum_t words = {0};
    int code = gnutls_certificate_allocate_credentials(&line->trust);
    if (code == GNUTLS_E_SUCCESS)
        (void)gnutls_certificate_set_x509_system_trust(line->trust);
    if (code == GNUTLS_E_SUCCESS)
        code = gnutls_init(&line->session, GNUTLS_CLIENT);
    if (code == GNUTLS_E_SUCCESS)
        code = gnutls_set_default_priority(line->session);
    if (code == GNUTLS_E_SUCCESS)
        code = gnutls_credentials_set(line->session, GNUTLS_CRD_CERTIFICATE, line->trust);
    if (code == GNUTLS_E_SUCCESS) {
        (void)gnutls_server_name_set(line->session, GNUTLS_NAME_DNS, a->host, strlen(a->host));
        gnutls_transport_set_int(line->session, line->fd);
        gnutls_handshake_set_timeout(line->session, ANSWER_SECONDS * 1000);
        do
            code = gnutls_handshake(line->session);
        while (code < 0 && !gnutls_error_is_fatal(code));
    }
    if (code != GNUTLS_E_SUCCESS) {
        doctor_say(d, FOUND_BAD, "%s: no TLS: %s", url, gnutls_strerror(code));
        return false;
    }
    const gnutls_datum_t *certs = gnutls_certificate_get_peers(line->session, &count);
    if (certs != NULL && count > 0)
        look_at_dates(d, url, &certs[0], GNUTLS_X509_FMT_DER);
    if (gnutls_certificate_verify_peers3(line->session, a->host, &status) == GNUTLS_E_SUCCESS &&
        status != 0) {
        (void)gnutls_certificate_verification_status_print(status, GNUTLS_CRT_X509, &words, 0);
        doctor_say(d, FOUND_DOUBTFUL, "%s: browsers will warn of the certificate: %s", url,
                   words.data == NULL ? "it is not trusted" : (char *)words.data);
        gnutls_free(words.data);
    }
    return true;
}

/* Asks, and reads the answer's beginning; false where the line breaks first. */
static bool ask(struct line *line, const struct address *a, char *answer, size_t room) {
    char question[512];
    size_t got = 0;
    int n = snprintf(question, sizeof question,
                     "GET /healthz HTTP/1.1\r\nHost: %s\r\nConnection: close\r\n\r\n", a->host);
    ssize_t sent = line->session != NULL ? gnutls_record_send(line->session, question, (size_t)n)
                                         : send(line->fd, question, (size_t)n, MSG_NOSIGNAL);
    if (sent != n)
        return false;
    while (got < room - 1) {
        ssize_t part = line->session != NULL
                           ? gnutls_record_recv(line->session, answer + got, room - 1 - got)
                           : recv(line->fd, answer + got, room - 1 - got, 0);
        if (part == GNUTLS_E_INTERRUPTED || (part < 0 && errno == EINTR))
            continue;
        if (part <= 0)
            break;
        got += (size_t)part;
        answer[got] = '\0';
        if (strstr(answer, "\r\n\r\n") != NULL)
            return true;
    }
    return false;
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

static void look_at_answer(struct doctor *d, const char *url, const struct address *a,
                           struct line *line) {
    char answer[4096] = "";
    int64_t status = 0;
    int64_t began = now_ms();
    if (!ask(line, a, answer, sizeof answer)) {
        doctor_say(d, FOUND_BAD, "%s: no answer within %d s", url, ANSWER_SECONDS);
        return;
    }
    int64_t took = now_ms() - began;
    char code[4] = "";
    if (strncmp(answer, "HTTP/1.", 7) == 0 && strlen(answer) > 12)
        memcpy(code, answer + 9, 3);
    if (decimal_parse_whole(code, 100, 599, &status) != ERR_OK)
        doctor_say(d, FOUND_BAD, "%s: what answers speaks no HTTP", url);
    else if (status != 200)
        doctor_say(d, FOUND_BAD, "%s: /healthz is answered with %" PRId64, url, status);
    else
        doctor_say(d, took >= ANSWER_DOUBTFUL_MS ? FOUND_DOUBTFUL : FOUND_GOOD,
                   "%s: answered after %" PRId64 " ms", url, took);
    look_at_date(d, url, answer);
}

void doctor_url(struct doctor *d, const char *url) {
    struct address a;
    struct line line = {.fd = -1};
    struct textbuf why = {0};
    if (!parse_url(url, &a)) {
        doctor_say(d, FOUND_BAD, "%s: that is no http:// or https:// address", url);
        return;
    }
    line.fd = connect_to(&a, &why);
    if (line.fd < 0) {
        doctor_say(d, FOUND_BAD, "%s: %s", url, textbuf_text(&why));
    } else {
        if (!a.tls || shake_hands(d, url, &a, &line))
            look_at_answer(d, url, &a, &line);
        line_close(&line);
    }
    textbuf_clear(&why);
}
