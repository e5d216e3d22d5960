/* SPDX-License-Identifier: MIT */
#include "guard.h"

#include <pthread.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <time.h>

#include "hard_limits.h"
#include "peer.h"

/* Addresses share places by hash: a stranger may be slowed with a guesser, only for his own wrong
 * keys. A right key is never looked up here; a right code is, since a code is short. */
enum { PLACES = 4096, WINDOW_SECONDS = 60 };

struct guard {
    pthread_mutex_t lock;
    struct {
        time_t since;
        int count;
    } places[PLACES];
    atomic_llong failures;
};

struct guard *guard_new(void) {
    struct guard *guard = calloc(1, sizeof *guard);
    if (guard != NULL)
        (void)pthread_mutex_init(&guard->lock, NULL);
    return guard;
}

void guard_free(struct guard *guard) {
    if (guard == NULL)
        return;
    (void)pthread_mutex_destroy(&guard->lock);
    free(guard);
}

static size_t place_of(const struct sockaddr *address, int64_t what) {
    uint32_t hash = peer_hash(address, 0);
    for (uint64_t left = (uint64_t)what; left > 0; left >>= 8)
        hash = (hash ^ (uint32_t)(left & 255)) * 16777619u;
    return hash % PLACES;
}

bool guard_failed(struct guard *guard, const struct sockaddr *address, int64_t what) {
    struct timespec now;
    size_t place = place_of(address, what);
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    atomic_fetch_add(&guard->failures, 1);
    (void)pthread_mutex_lock(&guard->lock);
    if (now.tv_sec - guard->places[place].since >= WINDOW_SECONDS) {
        guard->places[place].since = now.tv_sec;
        guard->places[place].count = 0;
    }
    bool allowed = ++guard->places[place].count <= LIMIT_KEY_FAILURES;
    (void)pthread_mutex_unlock(&guard->lock);
    return allowed;
}

bool guard_allows(struct guard *guard, const struct sockaddr *address, int64_t what) {
    struct timespec now;
    size_t place = place_of(address, what);
    (void)clock_gettime(CLOCK_MONOTONIC, &now);
    (void)pthread_mutex_lock(&guard->lock);
    bool allowed = now.tv_sec - guard->places[place].since >= WINDOW_SECONDS ||
                   guard->places[place].count < LIMIT_KEY_FAILURES;
    (void)pthread_mutex_unlock(&guard->lock);
    return allowed;
}

long long guard_failures(const struct guard *guard) {
    return atomic_load(&guard->failures);
}
