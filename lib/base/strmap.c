/* SPDX-License-Identifier: MIT */
#include "base/strmap.h"

#include <assert.h>
#include <sodium.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"

enum { FIRST_CAP = 16 };

void strmap_clear(struct strmap *map) {
    free(map->slots);
    *map = (struct strmap){0};
}

/* One for all maps of the process; written once, before the first of them. */
static unsigned char secret[STRMAP_SEED_LEN];

static_assert(STRMAP_SEED_LEN == crypto_shorthash_KEYBYTES, "the seed is the hash's key");

void strmap_seed(const unsigned char seed[STRMAP_SEED_LEN]) {
    memcpy(secret, seed, sizeof secret);
}

/* SipHash-2-4: keys come from outside, and must not be chosen so that they collide. */
static uint32_t hash_of(const char *key) {
    unsigned char bytes[crypto_shorthash_BYTES];
    uint32_t hash;
    (void)crypto_shorthash(bytes, (const unsigned char *)key, strlen(key), secret);
    memcpy(&hash, bytes, sizeof hash);
    return hash;
}

static struct strmap_slot *find(struct strmap_slot *slots, size_t cap, const char *key,
                                uint32_t hash) {
    for (size_t i = hash & (cap - 1);; i = (i + 1) & (cap - 1)) {
        struct strmap_slot *slot = &slots[i];
        if (slot->key == NULL || (slot->hash == hash && strcmp(slot->key, key) == 0))
            return slot;
    }
}

size_t strmap_probes(const struct strmap *map, const char *key) {
    if (map->cap == 0)
        return 0;
    uint32_t hash = hash_of(key);
    const struct strmap_slot *slot = find(map->slots, map->cap, key, hash);
    return (((size_t)(slot - map->slots) - hash) & (map->cap - 1)) + 1;
}

int32_t strmap_get(const struct strmap *map, const char *key) {
    if (map->cap == 0)
        return -1;
    const struct strmap_slot *slot = find(map->slots, map->cap, key, hash_of(key));
    return slot->key == NULL ? -1 : slot->value;
}

/* Moves all keys into a table of `cap` slots. */
static int grow(struct strmap *map, size_t cap) {
    struct strmap_slot *slots = calloc(cap, sizeof *slots);
    if (slots == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < map->cap; i++) {
        if (map->slots[i].key != NULL)
            *find(slots, cap, map->slots[i].key, map->slots[i].hash) = map->slots[i];
    }
    free(map->slots);
    map->slots = slots;
    map->cap = cap;
    return ERR_OK;
}

/* At most three slots in four are taken, so that every search ends at a free one. */
static bool holds(size_t cap, size_t count) {
    return count <= cap / 4 * 3;
}

int strmap_reserve(struct strmap *map, size_t count) {
    size_t cap = map->cap == 0 ? FIRST_CAP : map->cap;
    while (!holds(cap, count)) {
        if (cap > SIZE_MAX / 2)
            return ERR_NOMEM;
        cap *= 2;
    }
    return cap <= map->cap ? ERR_OK : grow(map, cap);
}

int strmap_put(struct strmap *map, const char *key, int32_t value) {
    if (!holds(map->cap, map->count + 1) &&
        grow(map, map->cap == 0 ? FIRST_CAP : map->cap * 2) != ERR_OK)
        return ERR_NOMEM;
    uint32_t hash = hash_of(key);
    struct strmap_slot *slot = find(map->slots, map->cap, key, hash);
    if (slot->key == NULL) {
        map->count++;
        *slot = (struct strmap_slot){key, hash, value};
    }
    slot->value = value;
    return ERR_OK;
}
