/* SPDX-License-Identifier: MIT */
#include "http/stream_sender.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/eventfd.h>
#include <sys/socket.h>
#include <unistd.h>

#include "base/array.h"
#include "http/stream_socket.h"
#include "system/system_clock.h"

enum { BEAT_EVERY_MS = 15000, EVENTS_AT_ONCE = 256 };

/* What other threads hand to the sender's thread: a listener, or a message for those of an event.
 */
struct command {
    struct command *next;
    struct stream_socket *added; /* owned; NULL where it is a message */
    const struct served_event *served;
    struct stream_message *message;
};

struct stream_sender {
    pthread_t thread;
    bool started;
    bool stopping;
    int epoll;
    int wake;
    struct stream_socket **sockets; /* the thread's alone */
    size_t socket_count, socket_cap;
    pthread_mutex_t lock; /* all that follows, and started and stopping */
    struct command *commands;
    struct command **last;
    struct listener **fetching; /* who are written by the library; with all that is theirs */
    size_t fetching_count, fetching_cap;
};

struct stream_sender *stream_sender_new(void) {
    struct stream_sender *sender = calloc(1, sizeof *sender);
    if (sender == NULL)
        return NULL;
    sender->last = &sender->commands;
    (void)pthread_mutex_init(&sender->lock, NULL);
    sender->epoll = epoll_create1(EPOLL_CLOEXEC);
    sender->wake = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
    struct epoll_event event = {.events = EPOLLIN, .data.ptr = NULL};
    if (sender->epoll < 0 || sender->wake < 0 ||
        epoll_ctl(sender->epoll, EPOLL_CTL_ADD, sender->wake, &event) != 0) {
        stream_sender_free(sender);
        return NULL;
    }
    return sender;
}

void stream_sender_free(struct stream_sender *sender) {
    if (sender == NULL)
        return;
    if (sender->epoll >= 0)
        (void)close(sender->epoll);
    if (sender->wake >= 0)
        (void)close(sender->wake);
    free(sender->sockets);
    free(sender->fetching);
    (void)pthread_mutex_destroy(&sender->lock);
    free(sender);
}

static void wake(struct stream_sender *sender) {
    uint64_t one = 1;
    ssize_t ignored = write(sender->wake, &one, sizeof one);
    (void)ignored;
}

/* ---- listeners whose sockets the thread writes; the thread's alone ---- */

/* Its place goes to the last. */
static void end_socket(struct stream_sender *sender, struct stream_socket *socket) {
    sender->sockets[socket->place] = sender->sockets[--sender->socket_count];
    sender->sockets[socket->place]->place = socket->place;
    stream_socket_free(socket);
}

static void add_socket(struct stream_sender *sender, struct stream_socket *socket) {
    struct stream_socket **sockets = array_reserve(sender->sockets, &sender->socket_cap,
                                                   sender->socket_count + 1, sizeof *sockets);
    if (sockets != NULL)
        sender->sockets = sockets;
    if (sockets == NULL || !stream_socket_watch(socket, sender->epoll)) {
        stream_socket_free(socket);
        return;
    }
    socket->place = sender->socket_count;
    sender->sockets[sender->socket_count++] = socket;
    bool written = stream_socket_flush(socket);
    /* What was published after its greeting was made went to those who were here. */
    struct stream_message *missed =
        written && socket->served != NULL ? socket->missed(socket->served, socket->revision) : NULL;
    if (missed != NULL) {
        socket->revision = missed->revision;
        written = stream_socket_send(socket, missed);
    }
    stream_message_release(missed);
    /* One that is too many has been asked to reconnect later. The library closes its own descriptor
     * when it next has something to do, so that closing ours would not end the connection yet. */
    if (socket->served == NULL)
        (void)shutdown(socket->fd, SHUT_RDWR);
    if (!written || socket->served == NULL)
        end_socket(sender, socket);
}

/* ---- listeners that the library writes; all of it under the sender's lock ---- */

/* The library may come for bytes now. */
static void resume(struct listener *l) {
    if (l->suspended) {
        l->suspended = false;
        MHD_resume_connection(l->connection);
    }
}

static ssize_t fetch(struct listener *l, char *bytes, size_t room) {
    struct stream_outbox *outbox = &l->outbox;
    const struct stream_message *m = outbox->sending;
    if (m == NULL) {
        if (l->ended)
            return MHD_CONTENT_READER_END_OF_STREAM;
        l->suspended = true;
        MHD_suspend_connection(l->connection);
        return 0;
    }
    size_t rest = m->plain_len - outbox->sent;
    size_t n = rest < room ? rest : room;
    memcpy(bytes, m->bytes + m->plain_at + outbox->sent, n);
    outbox->sent += n;
    if (n == rest)
        stream_outbox_next(outbox);
    return (ssize_t)n;
}

