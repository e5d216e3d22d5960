/* SPDX-License-Identifier: MIT */
/* lane.h - one thread that sends messages to its share of the listeners of event streams.
 *
 * A listener's connection comes from the HTTP library, which answers the request and sends the
 * head. Over plain HTTP the lane then keeps a descriptor of its own for the socket, and the library
 * closes its own and forgets the connection: thousands of listeners cost little. (The daemon must
 * run with MHD_USE_TURBO, or it would shut the socket down as it closes it.) Under TLS only the
 * library can write: there the lane wakes the connection, and the library fetches the bytes.
 * Either way a listener that cannot keep up holds one message, the newest, never a queue. */
#ifndef CAIRN_LANE_H
#define CAIRN_LANE_H

#include <microhttpd.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "message.h"

struct held;
struct lane;

/* A stream that is being opened; under TLS also while it lives. Made by whoever opens it, on the
 * heap and zeroed, and given to the library as the context of the response. */
struct listener {
    struct lane *lane;
    struct MHD_Connection *connection;
    struct held *held;      /* the event; NULL for one that is told its hello and let go */
    atomic_int *count;      /* of listeners, less by one when this one ends */
    atomic_int *of_address; /* the same, of its address; NULL: it is not counted */
    struct message *hello;  /* its first message; let go by the lane */
    int64_t revision;       /* that the hello was made at */
    /* What one is told who comes to listen when the event is at another revision; else NULL. */
    struct message *(*late)(struct held *held, int64_t revision);
    bool by_library; /* under TLS: only the library can write to it */
    bool chunked;

    /* The lane's own. */
    bool taken;
    bool parked; /* suspended until there is a message */
    bool ended;
    struct message *sending; /* what is being written, and how much of it is */
    size_t sent;
    struct message *waiting; /* the newest after that */
    size_t place;            /* in the lane's list */
};

/* A lane without a thread; that comes with the first listener. NULL when memory is out. */
struct lane *lane_new(void);

/* Ends every listener's connection, and the thread. */
void lane_stop(struct lane *lane);

/* After lane_stop and after the library has let all listeners go. NULL is accepted. */
void lane_free(struct lane *lane);

/* Sends a message to all listeners of an event. Never waits for them; any thread. */
void lane_tell(struct lane *lane, const struct held *held, struct message *message);

/* Content reader of a listener's response (`context` is the listener), called by the library once
 * the head is sent; under TLS each time the connection was resumed. */
ssize_t lane_read(void *context, uint64_t position, char *bytes, size_t room);

/* The end of a listener (`context`), called by the library with the end of the response. */
void lane_let_go(void *context);

#endif
