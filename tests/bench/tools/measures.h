/* SPDX-License-Identifier: MIT */
/* measures.h - what the load generators share: a clock, an order, ways to end, connections. */
#ifndef CAIRN_BENCH_MEASURES_H
#define CAIRN_BENCH_MEASURES_H

#include <arpa/inet.h>
#include <netinet/tcp.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>

static inline int64_t microseconds(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000000 + now.tv_nsec / 1000;
}

static inline void must(int good, const char *what) {
    if (good)
        return;
    perror(what);
    exit(1);
}

static inline int compare_times(const void *a, const void *b) {
    int64_t x = *(const int64_t *)a;
    int64_t y = *(const int64_t *)b;
    return (x > y) - (x < y);
}

/* Sorts and gives the value below which `share` of them lie; 0 where there are none. */
static inline int64_t quantile(int64_t *times, size_t count, double share) {
    if (count == 0)
        return 0;
    qsort(times, count, sizeof *times, compare_times);
    size_t place = (size_t)((double)count * share);
    return times[place < count ? place : count - 1];
}

/* A connection to 127.0.0.1, without delay for small packets. */
static inline int connect_local(int port) {
    struct sockaddr_in address = {.sin_family = AF_INET,
                                  .sin_port = htons((uint16_t)port),
                                  .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
    int one = 1;
    int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
    must(fd >= 0, "socket");
    must(connect(fd, (const struct sockaddr *)&address, sizeof address) == 0, "connect");
    must(setsockopt(fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one) == 0, "TCP_NODELAY");
    return fd;
}

/* Sends all of it; the pieces are small enough for a socket's buffer. */
static inline void send_all(int fd, const char *bytes, size_t len) {
    for (size_t sent = 0; sent < len;) {
        ssize_t n = send(fd, bytes + sent, len - sent, MSG_NOSIGNAL);
        must(n > 0, "send");
        sent += (size_t)n;
    }
}

/* Length of the first whole answer in `text`, 0 where it is not all there. Ends the program where
 * its head says no length. */
static inline size_t whole_answer(const char *text, size_t len) {
    const char *end = memmem(text, len, "\r\n\r\n", 4);
    if (end == NULL)
        return 0;
    size_t head = (size_t)(end - text) + 4;
    const char *field = strcasestr(text, "\r\ncontent-length:");
    must(field != NULL && field < end, "an answer without a length");
    size_t body = strtoul(field + 17, NULL, 10);
    return head + body <= len ? head + body : 0;
}

/* The lines of a file, each NUL-terminated; read once and kept until the program ends. */
static inline char **read_lines(const char *path, size_t *count) {
    FILE *f = fopen(path, "re");
    char **lines = NULL;
    size_t room = 0;
    char *line = NULL;
    size_t cap = 0;
    ssize_t len;
    must(f != NULL, path);
    *count = 0;
    while ((len = getline(&line, &cap, f)) > 0) {
        if (line[len - 1] == '\n')
            line[len - 1] = '\0';
        if (*count == room) {
            room = room == 0 ? 1024 : room * 2;
            lines = realloc(lines, room * sizeof *lines);
            must(lines != NULL, "memory");
        }
        lines[*count] = strdup(line);
        must(lines[(*count)++] != NULL, "memory");
    }
    free(line);
    (void)fclose(f);
    return lines;
}

#endif
