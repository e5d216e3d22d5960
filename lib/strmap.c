/* SPDX-License-Identifier: MIT */
#include "strmap.h"

#include <stdlib.h>
#include <string.h>

#include "err.h"

void strmap_clear(struct strmap *map) {
    free(map->slots);
    *map = (struct strmap){0};
}

/* FNV-1a. Keys are at most 64 bytes, and a map that fills up evenly needs no more. */
static uint32_t hash_of(const char *key) {
    uint32_t hash = 2166136261u;
    for (; *key != '\0'; key++)
        hash = (hash ^ (unsigned char)*key) * 16777619u;
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

int32_t strmap_get(const struct strmap *map, const char *key) {
    if (map->cap == 0)
        return -1;
    const struct strmap_slot *slot = find(map->slots, map->cap, key, hash_of(key));
    return slot->key == NULL ? -1 : slot->value;
}

int strmap_put(struct strmap *map, const char *key, int32_t value) {
    /* At most three slots in four are taken, so that every search ends at a free one. */
    if ((map->count + 1) * 4 > map->cap * 3) {
        size_t cap = map->cap == 0 ? 16 : map->cap * 2;
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
    }
    uint32_t hash = hash_of(key);
    struct strmap_slot *slot = find(map->slots, map->cap, key, hash);
    if (slot->key == NULL) {
        map->count++;
        *slot = (struct strmap_slot){key, hash, value};
    }
    slot->value = value;
    return ERR_OK;
}
