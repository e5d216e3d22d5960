/* SPDX-License-Identifier: MIT */
/* stream_socket.h - a listener over plain HTTP, whose socket a sender's thread writes by itself:
 * there may be thousands. The HTTP library, which took the connection, has let it go. Used by the
 * sender's thread alone, once that has taken it over; nothing here waits for the listener. */
#ifndef CAIRN_STREAM_SOCKET_H
#define CAIRN_STREAM_SOCKET_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "http/stream_outbox.h"

struct served_event;

struct stream_socket {
    int fd;                      /* owned: a descriptor apart from the library's */
    bool chunked;                /* messages go as chunks of HTTP/1.1, else as they are */
    struct served_event *served; /* the event; NULL for one that gets its greeting only */
    int64_t revision;            /* the newest that it was sent */
    struct stream_message *(*missed)(struct served_event *served, int64_t revision);
    atomic_int *count;      /* of listeners, less by one when this one ends */
    atomic_int *of_address; /* the same, of its address; NULL: it is not counted */
    struct stream_outbox outbox;
    size_t place; /* in its sender's list */
    int epoll;    /* the set that watches it, with it as the event's data; -1: none yet */
    bool watched; /* for room to write, too: it was full */
};

/* Has an epoll set watch it for its end, and for room while it is full. Returns false where the
 * system does not. */
bool stream_socket_watch(struct stream_socket *socket, int epoll);

/* Writes what its outbox holds, as far as there is room. Returns false where the listener has gone.
 */
bool stream_socket_flush(struct stream_socket *socket);

/* Sends a message behind what its outbox holds. Returns as stream_socket_flush. */
bool stream_socket_send(struct stream_socket *socket, struct stream_message *message);

/* Says that nothing more comes, where the listener is between two messages. */
void stream_socket_finish(const struct stream_socket *socket);

/* Closes the connection and frees what the listener has. */
void stream_socket_free(struct stream_socket *socket);

#endif
