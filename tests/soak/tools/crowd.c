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
#include <errno.h>
#include <sys/epoll.h>
#include <sys/resource.h>
#include <unistd.h>

#include "measures.h"

enum {
    READERS = 96,
    HEAD_ROOM = 2048,
    LINE_ROOM = 32,
    PACKED_FROM = 1000, /* bytes that a body has at least to come packed */
    PATHS_MAX = 256,
    TIMES_MAX = 1 << 20,
    SILENCE_US = 75000000, /* a stream is heard at least each 30 seconds */
    READ_US = 20000000,    /* a read that takes longer is given up */
    RETURN_US = 1500000,   /* those who were cut off come back within */
};

enum state { AWAY, CONNECTING, OPEN, BUSY };

/* Where a body in chunks is: in the size of one, in its bytes, in the line end after them, at the
 * end after the last. */
enum chunk { SIZE, BYTES, AFTER, LAST };

struct connection {
    int fd;
    enum state state;
    int cached; /* goes through the cache */
    int listens;
    int64_t due; /* AWAY: when to come back; else when it last moved */
    size_t len;  /* of head */
    char head[HEAD_ROOM];
    size_t line_len; /* of the line that a listener is in */
    char line[LINE_ROOM];
    int in_body;
    int chunked;
    enum chunk chunk;
    long long body_left; /* of the answer, or of the chunk */
    int path;
    int64_t asked;
    long long floor;    /* what the answer's revision must reach */
    long long coming;   /* a listener: revision of the message that it is in */
    long long revision; /* a listener: of the last whole message */
};

struct crowd {
    struct sockaddr_in servers[2];
    uint32_t source;
    uint32_t sources;
    uint32_t next_source;
    const char *event;
    char **paths;
    size_t path_count;
    char tags[2][PATHS_MAX][96];
    struct connection *all;
    int count, listeners;
    int next_reader;
    int epoll;
    unsigned seed;
    int64_t calm;   /* since when; 0 in a storm */
    long long seen; /* the highest revision that a direct read told */
    int64_t *times;
    size_t time_count;
    long long messages, reads, same, busy, gone, lost, late, wrong, bytes;
};

static int64_t dice(struct crowd *w, int64_t below) {
    return (int64_t)rand_r(&w->seed) % below;
}

static void complain(struct crowd *w, const struct connection *c, const char *what) {
    if (w->wrong++ < 20)
        (void)fprintf(stderr, "crowd: %s %s: %s: %.700s\n", c->cached ? "cached" : "direct",
                      c->listens ? "listener" : w->paths[c->path], what, c->head);
}

static void leave(struct crowd *w, struct connection *c) {
    (void)close(c->fd);
    c->fd = -1;
    c->state = AWAY;
    c->due = microseconds() + 50000 + dice(w, RETURN_US);
}

