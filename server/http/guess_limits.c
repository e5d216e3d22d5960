/* SPDX-License-Identifier: MIT */
#include "http/guess_limits.h"

#include <pthread.h>
#include <sodium.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "system/hard_limits.h"
#include "system/system_clock.h"

/* A count stands in one of the places of its row, with all that it is about: no two share one. The
 * row is picked by a hash with a secret key; where it is full, the oldest count is dropped, and
 * one of those who have shown what is right only when no other is left. */
enum { ROWS = 2048, PLACES = 8, WINDOW_SECONDS = 60, KNOWN_SECONDS = 24 * 3600 };

struct place {
    struct guessed about;
    time_t since; /* beginning of the minute that is counted */
    time_t known; /* when the right one was shown last, 0 never */
    int count;
    bool taken;
};

struct guess_limits {
    pthread_mutex_t lock;
    unsigned char key[crypto_shorthash_KEYBYTES];
    atomic_llong failures;
    struct place rows[ROWS][PLACES];
};

struct guess_limits *guess_limits_new(void) {
    struct guess_limits *limits = calloc(1, sizeof *limits);
    if (limits == NULL)
        return NULL;
    randombytes_buf(limits->key, sizeof limits->key);
    (void)pthread_mutex_init(&limits->lock, NULL);
    return limits;
}

void guess_limits_free(struct guess_limits *limits) {
    if (limits == NULL)
        return;
    (void)pthread_mutex_destroy(&limits->lock);
    free(limits);
}

static bool is_about(const struct place *place, const struct guessed *what) {
    return place->taken && client_address_same(&place->about.peer, &what->peer) &&
           place->about.event == what->event && place->about.car == what->car;
}

static struct place *row_of(struct guess_limits *limits, const struct guessed *what) {
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX + sizeof(uint64_t) + sizeof(int64_t)] = {0};
    uint64_t hash;
    memcpy(bytes, what->peer.bytes, what->peer.len);
    memcpy(bytes + CLIENT_ADDRESS_BYTES_MAX, &what->event, sizeof what->event);
    memcpy(bytes + CLIENT_ADDRESS_BYTES_MAX + sizeof what->event, &what->car, sizeof what->car);
    (void)crypto_shorthash((unsigned char *)&hash, bytes, sizeof bytes, limits->key);
    return limits->rows[hash % ROWS];
}

static time_t now_s(void) {
    return (time_t)(monotonic_microseconds() / 1000000) + 1; /* so that 0 is never a moment */
}

static bool is_known(const struct place *place, time_t now) {
    return place->known != 0 && now - place->known < KNOWN_SECONDS;
}

/* The place of a count, NULL where there is none. Under the lock, as all that follow. */
static struct place *find(struct guess_limits *limits, const struct guessed *what) {
    struct place *row = row_of(limits, what);
    for (int i = 0; i < PLACES; i++) {
        if (is_about(&row[i], what))
            return &row[i];
    }
    return NULL;
}

/* True where `a` is to give way rather than `b`. */
static bool matters_less(const struct place *a, const struct place *b, time_t now) {
    if (a->taken != b->taken)
        return !a->taken;
    if (is_known(a, now) != is_known(b, now))
        return !is_known(a, now);
    return a->since < b->since;
}

static struct place *find_or_take(struct guess_limits *limits, const struct guessed *what,
                                  time_t now) {
    struct place *place = find(limits, what);
    if (place == NULL) {
        place = row_of(limits, what);
        for (struct place *other = place + 1, *end = place + PLACES; other < end; other++) {
            if (matters_less(other, place, now))
                place = other;
        }
        *place = (struct place){.about = *what, .since = now, .taken = true};
    }
    if (now - place->since >= WINDOW_SECONDS) {
        place->since = now;
        place->count = 0;
    }
    return place;
}

static int limit_of(const struct place *place, time_t now) {
    return is_known(place, now) ? LIMIT_KNOWN_FAILURES : LIMIT_KEY_FAILURES;
}

bool guess_limits_failed(struct guess_limits *limits, const struct guessed *what) {
    time_t now = now_s();
    atomic_fetch_add(&limits->failures, 1);
    (void)pthread_mutex_lock(&limits->lock);
    struct place *place = find_or_take(limits, what, now);
    bool allowed = ++place->count <= limit_of(place, now);
    (void)pthread_mutex_unlock(&limits->lock);
    return allowed;
}

bool guess_limits_allows(struct guess_limits *limits, const struct guessed *what) {
    time_t now = now_s();
    (void)pthread_mutex_lock(&limits->lock);
    const struct place *place = find(limits, what);
    bool allowed = place == NULL || now - place->since >= WINDOW_SECONDS ||
                   place->count < limit_of(place, now);
    (void)pthread_mutex_unlock(&limits->lock);
    return allowed;
}

void guess_limits_succeeded(struct guess_limits *limits, const struct guessed *what) {
    time_t now = now_s();
    (void)pthread_mutex_lock(&limits->lock);
    find_or_take(limits, what, now)->known = now;
    (void)pthread_mutex_unlock(&limits->lock);
}

long long guess_limits_failures(const struct guess_limits *limits) {
    return atomic_load(&limits->failures);
}
