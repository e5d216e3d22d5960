/* SPDX-License-Identifier: MIT */
/* worker_pool.h - threads that make answers, so that those which take requests never wait for one.
 *
 * Each kind of task has a queue. Two threads serve keys, one the public, and papers have one for
 * keys and one for the public: what keys ask for never waits behind the public, and what is
 * expensive waits behind what is cheap. The public's threads have a lower priority for the
 * processor, too. What several ask for under one name is made once. A queue is bounded, and so is
 * what one address may have under way. Tasks whose client has gone are not done.
 *
 * The pool knows nothing of HTTP: what is made, and whose it is, is the caller's (dispatch.c). */
#ifndef CAIRN_WORKER_POOL_H
#define CAIRN_WORKER_POOL_H

#include <stdbool.h>
#include <stddef.h>

#include "system/client_address.h"

enum task_kind {
    TASK_KEYED,        /* of who shows a key */
    TASK_PUBLIC,       /* of everybody else */
    TASK_EXPENSIVE,    /* the same, and nobody else will ask for it; done after those */
    TASK_PAPER,        /* papers of who shows a key */
    TASK_PUBLIC_PAPER, /* and of everybody else */
    TASK_KIND_COUNT
};

/* How a task ended. */
enum task_end {
    TASK_MADE,     /* `make` was called, or `share` */
    TASK_ABANDONED /* nobody waits for it any more, or the pool stops */
};

/* Something that is to be made. The caller's own memory, which stays until `done`. */
struct task {
    enum task_kind kind;
    void *context; /* the caller's own */
    /* Tasks of the same scope, name and variant are done once. NULL: this one for itself.
     * Borrowed. */
    const void *scope;
    const char *name;
    int variant;
    /* Who asks; of one address only LIMIT_TASKS_ADDRESS are under way. Length 0: not counted. */
    unsigned char address[CLIENT_ADDRESS_BYTES_MAX];
    size_t address_len;

    /* Each is called by a thread of the pool. */
    void (*make)(struct task *task);
    /* Takes over what another task of its name came to. */
    void (*share)(struct task *task, const struct task *made);
    /* True where nobody waits any more; asked before it is made. NULL: never. */
    bool (*is_gone)(const struct task *task);
    /* The last that is done with the task, which may be freed from then on. Also called by who
     * stops the pool. */
    void (*done)(struct task *task, enum task_end end);

    /* The pool's own. */
    struct task *next;
    struct task *others; /* the same things, that wait for this one */
    bool closed;         /* it will not be made, or not to the end: no other may join it */
};

struct worker_pool;

/* A pool with a thread for keys; the others' threads come with their first tasks. NULL when memory
 * is out or there is no thread to be had. */
struct worker_pool *worker_pool_new(void);

/* Hands in a task. Returns false where too many wait, and then nothing of it is kept. Any thread.
 */
bool worker_pool_submit(struct worker_pool *pool, struct task *task);

/* For a task that is just being made, and takes long: true where nobody waits for it any more, the
 * others of its name among them, or the pool stops. Once true it stays so, and what is asked for
 * under that name is made anew. The thread that makes it. */
bool worker_pool_is_abandoned(struct worker_pool *pool, struct task *task);

/* True from the moment that worker_pool_stop is called. Any thread. */
bool worker_pool_is_stopping(const struct worker_pool *pool);

/* Takes nothing more, abandons what is expensive and what waits for paper, and the rest after
 * LIMIT_TASKS_STOP_MS; comes back when what is being made is done. NULL is accepted. */
void worker_pool_stop(struct worker_pool *pool);

/* After worker_pool_stop. NULL is accepted. */
void worker_pool_free(struct worker_pool *pool);

/* Figures since the start, for /metrics. */
struct worker_pool_figures {
    int waiting;       /* now, those that share among them */
    long long made;    /* tasks that were made */
    long long shared;  /* and that others of their name were made for */
    long long refused; /* since too many waited */
    long long abandoned;
};
void worker_pool_read_figures(struct worker_pool *pool, struct worker_pool_figures *out);

#endif
