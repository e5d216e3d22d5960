/* SPDX-License-Identifier: MIT */
#include "lane.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>

enum { BEAT_EVERY_MS = 15000, EVENTS_AT_ONCE = 256 };

/* A listener whose socket the lane's thread writes: there may be thousands. */
struct line {
    struct held *held;
    int64_t revision; /* the newest that it has heard of */
    struct message *(*late)(struct held *held, int64_t revision);
    atomic_int *count;
    atomic_int *of_address;  /* may be NULL */
    struct message *sending; /* what is being written, and how much of it is */
    size_t sent;
    struct message *waiting; /* the newest after that */
    size_t place;            /* in the lane's list */
    int socket;
    bool chunked;
    bool watched; /* for room to write: its socket was full */
};

/* What other threads hand to the lane's thread. */
struct mail {
    struct mail *next;
    struct line *joins; /* or */
    const struct held *held;
    struct message *message;
};

struct lane {
    pthread_t thread;
    bool started;
    bool stopping;
    int epoll;
    int wake;
    struct line **lines; /* the thread's alone */
    size_t line_count, line_cap;
    pthread_mutex_t lock; /* all that follows, and started and stopping */
    struct mail *mail;
    struct mail **last;
    struct listener **fetching; /* who are written by the library; with all that is theirs */
    size_t fetching_count, fetching_cap;
};

struct lane *lane_new(void) {
    struct lane *lane = calloc(1, sizeof *lane);
    if (lane == NULL)
        return NULL;
    lane->last = &lane->mail;
    (void)pthread_mutex_init(&lane->lock, NULL);
    lane->epoll = epoll_create1(EPOLL_CLOEXEC);
    lane->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = NULL};
    if (lane->epoll < 0 || lane->wake < 0 ||
        epoll_ctl(lane->epoll, EPOLL_CTL_ADD, lane->wake, &event) != 0) {
        lane_free(lane);
        return NULL;
    }
    return lane;
}

void lane_free(struct lane *lane) {
    if (lane == NULL)
        return;
    if (lane->epoll >= 0)
        (void)close(lane->epoll);
    if (lane->wake >= 0)
        (void)close(lane->wake);
    free(lane->lines);
    free(lane->fetching);
    (void)pthread_mutex_destroy(&lane->lock);
    free(lane);
}

/* Room for one more pointer in a list. */
static bool make_room(void **list, size_t count, size_t *cap) {
    if (count < *cap)
        return true;
    size_t more = *cap == 0 ? 64 : *cap * 2;
    void *moved = realloc(*list, more * sizeof(void *));
    if (moved == NULL)
        return false;
    *list = moved;
    *cap = more;
    return true;
}

static void wake(struct lane *lane) {
    uint64_t one = 1;
    ssize_t ignored = write(lane->wake, &one, sizeof one);
    (void)ignored;
}

/* ---- lines: the thread writes their sockets ---- */

static void line_free(struct line *line) {
    message_release(line->sending);
    message_release(line->waiting);
    atomic_fetch_sub(line->count, 1);
    if (line->of_address != NULL)
        atomic_fetch_sub(line->of_address, 1);
    (void)close(line->socket);
    free(line);
}

/* Its place goes to the last. The library may not have closed its own descriptor yet, so that
 * closing ours need not take the socket from the epoll set. */
static void end_line(struct lane *lane, struct line *line) {
    (void)epoll_ctl(lane->epoll, EPOLL_CTL_DEL, line->socket, NULL);
    lane->lines[line->place] = lane->lines[--lane->line_count];
    lane->lines[line->place]->place = line->place;
    line_free(line);
}

static void watch(const struct lane *lane, struct line *line, bool for_room) {
    struct epoll_event event = {.events = EPOLLRDHUP | (for_room ? (uint32_t)EPOLLOUT : 0u),
                                .data.ptr = line};
    if (line->watched != for_room)
        (void)epoll_ctl(lane->epoll, EPOLL_CTL_MOD, line->socket, &event);
    line->watched = for_room;
}

/* Writes what it can of a message from `*sent` on.
 * Returns: 1 all is written; 0 the socket is full; -1 the listener has gone. */
