/* SPDX-License-Identifier: MIT */
#include "http/stream_socket.h"

#include <errno.h>
#include <stdlib.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

bool stream_socket_watch(struct stream_socket *socket, int epoll) {
    struct epoll_event event = {.events = EPOLLRDHUP, .data.ptr = socket};
    socket->epoll = epoll;
    return epoll_ctl(epoll, EPOLL_CTL_ADD, socket->fd, &event) == 0;
}

static void watch_for_room(struct stream_socket *socket, bool for_room) {
    struct epoll_event event = {.events = EPOLLRDHUP | (for_room ? (uint32_t)EPOLLOUT : 0u),
                                .data.ptr = socket};
    if (socket->watched != for_room)
        (void)epoll_ctl(socket->epoll, EPOLL_CTL_MOD, socket->fd, &event);
    socket->watched = for_room;
}

/* Writes what it can of a message from `*sent` on.
 * Returns: 1 all is written; 0 the socket is full; -1 the listener has gone. */
static int write_some(const struct stream_socket *socket, const struct stream_message *m,
                      size_t *sent) {
    const char *bytes = m->bytes + (socket->chunked ? 0 : m->plain_at);
    size_t len = socket->chunked ? m->len : m->plain_len;
    while (*sent < len) {
        ssize_t n = send(socket->fd, bytes + *sent, len - *sent, MSG_NOSIGNAL | MSG_DONTWAIT);
        if (n > 0)
            *sent += (size_t)n;
        else if (n < 0 && (errno == EAGAIN || errno == EWOULDBLOCK))
            return 0;
        else if (n == 0 || errno != EINTR)
            return -1;
    }
    return 1;
}

bool stream_socket_flush(struct stream_socket *socket) {
    struct stream_outbox *outbox = &socket->outbox;
    while (outbox->sending != NULL) {
        int done = write_some(socket, outbox->sending, &outbox->sent);
        if (done < 0)
            return false;
        if (done == 0) {
            watch_for_room(socket, true);
            return true;
        }
        stream_outbox_next(outbox);
    }
    watch_for_room(socket, false);
    return true;
}

/* Nearly always the socket has room, and the message need not be kept. */
bool stream_socket_send(struct stream_socket *socket, struct stream_message *message) {
    size_t sent = 0;
    if (socket->outbox.sending != NULL) {
        stream_outbox_put(&socket->outbox, message);
        return true; /* the socket is full and watched */
    }
    int done = write_some(socket, message, &sent);
    if (done == 0) {
        stream_outbox_put(&socket->outbox, message);
        socket->outbox.sent = sent;
        watch_for_room(socket, true);
    }
    return done >= 0;
}

void stream_socket_finish(const struct stream_socket *socket) {
    static const char last_chunk[] = "0\r\n\r\n";
    if (socket->chunked && socket->outbox.sending == NULL)
        (void)send(socket->fd, last_chunk, sizeof last_chunk - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
}

void stream_socket_free(struct stream_socket *socket) {
    /* The library may not have closed its own descriptor yet: then closing ours takes the socket
     * from no epoll set. */
    if (socket->epoll >= 0)
        (void)epoll_ctl(socket->epoll, EPOLL_CTL_DEL, socket->fd, NULL);
    (void)close(socket->fd);
    stream_outbox_clear(&socket->outbox);
    atomic_fetch_sub(socket->count, 1);
    if (socket->of_address != NULL)
        atomic_fetch_sub(socket->of_address, 1);
    free(socket);
}
