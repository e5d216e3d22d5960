/* SPDX-License-Identifier: MIT */
#include "line.h"

#include <errno.h>
#include <netdb.h>
#include <stdio.h>
#include <string.h>
#include <strings.h>
#include <sys/socket.h>
#include <unistd.h>

#include "decimal.h"
#include "err.h"
#include "tls_library.h"

bool address_parse(const char *url, struct address *a, const char **path) {
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
    if (path != NULL)
        *path = url;
    return strpbrk(a->host, " @\r\n") == NULL && strchr("/?#", *url) != NULL;
}

bool line_open(struct line *line, const struct address *a, struct textbuf *why) {
    const struct addrinfo hints = {.ai_socktype = SOCK_STREAM};
    const struct timeval patience = {.tv_sec = LINE_PATIENCE_SECONDS};
    struct addrinfo *list = NULL;
    *line = (struct line){.fd = -1};
    int code = getaddrinfo(a->host, a->port, &hints, &list);
    if (code != 0) {
        textbuf_puts(why, gai_strerror(code));
        return false;
    }
    for (const struct addrinfo *at = list; at != NULL && line->fd < 0; at = at->ai_next) {
        int fd = socket(at->ai_family, at->ai_socktype | SOCK_CLOEXEC, at->ai_protocol);
        if (fd < 0)
            continue;
        (void)setsockopt(fd, SOL_SOCKET, SO_SNDTIMEO, &patience, sizeof patience);
        (void)setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &patience, sizeof patience);
        if (connect(fd, at->ai_addr, at->ai_addrlen) == 0) {
            line->fd = fd;
            break;
        }
        textbuf_reset(why);
        textbuf_puts(why, strerror(errno == EINPROGRESS ? ETIMEDOUT : errno));
        (void)close(fd);
    }
    freeaddrinfo(list);
    return line->fd >= 0;
}

void line_close(struct line *line) {
    if (line->session != NULL)
        tls_library()->deinit(line->session);
    if (line->trust != NULL)
        tls_library()->certificate_free_credentials(line->trust);
    if (line->fd >= 0)
        (void)close(line->fd);
    *line = (struct line){.fd = -1};
}

bool line_secure(struct line *line, const struct address *a, const char *ca_file, unsigned *status,
                 struct textbuf *why) {
    if (!tls_library_load(why))
        return false;
    int code = tls_library()->certificate_allocate_credentials(&line->trust);
    if (code == GNUTLS_E_SUCCESS) {
        int found = ca_file == NULL ? tls_library()->certificate_set_x509_system_trust(line->trust)
                                    : tls_library()->certificate_set_x509_trust_file(
                                          line->trust, ca_file, GNUTLS_X509_FMT_PEM);
        /* A system without authorities trusts nobody, which the check will say. */
        if (found < 0 && ca_file != NULL)
            code = found;
    }
    if (code == GNUTLS_E_SUCCESS)
        code = tls_library()->init(&line->session, GNUTLS_CLIENT);
    if (code == GNUTLS_E_SUCCESS)
        code = tls_library()->set_default_priority(line->session);
    if (code == GNUTLS_E_SUCCESS)
        code = tls_library()->credentials_set(line->session, GNUTLS_CRD_CERTIFICATE, line->trust);
    if (code == GNUTLS_E_SUCCESS) {
        (void)tls_library()->server_name_set(line->session, GNUTLS_NAME_DNS, a->host,
                                             strlen(a->host));
        tls_library()->transport_set_int2(line->session, line->fd, line->fd);
        tls_library()->handshake_set_timeout(line->session, LINE_PATIENCE_SECONDS * 1000);
        do
            code = tls_library()->handshake(line->session);
        while (code < 0 && !tls_library()->error_is_fatal(code));
    }
    if (code == GNUTLS_E_SUCCESS)
        code = tls_library()->certificate_verify_peers3(line->session, a->host, status);
    if (code != GNUTLS_E_SUCCESS)
        textbuf_puts(why, tls_library()->strerror(code));
    return code == GNUTLS_E_SUCCESS;
}

static bool send_all(struct line *line, const char *bytes, size_t len) {
    while (len > 0) {
        ssize_t n = line->session != NULL ? tls_library()->record_send(line->session, bytes, len)
                                          : send(line->fd, bytes, len, MSG_NOSIGNAL);
        if (n == GNUTLS_E_INTERRUPTED || (line->session == NULL && n < 0 && errno == EINTR))
            continue;
        if (n <= 0)
            return false;
        bytes += n;
        len -= (size_t)n;
    }
    return true;
}

/* The next bytes: how many, 0 at the end, less where the line broke. */
static ssize_t receive(struct line *line, char *bytes, size_t room) {
    ssize_t n;
    do
        n = line->session != NULL ? tls_library()->record_recv(line->session, bytes, room)
                                  : recv(line->fd, bytes, room, 0);
    while (n == GNUTLS_E_INTERRUPTED || (line->session == NULL && n < 0 && errno == EINTR));
    return n;
}

/* The length that the head tells, -1 where it tells none. The head ends with an empty line. */
static int64_t told_length(const char *head) {
    static const char name[] = "\r\nContent-Length:";
    const char *at = strcasestr(head, name);
    char digits[24];
    int64_t length;
    if (at == NULL)
        return -1;
    at += sizeof name - 1;
    at += strspn(at, " ");
    size_t len = strcspn(at, "\r");
    if (len == 0 || len >= sizeof digits)
        return -1;
    memcpy(digits, at, len);
    digits[len] = '\0';
    return decimal_parse_whole(digits, 0, INT64_MAX / 2, &length) == ERR_OK ? length : -1;
}

static int told_status(const char *head) {
    char code[4] = "";
    int64_t status;
    if (strncmp(head, "HTTP/1.", 7) != 0 || strlen(head) < 12)
        return 0;
    memcpy(code, head + 9, 3);
    return decimal_parse_whole(code, 100, 599, &status) == ERR_OK ? (int)status : 0;
}

int line_get(struct line *line, const struct address *a, const char *path, const char *key,
             size_t room, struct textbuf *answer, size_t *body) {
    struct textbuf question = {0};
    char part[16384];
    int64_t length = -1;
    *body = 0;
    textbuf_reset(answer);
    textbuf_printf(&question, "GET %s HTTP/1.1\r\nHost: %s:%s\r\nConnection: close\r\n", path,
                   a->host, a->port);
    if (key != NULL)
        textbuf_printf(&question, "Authorization: Bearer %s\r\n", key);
    textbuf_puts(&question, "\r\n");
    bool sent = !question.failed && send_all(line, question.bytes, question.len);
    textbuf_clear(&question);
    while (sent) {
        ssize_t n = receive(line, part, sizeof part);
        if (n <= 0)
            break;
        if (answer->len + (size_t)n > room)
            return -1;
        textbuf_add(answer, part, (size_t)n);
        const char *end = *body > 0 ? NULL : strstr(textbuf_text(answer), "\r\n\r\n");
        if (end != NULL) {
            *body = (size_t)(end - answer->bytes) + 4;
            answer->bytes[*body - 1] = '\0'; /* so that nobody takes the body for head */
            length = told_length(answer->bytes);
        }
        if (*body > 0 && length >= 0 && answer->len - *body >= (size_t)length)
            break;
    }
    bool whole =
        *body > 0 && !answer->failed && (length < 0 || answer->len - *body == (size_t)length);
    return whole ? told_status(answer->bytes) : 0;
}
