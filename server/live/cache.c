/* SPDX-License-Identifier: MIT */
#include "live/cache.h"

#include <pthread.h>
#include <sodium.h>
#include <stdatomic.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "system/hard_limits.h"

/* For some hundreds of answers at most: each counts as ANSWER_OVERHEAD bytes (answer.c) at least.
 */
enum { BUCKET_COUNT = 128 };

struct cached {
    struct cached *next;          /* in its bucket */
    struct cached *newer, *older; /* by when it was last asked for, in its share */
    uint64_t hash;
    enum cache_share share;
    struct answer *answer;
    char name[];
};

struct share {
    struct cached *newest, *oldest;
    size_t bytes;
};

struct cache {
    pthread_mutex_t lock; /* taken by readers only, for a look-up at a time */
    struct share shares[CACHE_SHARE_COUNT];
    struct cached *buckets[BUCKET_COUNT];
};

static const size_t capacity[CACHE_SHARE_COUNT] = {
    [CACHE_USUAL] = LIMIT_CACHE_BYTES, [CACHE_OTHER] = LIMIT_CACHE_OTHER_BYTES};

/* Names come from outside: nobody may choose which of them share a bucket. */
static struct {
    pthread_once_t once;
    unsigned char key[crypto_shorthash_KEYBYTES];
} seed = {.once = PTHREAD_ONCE_INIT};

static void make_seed(void) {
    crypto_shorthash_keygen(seed.key);
}

static uint64_t hash_of(const char *name) {
    uint64_t hash = 0;
    unsigned char bytes[crypto_shorthash_BYTES];
    _Static_assert(sizeof hash == crypto_shorthash_BYTES, "one is the other");
    (void)pthread_once(&seed.once, make_seed);
    (void)crypto_shorthash(bytes, (const unsigned char *)name, strlen(name), seed.key);
    memcpy(&hash, bytes, sizeof hash);
    return hash;
}

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
    for (int i = 0; i < BUCKET_COUNT; i++) {
        for (struct cached *n = cache->buckets[i]; n != NULL;) {
            struct cached *next = n->next;
            answer_release(n->answer);
            free(n);
            n = next;
        }
    }
    (void)pthread_mutex_destroy(&cache->lock);
    free(cache);
}

/* Takes it out of its share's list by age. */
static void unlink_age(struct cache *cache, struct cached *n) {
    struct share *share = &cache->shares[n->share];
    *(n->newer == NULL ? &share->newest : &n->newer->older) = n->older;
    *(n->older == NULL ? &share->oldest : &n->older->newer) = n->newer;
}

static void make_newest(struct cache *cache, struct cached *n) {
    struct share *share = &cache->shares[n->share];
    n->newer = NULL;
    n->older = share->newest;
    *(share->newest == NULL ? &share->oldest : &share->newest->newer) = n;
    share->newest = n;
}

static struct cached *find(const struct cache *cache, uint64_t hash, const char *name) {
    struct cached *n = cache->buckets[hash % BUCKET_COUNT];
    while (n != NULL && (n->hash != hash || strcmp(n->name, name) != 0))
        n = n->next;
    return n;
}

static void drop(struct cache *cache, struct cached *n) {
    struct cached **at = &cache->buckets[n->hash % BUCKET_COUNT];
    while (*at != n)
        at = &(*at)->next;
    *at = n->next;
    unlink_age(cache, n);
    cache->shares[n->share].bytes -= n->answer->bytes;
    answer_release(n->answer);
    free(n);
}

struct answer *cache_get(struct cache *cache, const char *name) {
    uint64_t hash = hash_of(name);
    struct answer *answer = NULL;
    (void)pthread_mutex_lock(&cache->lock);
    struct cached *n = find(cache, hash, name);
    if (n != NULL) {
        if (n->newer != NULL) {
            unlink_age(cache, n);
            make_newest(cache, n);
        }
        answer = n->answer;
        atomic_fetch_add(&answer->refs, 1);
    }
    (void)pthread_mutex_unlock(&cache->lock);
    return answer;
}

void cache_put(struct cache *cache, enum cache_share which, const char *name,
               struct answer *answer) {
    struct share *share = &cache->shares[which];
    size_t len = strlen(name) + 1;
    if (answer->bytes > capacity[which] / 2)
        return;
    struct cached *n = calloc(1, sizeof *n + len);
    if (n == NULL)
        return;
    n->hash = hash_of(name);
    n->share = which;
    n->answer = answer;
    memcpy(n->name, name, len);
    (void)pthread_mutex_lock(&cache->lock);
    if (find(cache, n->hash, name) == NULL) {
        while (share->bytes + answer->bytes > capacity[which])
            drop(cache, share->oldest);
        atomic_fetch_add(&answer->refs, 1);
        n->next = cache->buckets[n->hash % BUCKET_COUNT];
        cache->buckets[n->hash % BUCKET_COUNT] = n;
        share->bytes += answer->bytes;
        make_newest(cache, n);
        n = NULL;
    }
    (void)pthread_mutex_unlock(&cache->lock);
    free(n);
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
