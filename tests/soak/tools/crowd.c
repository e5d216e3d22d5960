/* SPDX-License-Identifier: MIT */
/* A crowd that stays whatever happens: listeners of the event stream who come back when they are
 * cut off, and reads at a steady pace; half of both go through a cache.
 *
 *   crowd DIRECT CACHE EVENT_PATH LISTENERS READS_A_SECOND SEED SOURCES PATHS
 *
 * DIRECT and CACHE are ADDRESS:PORT, SOURCES the first of the addresses to come from and how many,
 * ADDRESS+COUNT; PATHS is a file with one path a line, the first of them EVENT_PATH. Obeys lines on
 * standard input, each answered by one line on standard output:
 *
 *   at REVISION   how many listeners have that public revision or a later one
 *   calm, storm   whether the times of reads are kept from now on
 *   tell          all that was counted, as NAME=VALUE
 *
 * and ends with the input. What must never happen is counted as `wrong` and told on standard error:
 * a revision that falls, a status that is none of 200, 304 and 503 or what a proxy says for a dead
 * origin, a body that ends early. Lost connections are counted only. */
#include "crowd.h"

#include <errno.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <unistd.h>

#include "measures.h"

int64_t dice(struct crowd *w, int64_t below) {
    return (int64_t)rand_r(&w->seed) % below;
}

void complain(struct crowd *w, const struct connection *c, const char *what) {
    if (w->wrong++ < 20)
        (void)fprintf(stderr, "crowd: %s %s: %s: %.700s\n", c->cached ? "cached" : "direct",
                      c->listens ? "listener" : w->paths[c->path], what, c->head);
}

void leave(struct crowd *w, struct connection *c) {
    (void)close(c->fd);
    c->fd = -1;
    c->state = AWAY;
    c->due = microseconds() + 50000 + dice(w, RETURN_US);
}

void lose(struct crowd *w, struct connection *c) {
    w->lost++;
    leave(w, c);
}

static void watch(const struct crowd *w, struct connection *c, int how, uint32_t what) {
    struct epoll_event event = {.events = what, .data.ptr = c};
    must(epoll_ctl(w->epoll, how, c->fd, &event) == 0, "epoll");
}

static void come(struct crowd *w, struct connection *c) {
    struct sockaddr_in from = {.sin_family = AF_INET};
    int one = 1;
    from.sin_addr.s_addr = htonl(w->source + w->next_source++ % w->sources);
    c->fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC | SOCK_NONBLOCK, 0);
    must(c->fd >= 0, "socket");
    (void)setsockopt(c->fd, IPPROTO_IP, IP_BIND_ADDRESS_NO_PORT, &one, sizeof one);
    (void)setsockopt(c->fd, IPPROTO_TCP, TCP_NODELAY, &one, sizeof one);
    must(bind(c->fd, (struct sockaddr *)&from, sizeof from) == 0, "bind");
    c->len = c->line_len = 0;
    c->in_body = 0;
    c->due = microseconds();
    c->state = CONNECTING;
    if (connect(c->fd, (struct sockaddr *)&w->servers[c->cached], sizeof *w->servers) != 0 &&
        errno != EINPROGRESS) {
        lose(w, c);
        return;
    }
    watch(w, c, EPOLL_CTL_ADD, EPOLLOUT);
}

static void say(struct crowd *w, struct connection *c, const char *request, int len) {
    must(len > 0 && (size_t)len < HEAD_ROOM, "a request too long");
    if (send(c->fd, request, (size_t)len, MSG_NOSIGNAL) != len)
        lose(w, c);
}

