/* SPDX-License-Identifier: MIT */
/* request_memory.h - what ends with a request: an arena for its texts and lists, buffers, and
 * things of other modules with the function that frees each. Nothing is asked of the system before
 * something is put in. Not thread-safe. */
#ifndef CAIRN_REQUEST_MEMORY_H
#define CAIRN_REQUEST_MEMORY_H

#include <stdbool.h>
#include <stddef.h>

#include "base/textbuf.h"

struct arena;
struct request;

/* A plain value; {0} holds nothing. */
struct request_memory {
    struct arena *arena;       /* NULL until it is needed */
    struct deferred *deferred; /* the newest first */
    struct textbuf no_text;    /* takes no write: given out when memory is out */
};

/* The arena, for who fills one. NULL when memory is out. */
struct arena *request_arena(struct request *r);

/* A zeroed list of `count` things of `size` bytes. NULL when memory is out. */
void *request_array(struct request *r, size_t count, size_t size);

/* An empty buffer. Never NULL: when memory is out it is one that has failed. */
struct textbuf *request_text(struct request *r);

/* Frees `thing` by `release` when the request is answered, before what was put in earlier. NULL is
 * accepted and ignored.
 * Returns: false when memory is out; then the thing has been freed already. */
bool request_owns(struct request *r, void *thing, void (*release)(void *thing));

/* A zeroed value of `size` bytes; `clear` frees what it holds when the request is answered. NULL
 * when memory is out. */
void *request_value(struct request *r, size_t size, void (*clear)(void *value));

/* Frees everything. The request may be used further. */
void request_memory_clear(struct request *r);

#endif
