/* SPDX-License-Identifier: MIT */
#include "base/arena.h"

#include <stdalign.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { FIRST_BLOCK = 4096, FIRST_BLOCK_SMALL = 512, LARGEST_BLOCK = 1 << 18 };

struct block {
    struct block *next;
    size_t size;
    size_t used;
    alignas(max_align_t) unsigned char bytes[];
};

struct arena {
    struct block *blocks; /* the newest first; only it still has bytes left */
    size_t next_size;
};

static struct arena *new_arena(size_t first_block) {
    struct arena *arena = calloc(1, sizeof *arena);
    if (arena != NULL)
        arena->next_size = first_block;
    return arena;
}

struct arena *arena_new(void) {
    return new_arena(FIRST_BLOCK);
}

struct arena *arena_new_small(void) {
    return new_arena(FIRST_BLOCK_SMALL);
}

void arena_free(struct arena *arena) {
    if (arena == NULL)
        return;
    for (struct block *b = arena->blocks; b != NULL;) {
        struct block *next = b->next;
        free(b);
        b = next;
    }
    free(arena);
}

static struct block *new_block(size_t size) {
    struct block *b = calloc(1, sizeof *b + size);
    if (b != NULL) {
        b->size = size;
    }
    return b;
}

void arena_reserve(struct arena *arena, size_t size) {
    if (size <= LARGEST_BLOCK || size > SIZE_MAX / 2)
        return;
    struct block *b = new_block(size);
    if (b == NULL)
        return;
    b->next = arena->blocks;
    arena->blocks = b;
}

/* A large request gets a block to itself, behind the newest, so that what is left in the newest can
 * still be used. */
static void *take_alone(struct arena *arena, size_t size) {
    struct block *b = new_block(size);
    if (b == NULL)
        return NULL;
    b->used = size;
    b->next = arena->blocks->next;
    arena->blocks->next = b;
    return b->bytes;
}

static void *take(struct arena *arena, size_t size, size_t align) {
    if (size > SIZE_MAX / 2)
        return NULL;
    struct block *b = arena->blocks;
    size_t from = b == NULL ? 0 : (b->used + align - 1) / align * align;
    if (b == NULL || from > b->size || b->size - from < size) {
        if (b != NULL && size > arena->next_size / 2)
            return take_alone(arena, size);
        size_t capacity = size > arena->next_size ? size : arena->next_size;
        b = new_block(capacity);
        if (b == NULL)
            return NULL;
        b->next = arena->blocks;
        arena->blocks = b;
        if (arena->next_size < LARGEST_BLOCK)
            arena->next_size *= 2;
        from = 0;
    }
    b->used = from + size;
    return b->bytes + from;
}

void *arena_alloc(struct arena *arena, size_t size) {
    return take(arena, size == 0 ? 1 : size, alignof(max_align_t));
}

void *arena_array(struct arena *arena, size_t count, size_t size) {
    if (size != 0 && count > SIZE_MAX / size)
        return NULL;
    return arena_alloc(arena, count * size);
}

char *arena_text(struct arena *arena, const char *text, size_t len) {
    if (len == SIZE_MAX)
        return NULL;
    char *copy = take(arena, len + 1, 1);
    if (copy != NULL && len > 0)
        memcpy(copy, text, len);
    return copy;
}
