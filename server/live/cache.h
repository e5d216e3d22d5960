/* SPDX-License-Identifier: MIT */
/* cache.h - answers rendered once for the office or the public, from one snapshot.
 * Any number of threads may look up and add at once. An answer holds a plain response and, where
 * that is smaller, a compressed one; both are shared by all connections they are queued on.
 *
 * The memory has two shares, one for what many ask for and one for all else, so that the second
 * never pushes out the first. In each, the least recently used answer makes room for a new one. */
#ifndef CAIRN_CACHE_H
#define CAIRN_CACHE_H

#include <stddef.h>

#include "system/http_library.h"

struct cache;

/* A rendered answer, counted: whoever queues it holds it meanwhile. A large one has only one of the
 * two responses, see LIMIT_ANSWER_LARGE. */
struct answer {
    _Atomic int refs;
    unsigned status;
    struct MHD_Response *plain;
    struct MHD_Response *gzip;       /* NULL where it would not help */
    struct MHD_Response *same_plain; /* 304 for each, without a body; NULL where it has no tag */
    struct MHD_Response *same_gzip;
    size_t bytes;  /* of memory, all together */
    char etag[80]; /* with quotes; "" where it has none */
    char etag_gzip[80];
};

/* An empty cache (NULL when memory is out), and its end; NULL is accepted. */
struct cache *cache_new(void);
void cache_free(struct cache *cache);

/* The answer of that name, held for the caller; NULL where it is not there. */
struct answer *cache_get(struct cache *cache, const char *name);

enum cache_share {
    CACHE_USUAL, /* LIMIT_CACHE_BYTES */
    CACHE_OTHER, /* LIMIT_CACHE_OTHER_BYTES: large, or of what people type */
    CACHE_SHARE_COUNT
};

/* Adds an answer under a name (copied) and holds it too; does nothing where the answer is larger
 * than half its share, or the name is there already. */
void cache_put(struct cache *cache, enum cache_share which, const char *name,
               struct answer *answer);

/* Lets an answer go; NULL is accepted. */
void answer_release(struct answer *answer);

#endif
