/* SPDX-License-Identifier: MIT */
/* Asks again and again whether something has changed, from many connections that stay open, each
 * after the answer to the one before. A generator of our own, since wrk waits for a body where a
 * 304 tells the length of what it does not send.
 *
 *   conditional PORT PATH ETAG CONNECTIONS MS
 *
 * Every answer must be a 304. Prints requests, microseconds in all, and the median and 99th
 * percentile of an answer in microseconds. */
#include <sys/epoll.h>
#include <unistd.h>

#include "measures.h"

enum { TIMES_MAX = 4000000, CONNECTIONS_MAX = 1000 };

struct connection {
    int fd;
    int64_t sent;
    size_t len;
    char answer[2048];
};

/* Takes what has come. Returns true where the head, which is all, is whole. */
static int answered(struct connection *c) {
    ssize_t n = recv(c->fd, c->answer + c->len, sizeof c->answer - 1 - c->len, 0);
    must(n > 0, "the server closed a connection");
    c->len += (size_t)n;
    c->answer[c->len] = '\0';
    const char *end = strstr(c->answer, "\r\n\r\n");
    if (end == NULL)
        return 0;
    if (strncmp(c->answer, "HTTP/1.1 304", 12) == 0 && end + 4 == c->answer + c->len)
        return 1;
    (void)fprintf(stderr, "conditional: %s\n", c->answer);
    exit(1);
}

int main(int argc, char **argv) {
    static struct connection connections[CONNECTIONS_MAX];
    char request[1024];
    if (argc != 6)
        return 2;
    int port = (int)strtol(argv[1], NULL, 10);
    size_t wanted = strtoul(argv[4], NULL, 10);
    int64_t limit = strtol(argv[5], NULL, 10) * 1000;
    int64_t *times = malloc(TIMES_MAX * sizeof *times);
    int epoll = epoll_create1(EPOLL_CLOEXEC);
    int len = snprintf(request, sizeof request,
                       "GET %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nAccept-Encoding: gzip\r\n"
                       "If-None-Match: %s\r\n\r\n",
                       argv[2], port, argv[3]);
    must(times != NULL && epoll >= 0 && wanted > 0 && wanted <= CONNECTIONS_MAX, "arguments");
    must(len > 0 && (size_t)len < sizeof request, "a request too long");
    for (size_t i = 0; i < wanted; i++) {
        struct epoll_event event = {.events = EPOLLIN, .data.ptr = &connections[i]};
        connections[i].fd = connect_local(port);
        must(epoll_ctl(epoll, EPOLL_CTL_ADD, connections[i].fd, &event) == 0, "epoll");
    }
    int64_t from = microseconds();
    int64_t now = from;
    size_t count = 0;
    size_t open = wanted;
    for (size_t i = 0; i < wanted; i++) {
        connections[i].sent = from;
        send_all(connections[i].fd, request, (size_t)len);
    }
    while (open > 0) {
        struct epoll_event events[64];
        int n = epoll_wait(epoll, events, 64, 10000);
        must(n > 0, "no answer within ten seconds");
        for (int i = 0; i < n; i++) {
            struct connection *c = events[i].data.ptr;
            if (!answered(c))
                continue;
            now = microseconds();
            times[count++] = now - c->sent;
            c->len = 0;
            c->sent = now;
            if (now - from < limit && count + wanted < TIMES_MAX)
                send_all(c->fd, request, (size_t)len);
            else
                open--;
        }
    }
    (void)printf("%zu %lld %lld %lld\n", count, (long long)(now - from),
                 (long long)quantile(times, count, 0.5), (long long)quantile(times, count, 0.99));
    for (size_t i = 0; i < wanted; i++)
        (void)close(connections[i].fd);
    free(times);
    return 0;
}
