/* SPDX-License-Identifier: MIT */
/* arena.h - memory that is given back all at once.
 * An arena hands out zeroed blocks that live until the arena is freed; there is no way to give
 * one block back. Not thread-safe: one owner at a time. */
#ifndef CAIRN_ARENA_H
#define CAIRN_ARENA_H

#include <stddef.h>

struct arena;

/* A new, empty arena. Returns NULL when memory is out. Owner: the caller, see arena_free. */
struct arena *arena_new(void);

/* The same with a small first block, for uses that mostly need a few hundred bytes in all: less
 * memory is zeroed. It may grow as large. */
struct arena *arena_new_small(void);

/* Frees the arena and every block it gave. `arena` may be NULL. */
void arena_free(struct arena *arena);

/* A zeroed block of `size` bytes (0 gives a unique, unusable block), aligned for any type.
 * Returns: the block, owned by the arena; NULL when memory is out. */
void *arena_alloc(struct arena *arena, size_t size);

/* As arena_alloc for `count` things of `size` bytes; NULL too where the product overflows. */
void *arena_array(struct arena *arena, size_t count, size_t size);

/* Allocates one block in advance for about `size` bytes that will be asked for; where that is less
 * than the largest usual block, it does nothing. Only for speed: where memory is short, or the
 * guess is wrong, blocks are allocated as usual. */
void arena_reserve(struct arena *arena, size_t size);

/* A NUL-terminated copy of the `len` bytes at `text` (which may be NULL where len is 0).
 * Returns: the copy, owned by the arena; NULL when memory is out. */
char *arena_text(struct arena *arena, const char *text, size_t len);

#endif
