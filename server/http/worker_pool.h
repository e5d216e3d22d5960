/* SPDX-License-Identifier: MIT */
/* worker_pool.h - threads that make what has to be made first, so that those which take requests
 * never wait for an answer.
 *
 * Each turn has a queue and threads of its own: what keys ask for never waits behind the public,
 * and what is dear waits behind what is cheap. The public's threads have a lower priority for the
 * processor, too. What several ask for under one name is made once. A queue is bounded, and so is
 * what one address may have under way. Orders whose client has gone are not made. */
#ifndef CAIRN_WORKER_POOL_H
#define CAIRN_WORKER_POOL_H

#include <stdbool.h>
#include <stddef.h>

#include "system/client_address.h"

enum turn {
    TURN_KEYED,        /* of who shows a key */
    TURN_PUBLIC,       /* of everybody else */
    TURN_DEAR,         /* the same, and nobody else will ask for it; made after those */
    TURN_PAPER,        /* papers of who shows a key */
    TURN_PUBLIC_PAPER, /* and of everybody else */
    TURN_COUNT
};

/* Why an order ended. */
enum order_end {
    ORDER_MADE,    /* `make` was called, or `share` */
    ORDER_GIVEN_UP /* nobody waits for it any more, or the makers stop */
};

/* Something that is to be made. The caller's own memory, which stays until `done`. */
struct order {
    enum turn turn;
    void *context; /* the caller's own */
    /* Orders of the same scope, name and variant are made once. NULL: this one for itself.
     * Borrowed. */
    const void *scope;
    const char *name;
    int variant;
    /* Who asks; of one address only LIMIT_ORDERS_ADDRESS are under way. Length 0: not counted. */
    unsigned char address[CLIENT_ADDRESS_BYTES_MAX];
    size_t address_len;

    /* Each is called by a maker's thread. */
    void (*make)(struct order *order);
    /* Takes over what another order of its name was made to. */
    void (*share)(struct order *order, const struct order *made);
    /* True where nobody waits any more; asked before it is made. NULL: never. */
    bool (*is_gone)(const struct order *order);
    /* The last that is done with the order, which may be freed from then on. Also called by who
     * stops the makers. */
    void (*done)(struct order *order, enum order_end end);

    /* The makers' own. */
    struct order *next;
    struct order *others; /* the same things, that wait for this one */
    bool closed;          /* it will not be made, or not to the end: no other may join it */
};

struct worker_pool;

/* Makers with a thread for keys; the others' threads come with their first orders. NULL when memory
 * is out or there is no thread to be had. */
struct worker_pool *worker_pool_new(void);

/* Hands in an order. Returns false where too many wait, and then nothing of it is kept. Any thread.
 */
bool worker_pool_take(struct worker_pool *makers, struct order *order);

/* For an order that is just being made, and takes long: true where nobody waits for it any more,
 * the others of its name among them, or the makers stop. Once true it stays so, and what is asked
 * for under that name is made anew. The thread that makes it. */
bool worker_pool_give_up(struct worker_pool *makers, struct order *order);

/* True from the moment that worker_pool_stop is called. Any thread. */
bool worker_pool_are_stopping(const struct worker_pool *makers);

/* Takes nothing more, gives up what is dear and what waits for paper, and the rest after
 * LIMIT_ORDERS_STOP_MS; comes back when what is being made is done. NULL is accepted. */
void worker_pool_stop(struct worker_pool *makers);

/* After worker_pool_stop. NULL is accepted. */
void worker_pool_free(struct worker_pool *makers);

/* Figures since the start, for /metrics. */
struct worker_pool_figures {
    int waiting;       /* now, those that share among them */
    long long made;    /* orders that were made */
    long long shared;  /* and that others of their name were made for */
    long long refused; /* since too many waited */
    long long given_up;
};
void worker_pool_tell(struct worker_pool *makers, struct worker_pool_figures *out);

#endif
