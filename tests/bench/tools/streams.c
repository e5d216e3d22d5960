/* SPDX-License-Identifier: MIT */
/* Opens many event streams, posts readings one at a time and waits each time until the last of the
 * listeners has the new revision. Meanwhile a process of its own reads the standings at a steady
 * pace.
 *
 *   streams PORT EVENT_PATH KEY BODIES LISTENERS POSTS READS_A_SECOND READER_CORE
 *
 * EVENT_PATH is such as /api/v1/events/merrow-2027. READER_CORE is -1 or where the reader runs.
 * Says "open" on standard output once all listen and waits for a line on standard input; then
 * prints the microseconds from sending to the last listener of each post, then a line with the
 * reads: how many, median and 99th percentile. */
#include <errno.h>
#include <fcntl.h>
#include <sched.h>
#include <signal.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <sys/wait.h>
#include <unistd.h>

#include "measures.h"

enum { LINE_ROOM = 32, GAP_US = 150000, READS_MAX = 200000, EVENTS = 512 };

/* A listener keeps only the first bytes of the line that it is in. */
struct listener {
    int fd;
    int line_len;
    char line[LINE_ROOM];
    long long coming;   /* the revision of the message that it is in */
    long long revision; /* of the last whole message */
};

struct load {
    int port;
    const char *event;
    const char *key;
    int epoll;
    struct listener *listeners;
    int count;
    int heard; /* listeners that have `wanted` or later */
    long long wanted;
};

/* A line that says which revision a message is; an empty one, which ends it. HTTP's own lines end
 * in CR LF: none of them is empty. */
static void line_ends(struct load *load, struct listener *l) {
    l->line[l->line_len] = '\0';
    if (strncmp(l->line, "id: ", 4) == 0)
        l->coming = strtoll(l->line + 4, NULL, 10);
    if (l->line_len == 0) {
        if (l->revision < load->wanted && l->coming >= load->wanted)
            load->heard++;
        l->revision = l->coming;
    }
    l->line_len = 0;
}

/* Takes what one listener got. */
static void hear(struct load *load, struct listener *l) {
    char bytes[16384];
    ssize_t n = recv(l->fd, bytes, sizeof bytes, MSG_DONTWAIT);
    if (n < 0 && errno == EAGAIN)
        return;
    must(n > 0, "the server closed a stream");
    for (ssize_t i = 0; i < n; i++) {
        if (bytes[i] == '\n')
            line_ends(load, l);
        else if (l->line_len < LINE_ROOM - 1)
            l->line[l->line_len++] = bytes[i];
    }
}

/* Listens until all have `wanted`, ten seconds at most. */
static void hear_all(struct load *load) {
    int64_t end = microseconds() + 10000000;
    while (load->heard < load->count) {
        struct epoll_event events[EVENTS];
        int n = epoll_wait(load->epoll, events, EVENTS, 1000);
        for (int i = 0; i < n; i++)
            hear(load, events[i].data.ptr);
        if (microseconds() < end)
            continue;
        (void)fprintf(stderr, "streams: %d of %d heard within ten seconds\n", load->heard,
                      load->count);
        exit(1);
    }
}

static void open_all(struct load *load) {
    char request[512];
    int len =
        snprintf(request, sizeof request, "GET %s/stream HTTP/1.1\r\nHost: 127.0.0.1:%d\r\n\r\n",
                 load->event, load->port);
    load->wanted = 0;
    for (int i = 0; i < load->count; i++) {
        struct listener *l = &load->listeners[i];
        struct epoll_event event = {.events = EPOLLIN, .data.ptr = l};
        l->coming = l->revision = -1;
        l->fd = connect_local(load->port);
        send_all(l->fd, request, (size_t)len);
        must(epoll_ctl(load->epoll, EPOLL_CTL_ADD, l->fd, &event) == 0, "epoll");
    }
    hear_all(load);
}

/* Posts a reading and returns its microseconds to the last listener. The answer is read after
 * that: listeners do not wait for it. */
static int64_t post_one(struct load *load, int fd, const char *body) {
    char request[8192];
    char answer[4096];
    size_t got = 0;
    int len = snprintf(request, sizeof request,
                       "POST %s/readings HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nAuthorization: Bearer "
                       "%s\r\nContent-Type: application/json\r\nContent-Length: %zu\r\n\r\n%s",
                       load->event, load->port, load->key, strlen(body), body);
    must(len > 0 && (size_t)len < sizeof request, "a body too long");
    load->wanted = load->listeners[0].revision + 1;
    load->heard = 0;
    int64_t from = microseconds();
    send_all(fd, request, (size_t)len);
    hear_all(load);
    int64_t took = microseconds() - from;
    do {
        ssize_t n = recv(fd, answer + got, sizeof answer - 1 - got, 0);
        must(n > 0, "the server closed the connection of the posts");
        got += (size_t)n;
        answer[got] = '\0';
    } while (whole_answer(answer, got) == 0);
    if (strncmp(answer, "HTTP/1.1 200", 12) != 0 || strstr(answer, "\"refused\":[{") != NULL) {
        (void)fprintf(stderr, "streams: %s\n", answer);
        exit(1);
    }
    return took;
}

