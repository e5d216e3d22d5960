/* SPDX-License-Identifier: MIT */
/* Posts readings from many connections, one reading a request, each after the answer to the one
 * before it on its connection.
 *
 *   uploads PORT PATH KEY BODIES CONNECTIONS MAX_ROWS MAX_MS
 *
 * Every answer must be 200 with its reading accepted. Prints rows, microseconds in all, and the
 * median and 99th percentile of an answer in microseconds. */
#include <sys/epoll.h>
#include <unistd.h>

#include "measures.h"

struct connection {
    int fd;
    int64_t sent;
    size_t len;
    char answer[4096];
};

struct load {
    const char *path;
    const char *key;
    int port;
    char **bodies;
    size_t count; /* of bodies */
    size_t next;
    size_t max;
    size_t answered;
    int64_t *times;
};

static void post(struct load *load, struct connection *c) {
    static char request[16384];
    const char *body = load->bodies[load->next++];
    int len = snprintf(request, sizeof request,
                       "POST %s HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nAuthorization: Bearer %s\r\n"
                       "Content-Type: application/json\r\nContent-Length: %zu\r\n\r\n%s",
                       load->path, load->port, load->key, strlen(body), body);
    must(len > 0 && (size_t)len < sizeof request, "a body too long");
    c->len = 0;
    c->sent = microseconds();
    send_all(c->fd, request, (size_t)len);
}

/* Takes what has come. Returns true where the answer is whole. */
static int answered(struct load *load, struct connection *c) {
    ssize_t n = recv(c->fd, c->answer + c->len, sizeof c->answer - 1 - c->len, 0);
    must(n > 0, "the server closed a connection");
    c->len += (size_t)n;
    c->answer[c->len] = '\0';
    if (whole_answer(c->answer, c->len) == 0)
        return 0;
    if (strncmp(c->answer, "HTTP/1.1 200", 12) != 0 ||
        (strstr(c->answer, "\"accepted\":1") == NULL &&
         strstr(c->answer, "\"accepted\": 1") == NULL)) {
        (void)fprintf(stderr, "uploads: %s\n", c->answer);
        exit(1);
    }
    load->times[load->answered++] = microseconds() - c->sent;
    return 1;
}

int main(int argc, char **argv) {
    struct load load = {0};
    if (argc != 8)
        return 2;
    load.port = (int)strtol(argv[1], NULL, 10);
    load.path = argv[2];
    load.key = argv[3];
    load.bodies = read_lines(argv[4], &load.count);
    size_t wanted = strtoul(argv[5], NULL, 10);
    load.max = strtoul(argv[6], NULL, 10);
    int64_t limit = strtol(argv[7], NULL, 10) * 1000;
    if (load.max > load.count)
        load.max = load.count;
    must(wanted > 0 && wanted <= 1000 && load.max >= wanted, "too few bodies");
    load.times = calloc(load.max, sizeof *load.times);
    struct connection *connections = calloc(wanted, sizeof *connections);
    int epoll = epoll_create1(EPOLL_CLOEXEC);
    must(load.times != NULL && connections != NULL && epoll >= 0, "memory");
    for (size_t i = 0; i < wanted; i++) {
        struct epoll_event event = {.events = EPOLLIN, .data.ptr = &connections[i]};
        connections[i].fd = connect_local(load.port);
        must(epoll_ctl(epoll, EPOLL_CTL_ADD, connections[i].fd, &event) == 0, "epoll");
    }
    int64_t from = microseconds();
    for (size_t i = 0; i < wanted; i++)
        post(&load, &connections[i]);
    size_t open = wanted;
    while (open > 0) {
        struct epoll_event events[64];
        int n = epoll_wait(epoll, events, 64, 10000);
        must(n > 0, "no answer within ten seconds");
        for (int i = 0; i < n; i++) {
            struct connection *c = events[i].data.ptr;
            if (!answered(&load, c))
                continue;
            if (load.next < load.max && microseconds() - from < limit)
                post(&load, c);
            else
                open--;
        }
    }
    int64_t all = microseconds() - from;
    (void)printf("%zu %lld %lld %lld\n", load.answered, (long long)all,
                 (long long)quantile(load.times, load.answered, 0.5),
                 (long long)quantile(load.times, load.answered, 0.99));
    for (size_t i = 0; i < wanted; i++)
        (void)close(connections[i].fd);
    return 0;
}