static void lose(struct crowd *w, struct connection *c) {
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

/* A field of the head, NULL where it has none. */
static const char *field(const struct connection *c, const char *name) {
    const char *found = strcasestr(c->head, name);
    return found == NULL ? NULL : found + strlen(name);
}

/* The head of an answer to a read is there. */
static void read_head(struct crowd *w, struct connection *c, int status) {
    const char *tag = field(c, "\r\netag: ");
    if (status == 200 && tag != NULL) {
        size_t n = strcspn(tag, "\r");
        if (n < sizeof w->tags[0][0]) {
            memcpy(w->tags[c->cached][c->path], tag, n);
            w->tags[c->cached][c->path][n] = '\0';
        }
    }
    if (status == 304)
        w->same++;
    else if (status == 503)
        w->busy++;
    else if (status != 200)
        complain(w, c, "status");
    else if (field(c, "\r\ncontent-length:") == NULL && !c->chunked)
        complain(w, c, "no length");
    else if (c->path != 0 && c->body_left >= PACKED_FROM &&
             field(c, "\r\ncontent-encoding: gzip") == NULL)
        complain(w, c, "not packed");
}

/* The head of a stream is there. */
static void stream_head(struct crowd *w, struct connection *c, int status) {
    if (status == 503) {
        w->busy++;
        leave(w, c);
    } else if (status != 200) {
        complain(w, c, "status of a stream");
        lose(w, c);
    }
}

/* A whole answer is there. */
static void read_ends(struct crowd *w, struct connection *c) {
    int64_t took = microseconds() - c->asked;
    w->reads++;
    if (w->calm > 0 && c->asked >= w->calm && w->time_count < TIMES_MAX)
        w->times[w->time_count++] = took;
    c->state = OPEN;
    c->due = microseconds();
    if (field(c, "\r\nconnection: close") != NULL)
        leave(w, c);
}

/* The event's own page in JSON tells the revision early in its body. */
static void look_at_revision(struct crowd *w, const struct connection *c, const char *body,
                             size_t len) {
    const char *found = memmem(body, len, "\"revision\":", 11);
    if (c->path != 0 || c->cached || c->listens || found == NULL)
        return;
    long long revision = strtoll(found + 11, NULL, 10);
    if (revision < c->floor)
        complain(w, c, "the revision falls");
    if (revision > w->seen)
        w->seen = revision;
}

/* A line of a stream: which revision a message is; an empty one ends the message. */
static void line_ends(struct crowd *w, struct connection *c) {
    c->line[c->line_len] = '\0';
    if (strncmp(c->line, "id: ", 4) == 0)
        c->coming = strtoll(c->line + 4, NULL, 10);
    if (c->line_len == 0 && c->coming >= 0) {
        if (c->coming < c->revision)
            complain(w, c, "the stream's revision falls");
        c->revision = c->coming;
        c->coming = -1;
        w->messages++;
    }
    c->line_len = 0;
}

/* Bytes of the content, framing set aside. */
static void content(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    if (!c->listens)
        return;
    for (size_t i = 0; i < n; i++) {
        if (bytes[i] == '\n')
            line_ends(w, c);
        else if (c->line_len < LINE_ROOM - 1)
            c->line[c->line_len++] = bytes[i];
    }
}

/* Takes the framing of chunks off, piece by piece. Returns 1 at the end of the body. */
static int unchunk(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    while (n > 0) {
        if (c->chunk == BYTES) {
            size_t take = (long long)n < c->body_left ? n : (size_t)c->body_left;
            content(w, c, bytes, take);
            c->body_left -= (long long)take;
            bytes += take;
            n -= take;
            c->chunk = c->body_left == 0 ? AFTER : BYTES;
            continue;
        }
        char byte = *bytes++;
        n--;
        if (c->chunk == SIZE && byte != '\n') {
            char digit[2] = {byte, '\0'};
            if (byte != '\r')
                c->body_left = c->body_left * 16 + strtol(digit, NULL, 16);
        } else if (c->chunk == SIZE) {
            c->chunk = c->body_left == 0 ? LAST : BYTES;
        } else if (byte == '\n') {
            if (c->chunk == LAST)
                return 1;
            c->chunk = SIZE;
            c->body_left = 0;
        }
    }
    return 0;
}

/* Bytes of the body, framing and all. */
static void body(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    int ended = 0;
    if (c->chunked) {
        ended = unchunk(w, c, bytes, n);
    } else {
        content(w, c, bytes, n);
        if (c->listens) /* until the connection ends */
            return;
        c->body_left -= (long long)n;
        if (c->body_left < 0)
            complain(w, c, "more than the length");
        ended = c->body_left <= 0;
    }
    if (ended && c->listens)
        lose(w, c);
    else if (ended)
        read_ends(w, c);
}

static void gets(struct crowd *w, struct connection *c, const char *bytes, size_t n) {
    c->due = microseconds();
    if (!c->listens && c->state != BUSY) {
        complain(w, c, "bytes that nobody asked for");
        lose(w, c);
        return;
    }
    if (!c->in_body) {
        size_t room = sizeof c->head - 1 - c->len;
        size_t take = n < room ? n : room;
        memcpy(c->head + c->len, bytes, take);
        c->head[c->len + take] = '\0';
        char *end = memmem(c->head, c->len + take, "\r\n\r\n", 4);
        if (end == NULL && take < n) {
            complain(w, c, "a long head");
            lose(w, c);
        }
        if (end == NULL) {
            c->len += take;
            return;
        }
        size_t used = (size_t)(end - c->head) + 4 - c->len;
        end[2] = '\0';
        c->in_body = 1;
        int status = strncmp(c->head, "HTTP/1.1 ", 9) == 0 ? (int)strtol(c->head + 9, NULL, 10) : 0;
        const char *length = field(c, "\r\ncontent-length:");
        c->chunked = field(c, "\r\ntransfer-encoding: chunked") != NULL;
        c->chunk = SIZE;
        c->body_left =
            status != 304 && length != NULL && !c->chunked ? strtoll(length, NULL, 10) : 0;
        if (c->listens)
            stream_head(w, c, status);
        else
            read_head(w, c, status);
        if (c->state == AWAY)
            return;
        bytes += used;
        n -= used;
        look_at_revision(w, c, bytes, n);
    }
    body(w, c, bytes, n);
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
        gets(w, c, bytes, (size_t)n);
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