static void pause_us(int64_t us) {
    const struct timespec t = {us / 1000000, us % 1000000 * 1000};
    if (us > 0)
        (void)nanosleep(&t, NULL);
}

static volatile sig_atomic_t reader_ends;

static void end_reader(int sig) {
    (void)sig;
    reader_ends = 1;
}

/* Reads the standings at a steady pace until told to end; a read that comes late because the one
 * before it took long counts its waiting too. */
static void read_steadily(const struct load *load, int a_second, int core, int report) {
    static char answer[1 << 20];
    static int64_t times[READS_MAX];
    char request[512];
    char line[96];
    size_t count = 0;
    if (core >= 0) {
        cpu_set_t set;
        CPU_ZERO(&set);
        CPU_SET((unsigned)core, &set);
        (void)sched_setaffinity(0, sizeof set, &set);
    }
    (void)signal(SIGTERM, end_reader);
    int fd = connect_local(load->port);
    int len = snprintf(request, sizeof request,
                       "GET %s/standings HTTP/1.1\r\nHost: 127.0.0.1:%d\r\nAccept-Encoding: "
                       "gzip\r\n\r\n",
                       load->event, load->port);
    int64_t due = microseconds();
    while (!reader_ends && count < READS_MAX) {
        size_t got = 0;
        pause_us(due - microseconds());
        send_all(fd, request, (size_t)len);
        do {
            ssize_t n = recv(fd, answer + got, sizeof answer - 1 - got, 0);
            must(n > 0, "the server closed the connection of the reads");
            got += (size_t)n;
            answer[got] = '\0';
        } while (whole_answer(answer, got) == 0);
        must(strncmp(answer, "HTTP/1.1 200", 12) == 0, "a read was not answered");
        times[count++] = microseconds() - due;
        due += 1000000 / a_second;
    }
    int size =
        snprintf(line, sizeof line, "%zu %lld %lld\n", count,
                 (long long)quantile(times, count, 0.5), (long long)quantile(times, count, 0.99));
    must(write(report, line, (size_t)size) == size, "report");
    _exit(0);
}

static void more_files(void) {
    struct rlimit limit;
    if (getrlimit(RLIMIT_NOFILE, &limit) == 0) {
        limit.rlim_cur = limit.rlim_max;
        (void)setrlimit(RLIMIT_NOFILE, &limit);
    }
}

int main(int argc, char **argv) {
    struct load load = {0};
    int report[2];
    size_t bodies_count = 0;
    char line[96];
    if (argc != 9)
        return 2;
    load.port = (int)strtol(argv[1], NULL, 10);
    load.event = argv[2];
    load.key = argv[3];
    char **bodies = read_lines(argv[4], &bodies_count);
    load.count = (int)strtol(argv[5], NULL, 10);
    size_t posts = strtoul(argv[6], NULL, 10);
    must(load.count > 0 && posts <= bodies_count, "too few bodies");
    more_files();
    load.listeners = calloc((size_t)load.count, sizeof *load.listeners);
    load.epoll = epoll_create1(EPOLL_CLOEXEC);
    must(load.listeners != NULL && load.epoll >= 0 && pipe2(report, O_CLOEXEC) == 0, "memory");
    open_all(&load);
    (void)printf("open\n");
    (void)fflush(stdout);
    must(fgets(line, sizeof line, stdin) != NULL, "nobody says go");
    pid_t reader = fork();
    must(reader >= 0, "fork");
    if (reader == 0)
        read_steadily(&load, (int)strtol(argv[7], NULL, 10), (int)strtol(argv[8], NULL, 10),
                      report[1]);
    int fd = connect_local(load.port);
    for (size_t i = 0; i < posts; i++) {
        pause_us(GAP_US);
        (void)printf("%lld%c", (long long)post_one(&load, fd, bodies[i]),
                     i + 1 < posts ? ' ' : '\n');
    }
    (void)kill(reader, SIGTERM);
    ssize_t n = read(report[0], line, sizeof line - 1);
    must(n > 0, "no report of the reads");
    line[n] = '\0';
    (void)printf("%s", line);
    (void)waitpid(reader, NULL, 0);
    return 0;
}