static int write_some(const struct line *line, const struct message *m, size_t *sent) {
    const char *bytes = m->bytes + (line->chunked ? 0 : m->plain_at);
    size_t len = line->chunked ? m->len : m->plain_len;
    while (*sent < len) {
        ssize_t n = send(line->socket, bytes + *sent, len - *sent, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (n > 0)
            *sent += (size_t)n;
        else if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
            return 0;
        else if (n == 0 || errno != EINTR)
            return -1;
    }
    return 1;
}

/* Keeps a message until it can be written: in place of an older one that has not been begun. */
static void keep_message(struct message **sending, struct message **waiting, struct message *m) {
    struct message **place = *sending == NULL ? sending : waiting;
    message_release(*place);
    *place = message_hold(m);
}

/* The next message becomes the one that is being written. */
static void next_message(struct message **sending, struct message **waiting, size_t *sent) {
    message_release(*sending);
    *sending = *waiting;
    *waiting = NULL;
    *sent = 0;
}

/* Writes what it holds. Returns false where the listener has gone. */
static bool write_held(const struct lane *lane, struct line *line) {
    while (line->sending != NULL) {
        int done = write_some(line, line->sending, &line->sent);
        if (done < 0)
            return false;
        if (done == 0) {
            watch(lane, line, true);
            return true;
        }
        next_message(&line->sending, &line->waiting, &line->sent);
    }
    watch(lane, line, false);
    return true;
}

/* Nearly always the socket has room, and the message need not be kept. */
static bool write_new(const struct lane *lane, struct line *line, struct message *m) {
    size_t sent = 0;
    if (line->sending != NULL) {
        keep_message(&line->sending, &line->waiting, m);
        return true; /* the socket is full and watched */
    }
    int done = write_some(line, m, &sent);
    if (done == 0) {
        keep_message(&line->sending, &line->waiting, m);
        line->sent = sent;
        watch(lane, line, true);
    }
    return done >= 0;
}

static void join(struct lane *lane, struct line *line) {
    struct epoll_event event = {.events = EPOLLRDHUP, .data.ptr = line};
    if (!make_room((void **)&lane->lines, lane->line_count, &lane->line_cap) ||
        epoll_ctl(lane->epoll, EPOLL_CTL_ADD, line->socket, &event) != 0) {
        line_free(line);
        return;
    }
    line->place = lane->line_count;
    lane->lines[lane->line_count++] = line;
    /* One that is too many has been told to come back later. The library closes its own descriptor
     * when it next has something to do, so that closing ours would not end the connection yet. */
    bool written = write_held(lane, line);
    /* What was published after its hello was made went to those who were here. */
    struct message *late =
        written && line->held != NULL ? line->late(line->held, line->revision) : NULL;
    if (late != NULL) {
        line->revision = late->revision;
        written = write_new(lane, line, late);
    }
    message_release(late);
    if (line->held == NULL)
        (void)shutdown(line->socket, SHUT_RDWR);
    if (!written || line->held == NULL)
        end_line(lane, line);
}

/* Says that nothing more comes, where the listener is between two messages. */
static void say_goodbye(const struct line *line) {
    static const char last_chunk[] = "0\r\n\r\n";
    if (line->chunked && line->sending == NULL)
        (void)send(line->socket, last_chunk, sizeof last_chunk - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
}

/* ---- listeners that the library writes; all of it under the lane's lock ---- */

/* The library may come for bytes now. */
static void unpark(struct listener *l) {
    if (l->parked) {
        l->parked = false;
        MHD_resume_connection(l->connection);
    }
}

static ssize_t fetch(struct listener *l, char *bytes, size_t room) {
    if (l->sending == NULL) {
        if (l->ended)
            return MHD_CONTENT_READER_END_OF_STREAM;
        l->parked = true;
        MHD_suspend_connection(l->connection);
        return 0;
    }
    size_t rest = l->sending->plain_len - l->sent;
    size_t n = rest < room ? rest : room;
    memcpy(bytes, l->sending->bytes + l->sending->plain_at + l->sent, n);
    l->sent += n;
    if (n == rest)
        next_message(&l->sending, &l->waiting, &l->sent);
    return (ssize_t)n;
}

static bool take_in(struct listener *l) {
    struct lane *lane = l->lane;
    if (!make_room((void **)&lane->fetching, lane->fetching_count, &lane->fetching_cap))
        return false;
    l->place = lane->fetching_count;
    lane->fetching[lane->fetching_count++] = l;
    l->taken = true;
    l->sending = l->hello;
    l->hello = NULL;
    l->ended = l->held == NULL;
    l->waiting = l->held == NULL ? NULL : l->late(l->held, l->revision); /* as in join */
    if (l->waiting != NULL)
        l->revision = l->waiting->revision;
    return true;
}

static void take_out(const struct listener *l) {
    struct lane *lane = l->lane;
    lane->fetching[l->place] = lane->fetching[--lane->fetching_count];
    lane->fetching[l->place]->place = l->place;
}

/* ---- the thread ---- */

/* To all of an event. A beat (`held` is NULL) is to all of all events, but not to who has something
 * on its way: that tells as much, and what waits behind it must not give way to a beat. */
static bool is_for(const struct held *held, const struct held *of, const struct message *sending) {
    return held == NULL ? sending == NULL : of == held;
}

/* Who came while revisions were published has heard of the newest when it came: of those before,
 * which are only now on their way, it hears no more. */
static bool is_news(const struct message *m, int64_t *heard) {
    if (m->revision == 0)
        return true;
    if (m->revision <= *heard)
        return false;
    *heard = m->revision;
    return true;
}

static void send_all(struct lane *lane, const struct held *held, struct message *m) {
    /* From the back: ending one moves the last into its place, which has had its turn. */
    for (size_t i = lane->line_count; i-- > 0;) {
        struct line *line = lane->lines[i];
        // NOLINTNEXTLINE(clang-analyzer-unix.Malloc) the caller's own count keeps the message
        if (is_for(held, line->held, line->sending) && is_news(m, &line->revision) &&
            !write_new(lane, line, m))
            end_line(lane, line);
    }
    (void)pthread_mutex_lock(&lane->lock);
    for (size_t i = 0; i < lane->fetching_count; i++) {
        struct listener *l = lane->fetching[i];
        if (is_for(held, l->held, l->sending) && is_news(m, &l->revision)) {
            keep_message(&l->sending, &l->waiting, m);
            unpark(l);
        }
    }
    (void)pthread_mutex_unlock(&lane->lock);
}

static bool take_mail(struct lane *lane) {
    (void)pthread_mutex_lock(&lane->lock);
    struct mail *mail = lane->mail;
    lane->mail = NULL;
    lane->last = &lane->mail;
    bool stopping = lane->stopping;
    (void)pthread_mutex_unlock(&lane->lock);
    while (mail != NULL) {
        struct mail *next = mail->next;
        if (mail->joins != NULL)
            join(lane, mail->joins);
        else
            send_all(lane, mail->held, mail->message);
        message_release(mail->message);
        free(mail);
        mail = next;
    }
    return !stopping;
}

static int64_t milliseconds(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Says that the stream is alive; and finds out whether the listener is. */
static void beat(struct lane *lane) {
    static const char text[] = "event: beat\ndata: {}\n\n";
    struct message *m = message_new(0, text, sizeof text - 1);
    if (m != NULL)
        send_all(lane, NULL, m);
    // NOLINTNEXTLINE(clang-analyzer-unix.Malloc) our own count is the last
    message_release(m);
}

static void end_all(struct lane *lane) {
    while (lane->line_count > 0) {
        struct line *line = lane->lines[lane->line_count - 1];
        say_goodbye(line);
        end_line(lane, line);
    }
    (void)pthread_mutex_lock(&lane->lock);
    for (size_t i = 0; i < lane->fetching_count; i++) {
        lane->fetching[i]->ended = true;
        unpark(lane->fetching[i]);
    }
    (void)pthread_mutex_unlock(&lane->lock);
}

static void *run(void *context) {
    struct lane *lane = context;
    struct epoll_event events[EVENTS_AT_ONCE];
    int64_t next_beat = milliseconds() + BEAT_EVERY_MS;
    for (bool going = true; going;) {
        int64_t rest = next_beat - milliseconds();
        int n = epoll_wait(lane->epoll, events, EVENTS_AT_ONCE, rest > 0 ? (int)rest : 0);
        bool woken = false;
        for (int i = 0; i < n; i++) {
            struct line *line = events[i].data.ptr;
            if (line == NULL) {
                uint64_t count;
                ssize_t ignored = read(lane->wake, &count, sizeof count);
                (void)ignored;
                woken = true;
            } else if ((events[i].events & (EPOLLRDHUP | EPOLLHUP | EPOLLERR)) != 0 ||
                       !write_held(lane, line)) {
                end_line(lane, line);
            }
        }
        /* Only after the events: a listener that they name must still be there. */
        if (woken)
            going = take_mail(lane);
        if (milliseconds() >= next_beat) {
            beat(lane);
            next_beat = milliseconds() + BEAT_EVERY_MS;
        }
    }
    end_all(lane);
    return NULL;
}

/* Under the lock. */
static bool is_running(struct lane *lane) {
    if (!lane->started && !lane->stopping)
        lane->started = pthread_create(&lane->thread, NULL, run, lane) == 0;
    return lane->started && !lane->stopping;
}

/* Takes the mail where it returns true. */
static bool post(struct lane *lane, struct mail *mail) {
    (void)pthread_mutex_lock(&lane->lock);
    bool taken = is_running(lane);
    if (taken) {
        mail->next = NULL;
        *lane->last = mail;
        lane->last = &mail->next;
    }
    (void)pthread_mutex_unlock(&lane->lock);
    if (taken)
        wake(lane);
    return taken;
}

void lane_tell(struct lane *lane, const struct held *held, struct message *message) {
    struct mail *mail = calloc(1, sizeof *mail);
    if (mail == NULL)
        return;
    mail->held = held;
    mail->message = message_hold(message);
    if (!post(lane, mail)) {
        message_release(message);
        free(mail);
    }
}

void lane_stop(struct lane *lane) {
    (void)pthread_mutex_lock(&lane->lock);
    lane->stopping = true;
    bool started = lane->started;
    lane->started = false;
    (void)pthread_mutex_unlock(&lane->lock);
    wake(lane);
    if (started)
        (void)pthread_join(lane->thread, NULL);
}

/* ---- the library's callbacks ---- */

/* Makes a line of a listener, with a descriptor of its own for the socket. From then on the
 * listener is not counted any more; the line is. */
static void hand_over(struct listener *l) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(l->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    struct mail *mail = calloc(1, sizeof *mail);
    struct line *line = calloc(1, sizeof *line);
    int fd = info == NULL ? -1 : fcntl(info->connect_fd, F_DUPFD_CLOEXEC, 0);
    if (mail == NULL || line == NULL || fd < 0) {
        if (fd >= 0)
            (void)close(fd);
        free(mail);
        free(line);
        return;
    }
    *line = (struct line){.held = l->held,
                          .revision = l->revision,
                          .late = l->late,
                          .count = l->count,
                          .of_address = l->of_address,
                          .sending = l->hello,
                          .socket = fd,
                          .chunked = l->chunked};
    l->hello = NULL;
    l->taken = true;
    mail->joins = line;
    if (!post(l->lane, mail)) {
        line_free(line);
        free(mail);
    }
}

// NOLINTNEXTLINE(readability-non-const-parameter) the type is the library's
ssize_t lane_read(void *context, uint64_t position, char *bytes, size_t room) {
    struct listener *l = context;
    (void)position;
    if (!l->by_library) {
        hand_over(l);
        /* Which only makes the library close its descriptor; nothing is sent. */
        return MHD_CONTENT_READER_END_WITH_ERROR;
    }
    (void)pthread_mutex_lock(&l->lane->lock);
    bool in = l->taken || (is_running(l->lane) && take_in(l));
    ssize_t n = in ? fetch(l, bytes, room) : MHD_CONTENT_READER_END_OF_STREAM;
    (void)pthread_mutex_unlock(&l->lane->lock);
    return n;
}

void lane_let_go(void *context) {
    struct listener *l = context;
    if (l->by_library && l->taken) {
        (void)pthread_mutex_lock(&l->lane->lock);
        take_out(l);
        (void)pthread_mutex_unlock(&l->lane->lock);
    }
    if (l->by_library || !l->taken) {
        atomic_fetch_sub(l->count, 1);
        if (l->of_address != NULL)
            atomic_fetch_sub(l->of_address, 1);
    }
    message_release(l->hello);
    message_release(l->sending);
    message_release(l->waiting);
    free(l);
}
