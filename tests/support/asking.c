/* SPDX-License-Identifier: MIT */
#include "asking.h"

#include <arpa/inet.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "testing.h"

/* How long a server may take with its next byte, seconds: a busy machine takes its time. */
enum { PATIENCE_S = 120 };

int ask_connect(unsigned port) {
    const struct sockaddr_in address = {.sin_family = AF_INET,
                                        .sin_port = htons((uint16_t)port),
                                        .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    const struct timeval wait = {PATIENCE_S, 0};
    int fd = socket(AF_INET, SOCK_STREAM, 0);
    assert_true(fd >= 0);
    (void)setsockopt(fd, SOL_SOCKET, SO_RCVTIMEO, &wait, sizeof wait);
    assert_int_equal(connect(fd, (const struct sockaddr *)&address, sizeof address), 0);
    return fd;
}

void reply_read(int fd, struct reply *reply) {
    char part[4096];
    ssize_t n = 0;
    while ((n = recv(fd, part, sizeof part, 0)) > 0)
        textbuf_add(&reply->text, part, (size_t)n);
    char *text = reply->text.bytes;
    char *end = text == NULL ? NULL : strstr(text, "\r\n\r\n");
    if (end == NULL || strncmp(text, "HTTP/1.1 ", 9) != 0)
        fail_msg("no answer: %s", textbuf_text(&reply->text));
    end[2] = '\0';
    reply->head = text;
    reply->status = strtol(text + 9, NULL, 10);
    reply->body = end + 4;
    reply->body_len = reply->text.len - (size_t)(reply->body - text);
}

void ask(unsigned port, const char *line, const char *headers, const char *body,
         struct reply *reply) {
    struct textbuf request = {0};
    int fd = ask_connect(port);
    *reply = (struct reply){0};
    textbuf_printf(&request, "%s HTTP/1.1\r\nHost: skerry.example\r\nConnection: close\r\n%s", line,
                   headers);
    if (body != NULL)
        textbuf_printf(&request, "Content-Length: %zu\r\n", strlen(body));
    textbuf_printf(&request, "\r\n%s", body == NULL ? "" : body);
    assert_int_equal(send(fd, request.bytes, request.len, MSG_NOSIGNAL), (ssize_t)request.len);
    textbuf_clear(&request);
    reply_read(fd, reply);
    (void)close(fd);
}

void reply_header(const struct reply *reply, const char *name, char *value, size_t size) {
    size_t len = strlen(name);
    *value = '\0';
    for (const char *line = reply->head; line != NULL && *line != '\0';
         line = strchr(line, '\n') == NULL ? NULL : strchr(line, '\n') + 1) {
        if (strncasecmp(line, name, len) != 0 || line[len] != ':')
            continue;
        const char *from = line + len + 1 + strspn(line + len + 1, " ");
        size_t count = strcspn(from, "\r\n");
        assert_true(count < size);
        memcpy(value, from, count);
        value[count] = '\0';
        return;
    }
}

void reply_clear(struct reply *reply) {
    textbuf_clear(&reply->text);
    *reply = (struct reply){0};
}