static bool add_fetching(struct listener *l) {
    struct stream_sender *sender = l->sender;
    struct listener **fetching = array_reserve(sender->fetching, &sender->fetching_cap,
                                               sender->fetching_count + 1, sizeof *fetching);
    if (fetching == NULL)
        return false;
    sender->fetching = fetching;
    l->place = sender->fetching_count;
    sender->fetching[sender->fetching_count++] = l;
    l->taken = true;
    l->ended = l->served == NULL;
    /* As in add_socket. */
    struct stream_message *missed = l->ended ? NULL : l->missed(l->served, l->revision);
    if (missed != NULL) {
        l->revision = missed->revision;
        stream_outbox_put(&l->outbox, missed);
    }
    stream_message_release(missed);
    return true;
}

static void remove_fetching(const struct listener *l) {
    struct stream_sender *sender = l->sender;
    sender->fetching[l->place] = sender->fetching[--sender->fetching_count];
    sender->fetching[l->place]->place = l->place;
}

/* ---- the thread ---- */

/* To all of an event. A heartbeat (`served` is NULL) is for listeners of all events, but not for
 * one that is being sent something: that shows as much, and what waits behind it must not give way
 * to a heartbeat. */
static bool is_for(const struct served_event *served, const struct served_event *of,
                   const struct stream_message *sending) {
    return served == NULL ? sending == NULL : of == served;
}

/* A listener that came while revisions were published was sent the newest when it came; those
 * before that, which only now are on their way, are not for it. */
static bool is_news(const struct stream_message *m, int64_t *sent) {
    if (m->revision == 0)
        return true;
    if (m->revision <= *sent)
        return false;
    *sent = m->revision;
    return true;
}

static void send_all(struct stream_sender *sender, const struct served_event *served,
                     struct stream_message *m) {
    /* From the back: ending one moves the last into its place, which has had its turn. */
    for (size_t i = sender->socket_count; i-- > 0;) {
        struct stream_socket *socket = sender->sockets[i];
        // NOLINTNEXTLINE(clang-analyzer-unix.Malloc) the caller's own count keeps the message
        if (is_for(served, socket->served, socket->outbox.sending) &&
            is_news(m, &socket->revision) && !stream_socket_send(socket, m))
            end_socket(sender, socket);
    }
    (void)pthread_mutex_lock(&sender->lock);
    for (size_t i = 0; i < sender->fetching_count; i++) {
        struct listener *l = sender->fetching[i];
        if (is_for(served, l->served, l->outbox.sending) && is_news(m, &l->revision)) {
            stream_outbox_put(&l->outbox, m);
            resume(l);
        }
    }
    (void)pthread_mutex_unlock(&sender->lock);
}

static bool run_commands(struct stream_sender *sender) {
    (void)pthread_mutex_lock(&sender->lock);
    struct command *command = sender->commands;
    sender->commands = NULL;
    sender->last = &sender->commands;
    bool stopping = sender->stopping;
    (void)pthread_mutex_unlock(&sender->lock);
    while (command != NULL) {
        struct command *next = command->next;
        if (command->added != NULL)
            add_socket(sender, command->added);
        else
            send_all(sender, command->served, command->message);
        stream_message_release(command->message);
        free(command);
        command = next;
    }
    return !stopping;
}

static int64_t milliseconds(void) {
    return monotonic_microseconds() / 1000;
}

/* Says that the stream is alive; and finds out whether the listener is. */
static void beat(struct stream_sender *sender) {
    static const char text[] = "event: beat\ndata: {}\n\n";
    struct stream_message *m = stream_message_new(0, text, sizeof text - 1);
    if (m != NULL)
        send_all(sender, NULL, m);
    // NOLINTNEXTLINE(clang-analyzer-unix.Malloc) our own count is the last
    stream_message_release(m);
}

static void end_all(struct stream_sender *sender) {
    while (sender->socket_count > 0) {
        struct stream_socket *socket = sender->sockets[sender->socket_count - 1];
        stream_socket_finish(socket);
        end_socket(sender, socket);
    }
    (void)pthread_mutex_lock(&sender->lock);
    for (size_t i = 0; i < sender->fetching_count; i++) {
        sender->fetching[i]->ended = true;
        resume(sender->fetching[i]);
    }
    (void)pthread_mutex_unlock(&sender->lock);
}