static void is_open(struct crowd *w, struct connection *c) {
    char request[HEAD_ROOM];
    int error = 0;
    socklen_t size = sizeof error;
    (void)getsockopt(c->fd, SOL_SOCKET, SO_ERROR, &error, &size);
    if (error != 0) {
        lose(w, c);
        return;
    }
    watch(w, c, EPOLL_CTL_MOD, EPOLLIN);
    c->state = OPEN;
    if (!c->listens)
        return;
    c->coming = -1;
    say(w, c, request,
        snprintf(request, sizeof request, "GET %s/stream HTTP/1.1\r\nHost: soak\r\n\r\n",
                 w->event));
}

static void ask(struct crowd *w, struct connection *c, int path) {
    char request[HEAD_ROOM];
    const char *tag = w->tags[c->cached][path];
    int again = *tag != '\0' && dice(w, 3) > 0;
    c->path = path;
    c->asked = microseconds();
    c->due = c->asked;
    c->floor = w->seen;
    c->len = 0;
    c->in_body = 0;
    c->state = BUSY;
    say(w, c, request,
        snprintf(request, sizeof request, "GET %s HTTP/1.1\r\nHost: soak\r\n%s%s%s%s\r\n",
                 w->paths[path], path == 0 ? "" : "Accept-Encoding: gzip\r\n",
                 again ? "If-None-Match: " : "", again ? tag : "", again ? "\r\n" : ""));
}

static void moves(struct crowd *w, struct connection *c) {
    char bytes[16384];
    if (c->state == CONNECTING) {
        is_open(w, c);
        return;
    }
    ssize_t n = recv(c->fd, bytes, sizeof bytes, 0);
    if (n < 0 && errno == EAGAIN)
        return;
    if (n > 0) {
        w->bytes += n;
        take_answer(w, c, bytes, (size_t)n);
        return;
    }
    if (c->state == BUSY)
        w->gone++;
    lose(w, c);
}

/* Lets those come back whose time it is, and those go who have waited too long. */
static void tend(struct crowd *w) {
    int64_t now = microseconds();
    int coming = 0; /* not all in one moment: the queue of who knocks is short */
    for (int i = 0; i < w->count; i++) {
        struct connection *c = &w->all[i];
        if (c->state == AWAY && now >= c->due && coming < 60) {
            come(w, c);
            coming++;
        } else if ((c->state == BUSY && now - c->due > READ_US) ||
                   (c->state == CONNECTING && now - c->due > READ_US) ||
                   (c->listens && c->state == OPEN && now - c->due > SILENCE_US)) {
            lose(w, c);
        }
    }
}

/* One more read on the next connection that is free. */
static void read_one(struct crowd *w) {
    for (int tried = 0; tried < READERS; tried++) {
        struct connection *c = &w->all[w->listeners + w->next_reader];
        w->next_reader = (w->next_reader + 1) % READERS;
        if (c->state != OPEN)
            continue;
        ask(w, c, dice(w, 8) == 0 ? 0 : (int)dice(w, (int64_t)w->path_count));
        return;
    }
    w->late++;
}

static int listening(const struct crowd *w, long long revision) {
    int count = 0;
    for (int i = 0; i < w->listeners; i++)
        count += w->all[i].state == OPEN && w->all[i].revision >= revision;
    return count;
}

static void obey(struct crowd *w, const char *line) {
    if (strncmp(line, "at ", 3) == 0) {
        (void)printf("%d\n", listening(w, strtoll(line + 3, NULL, 10)));
    } else if (strcmp(line, "tell") == 0) {
        (void)printf(
            "listening=%d messages=%lld reads=%lld same=%lld busy=%lld gone=%lld lost=%lld late=%lld wrong=%lld bytes=%lld median=%lld p99=%lld\n",
            listening(w, 0), w->messages, w->reads, w->same, w->busy, w->gone, w->lost, w->late,
            w->wrong, w->bytes, (long long)quantile(w->times, w->time_count, 0.5),
            (long long)quantile(w->times, w->time_count, 0.99));
    } else {
        w->calm = strcmp(line, "calm") == 0 ? microseconds() : 0;
        (void)printf("%s\n", line);
    }
    (void)fflush(stdout);
}

