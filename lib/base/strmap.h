/* SPDX-License-Identifier: MIT */
/* strmap.h - from a text to a small whole number.
 * Keys are borrowed, may be of any length and must outlive the map; no key is ever removed. Not
 * thread-safe. The hash is keyed, so that nobody who sends keys can choose ones that collide;
 * nothing that a caller sees depends on the secret. */
#ifndef CAIRN_STRMAP_H
#define CAIRN_STRMAP_H

#include <stddef.h>
#include <stdint.h>

enum { STRMAP_SEED_LEN = 16 };

/* Sets the secret of the hash for the whole process. To be called before the first map is made and
 * before a second thread begins, by a program that reads input from outside; without it the secret
 * is all zeros. */
void strmap_seed(const unsigned char seed[STRMAP_SEED_LEN]);

struct strmap_slot {
    const char *key;
    uint32_t hash;
    int32_t value;
};

/* A plain value: {0} is an empty map. */
struct strmap {
    struct strmap_slot *slots;
    size_t cap; /* a power of two, or 0 */
    size_t count;
};

/* Frees the map, not the keys. */
void strmap_clear(struct strmap *map);

/* The value of `key`, or -1 where it is not there. */
int32_t strmap_get(const struct strmap *map, const char *key);

/* How many slots are compared to find `key`, or that it is not there. For tests: the work of a
 * search, without a clock. */
size_t strmap_probes(const struct strmap *map, const char *key);

/* Allocates slots for `count` keys in all, so that adding them needs no further memory.
 * Returns: ERR_OK; ERR_NOMEM, and then the map is unchanged. */
int strmap_reserve(struct strmap *map, size_t count);

/* Sets the value (0 or more) of `key`, which is borrowed.
 * Returns: ERR_OK; ERR_NOMEM, and then the map is unchanged. */
int strmap_put(struct strmap *map, const char *key, int32_t value);

#endif