static void *run(void *context) {
    struct stream_sender *sender = context;
    struct epoll_event events[EVENTS_AT_ONCE];
    int64_t next_beat = milliseconds() + BEAT_EVERY_MS;
    for (bool going = true; going;) {
        int64_t rest = next_beat - milliseconds();
        int n = epoll_wait(sender->epoll, events, EVENTS_AT_ONCE, rest > 0 ? (int)rest : 0);
        bool woken = false;
        for (int i = 0; i < n; i++) {
            struct stream_socket *socket = events[i].data.ptr;
            if (socket == NULL) {
                uint64_t count;
                ssize_t ignored = read(sender->wake, &count, sizeof count);
                (void)ignored;
                woken = true;
            } else if ((events[i].events & (EPOLLRDHUP | EPOLLHUP | EPOLLERR)) != 0 ||
                       !stream_socket_flush(socket)) {
                end_socket(sender, socket);
            }
        }
        /* Only after the events: a listener that they name must still be there. */
        if (woken)
            going = run_commands(sender);
        if (milliseconds() >= next_beat) {
            beat(sender);
            next_beat = milliseconds() + BEAT_EVERY_MS;
        }
    }
    end_all(sender);
    return NULL;
}

/* Under the lock. */
static bool is_running(struct stream_sender *sender) {
    if (!sender->started && !sender->stopping)
        sender->started = pthread_create(&sender->thread, NULL, run, sender) == 0;
    return sender->started && !sender->stopping;
}

/* The command is the sender's where it returns true. */
static bool submit(struct stream_sender *sender, struct command *command) {
    (void)pthread_mutex_lock(&sender->lock);
    bool taken = is_running(sender);
    if (taken) {
        command->next = NULL;
        *sender->last = command;
        sender->last = &command->next;
    }
    (void)pthread_mutex_unlock(&sender->lock);
    if (taken)
        wake(sender);
    return taken;
}

void stream_sender_send(struct stream_sender *sender, const struct served_event *served,
                        struct stream_message *message) {
    struct command *command = calloc(1, sizeof *command);
    if (command == NULL)
        return;
    command->served = served;
    command->message = stream_message_hold(message);
    if (!submit(sender, command)) {
        stream_message_release(message);
        free(command);
    }
}

void stream_sender_stop(struct stream_sender *sender) {
    (void)pthread_mutex_lock(&sender->lock);
    sender->stopping = true;
    bool started = sender->started;
    sender->started = false;
    (void)pthread_mutex_unlock(&sender->lock);
    wake(sender);
    if (started)
        (void)pthread_join(sender->thread, NULL);
}

/* ---- the library's callbacks ---- */

/* Makes a stream_socket of a listener, with a descriptor of its own. From then on the listener is
 * not counted any more; the socket is. */
static void hand_over(struct listener *l) {
    const union MHD_ConnectionInfo *info =
        MHD_get_connection_info(l->connection, MHD_CONNECTION_INFO_CONNECTION_FD);
    struct command *command = calloc(1, sizeof *command);
    struct stream_socket *socket = calloc(1, sizeof *socket);
    int fd = info == NULL ? -1 : fcntl(info->connect_fd, F_DUPFD_CLOEXEC, 0);
    if (command == NULL || socket == NULL || fd < 0) {
        if (fd >= 0)
            (void)close(fd);
        free(command);
        free(socket);
        return;
    }
    *socket = (struct stream_socket){.served = l->served,
                                     .revision = l->revision,
                                     .missed = l->missed,
                                     .count = l->count,
                                     .of_address = l->of_address,
                                     .outbox = l->outbox,
                                     .epoll = -1,
                                     .fd = fd,
                                     .chunked = l->chunked};
    l->outbox = (struct stream_outbox){0};
    l->taken = true;
    command->added = socket;
    if (!submit(l->sender, command)) {
        stream_socket_free(socket);
        free(command);
    }
}

// NOLINTNEXTLINE(readability-non-const-parameter) the type is the library's
ssize_t stream_sender_read(void *context, uint64_t position, char *bytes, size_t room) {
    struct listener *l = context;
    (void)position;
    if (!l->by_library) {
        hand_over(l);
        /* Which only makes the library close its descriptor; nothing is sent. */
        return MHD_CONTENT_READER_END_WITH_ERROR;
    }
    (void)pthread_mutex_lock(&l->sender->lock);
    bool in = l->taken || (is_running(l->sender) && add_fetching(l));
    ssize_t n = in ? fetch(l, bytes, room) : MHD_CONTENT_READER_END_OF_STREAM;
    (void)pthread_mutex_unlock(&l->sender->lock);
    return n;
}

void stream_sender_release(void *context) {
    struct listener *l = context;
    if (l->by_library && l->taken) {
        (void)pthread_mutex_lock(&l->sender->lock);
        remove_fetching(l);
        (void)pthread_mutex_unlock(&l->sender->lock);
    }
    if (l->by_library || !l->taken) {
        atomic_fetch_sub(l->count, 1);
        if (l->of_address != NULL)
            atomic_fetch_sub(l->of_address, 1);
    }
    stream_outbox_clear(&l->outbox);
    free(l);
}