/* What is written on standard input, whole lines. Returns 0 at its end. */
static int hear_orders(struct crowd *w) {
    static char text[4096];
    static size_t len;
    ssize_t n = read(STDIN_FILENO, text + len, sizeof text - 1 - len);
    if (n <= 0)
        return 0;
    len += (size_t)n;
    text[len] = '\0';
    for (char *end; (end = strchr(text, '\n')) != NULL;) {
        *end = '\0';
        obey(w, text);
        len -= (size_t)(end + 1 - text);
        memmove(text, end + 1, len + 1);
    }
    return 1;
}

static struct sockaddr_in address_of(const char *text, char part, long *number) {
    struct sockaddr_in address = {.sin_family = AF_INET};
    char host[64];
    const char *end = strchr(text, part);
    must(end != NULL && (size_t)(end - text) < sizeof host, "an address");
    memcpy(host, text, (size_t)(end - text));
    host[end - text] = '\0';
    *number = strtol(end + 1, NULL, 10);
    must(inet_pton(AF_INET, host, &address.sin_addr) == 1, host);
    address.sin_port = htons((uint16_t)*number);
    return address;
}

static void more_files(void) {
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) == 0) {
        limit.rlim_cur = limit.rlim_max;
        (void)setrlimit(RLIMIT_NOFILE, &limit);
    }
}

static void run(struct crowd *w, int64_t gap) {
    struct epoll_event orders = {.events = EPOLLIN, .data.ptr = NULL};
    int64_t next_read = microseconds();
    int64_t next_tend = next_read;
    must(epoll_ctl(w->epoll, EPOLL_CTL_ADD, STDIN_FILENO, &orders) == 0, "standard input");
    for (;;) {
        struct epoll_event events[256];
        int n = epoll_wait(w->epoll, events, 256, 2);
        for (int i = 0; i < n; i++) {
            if (events[i].data.ptr != NULL)
                moves(w, events[i].data.ptr);
            else if (!hear_orders(w))
                return;
        }
        int64_t now = microseconds();
        if (now >= next_tend) {
            tend(w);
            next_tend = now + 20000;
        }
        for (int i = 0; i < 50 && gap > 0 && now >= next_read; i++) {
            read_one(w);
            next_read += gap;
        }
    }
}

int main(int argc, char **argv) {
    struct crowd w = {.listeners = 0};
    long number;
    if (argc != 9)
        return 2;
    w.servers[0] = address_of(argv[1], ':', &number);
    w.servers[1] = address_of(argv[2], ':', &number);
    w.event = argv[3];
    w.listeners = (int)strtol(argv[4], NULL, 10);
    long a_second = strtol(argv[5], NULL, 10);
    w.seed = (unsigned)strtoul(argv[6], NULL, 10);
    w.source = ntohl(address_of(argv[7], '+', &number).sin_addr.s_addr);
    w.sources = (uint32_t)number;
    w.paths = read_lines(argv[8], &w.path_count);
    must(w.path_count > 0 && w.path_count <= PATHS_MAX && w.sources > 0, "paths and sources");
    more_files();
    w.count = w.listeners + READERS;
    w.all = calloc((size_t)w.count, sizeof *w.all);
    w.times = malloc(TIMES_MAX * sizeof *w.times);
    w.epoll = epoll_create1(EPOLL_CLOEXEC);
    must(w.all != NULL && w.times != NULL && w.epoll >= 0, "memory");
    for (int i = 0; i < w.count; i++) {
        w.all[i].fd = -1;
        w.all[i].cached = i % 2;
        w.all[i].listens = i < w.listeners;
        w.all[i].revision = w.all[i].coming = -1;
    }
    w.calm = microseconds();
    run(&w, a_second > 0 ? 1000000 / a_second : 0);
    obey(&w, "tell");
    return w.wrong == 0 ? 0 : 1;
}
