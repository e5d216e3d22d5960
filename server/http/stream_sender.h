/* SPDX-License-Identifier: MIT */
/* stream_sender.h - one thread that sends messages to its share of the listeners of event streams.
 *
 * A listener's connection comes from the HTTP library, which answers the request and sends the
 * head. Over plain HTTP the sender then keeps a descriptor of its own for the socket, and the
 * library closes its own and forgets the connection: thousands of listeners cost little. (The
 * daemon must run with MHD_USE_TURBO, or it would shut the socket down as it closes it.) Under TLS
 * only the library can write: there the sender wakes the connection, and the library fetches the
 * bytes. Either way a listener that cannot keep up holds one message, the newest, never a queue. */
#ifndef CAIRN_STREAM_SENDER_H
#define CAIRN_STREAM_SENDER_H

#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "http/stream_outbox.h"
#include "system/http_library.h"

struct served_event;
struct stream_sender;

/* A stream that is being opened; under TLS also while it lives. Made by whoever opens it, on the
 * heap and zeroed, and given to the library as the context of the response. */
struct listener {
    struct stream_sender *sender;
    struct MHD_Connection *connection;
    struct served_event *served; /* the event; NULL for one that gets its greeting only */
    atomic_int *count;           /* of listeners, less by one when this one ends */
    atomic_int *of_address;      /* the same, of its address; NULL: it is not counted */
    struct stream_outbox outbox; /* holds its first message, the greeting; then the sender's */
    int64_t revision;            /* that the greeting was made at */
    /* What a new listener is sent when the event is at another revision by now; else NULL. */
    struct stream_message *(*missed)(struct served_event *served, int64_t revision);
    bool by_library; /* under TLS: only the library can write to it */
    bool chunked;

    /* The sender's own. */
    bool taken;
    bool suspended; /* suspended until there is a message */
    bool ended;
    size_t place; /* in the sender's list */
};

/* A sender without a thread; that comes with the first listener. NULL when memory is out. */
struct stream_sender *stream_sender_new(void);

/* Ends every listener's connection, and the thread. */
void stream_sender_stop(struct stream_sender *sender);

/* After stream_sender_stop and after the library has released all listeners. NULL is accepted. */
void stream_sender_free(struct stream_sender *sender);

/* Sends a message to all listeners of an event. Never waits for them; any thread. */
void stream_sender_send(struct stream_sender *sender, const struct served_event *served,
                        struct stream_message *message);

/* Content reader of a listener's response (`context` is the listener), called by the library once
 * the head is sent; under TLS each time the connection was resumed. */
ssize_t stream_sender_read(void *context, uint64_t position, char *bytes, size_t room);

/* The end of a listener (`context`), called by the library with the end of the response. */
void stream_sender_release(void *context);

#endif
