/* SPDX-License-Identifier: MIT */
#include "cache.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>

#include "err.h"
#include "hard_limits.h"
#include "strmap.h"

struct named {
    char *name;
    struct answer *answer;
};

struct cache {
    pthread_mutex_t lock; /* taken by readers only, for a look-up at a time */
    struct strmap names;
    struct named *list;
    size_t count;
    size_t bytes;
};

struct cache *cache_new(void) {
    struct cache *cache = calloc(1, sizeof *cache);
    if (cache != NULL && pthread_mutex_init(&cache->lock, NULL) != 0) {
        free(cache);
        cache = NULL;
    }
    return cache;
}

void cache_free(struct cache *cache) {
    if (cache == NULL)
        return;
    for (size_t i = 0; i < cache->count; i++) {
        free(cache->list[i].name);
        answer_release(cache->list[i].answer);
    }
    free(cache->list);
    strmap_clear(&cache->names);
    (void)pthread_mutex_destroy(&cache->lock);
    free(cache);
}

struct answer *cache_get(struct cache *cache, const char *name) {
    struct answer *answer = NULL;
    (void)pthread_mutex_lock(&cache->lock);
    int place = strmap_get(&cache->names, name);
    if (place >= 0) {
        answer = cache->list[place].answer;
        atomic_fetch_add(&answer->refs, 1);
    }
    (void)pthread_mutex_unlock(&cache->lock);
    return answer;
}

void cache_put(struct cache *cache, const char *name, struct answer *answer) {
    (void)pthread_mutex_lock(&cache->lock);
    if (strmap_get(&cache->names, name) < 0 && cache->count < LIMIT_CACHE_ENTRIES &&
        cache->bytes + answer->bytes <= LIMIT_CACHE_BYTES) {
        char *copy = strdup(name);
        struct named *list =
            copy == NULL ? NULL : realloc(cache->list, (cache->count + 1) * sizeof *list);
        if (list != NULL)
            cache->list = list;
        if (list != NULL && strmap_put(&cache->names, copy, (int)cache->count) == ERR_OK) {
            list[cache->count++] = (struct named){copy, answer};
            cache->bytes += answer->bytes;
            atomic_fetch_add(&answer->refs, 1);
        } else {
            free(copy);
        }
    }
    (void)pthread_mutex_unlock(&cache->lock);
}

void answer_release(struct answer *answer) {
    if (answer == NULL || atomic_fetch_sub(&answer->refs, 1) != 1)
        return;
    struct MHD_Response *const own[] = {answer->plain, answer->gzip, answer->same_plain,
                                        answer->same_gzip};
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++) {
        if (own[i] != NULL)
            MHD_destroy_response(own[i]);
    }
    free(answer);
}
