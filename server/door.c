/* SPDX-License-Identifier: MIT */
#include "door.h"

#include <assert.h>
#include <pthread.h>
#include <sodium.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "hard_limits.h"
#include "peer.h"

/* An address is counted in a place of its own, in one of the two rows that a hash with a seed that
 * nobody can guess names; proxies have none. There are more places than connections and streams
 * that a server can have, and the emptier row is taken, so that both are hardly ever full; who
 * comes then is counted with all connections only, and nobody gives way. */
enum { ROWS = 8192, WAYS = 8, PROXIES_MAX = 8, PROXY_TEXT_MAX = 64 };

/* Free while its count is 0. */
struct place {
    atomic_int count;
    struct peer peer;
};

struct proxy {
    size_t len;
    unsigned char bytes[PEER_BYTES_MAX];
};

struct visitor {
    const struct door *door;
    struct visitor *before, *after; /* in the door's list */
    atomic_int *place;              /* count of its address; NULL for a proxy's */
    atomic_llong until_ms;          /* when what is awaited must be there; 0 nothing is */
    atomic_int awaited;
    int socket;
    bool tls;
    bool asked; /* it has sent a request before */
    bool shut;  /* it took too long */
};

struct door {
    unsigned connections, per_address, patience_s;
    bool loopback_is_proxy;
    size_t proxy_count;
    struct proxy proxies[PROXIES_MAX];
    unsigned char seed[crypto_shorthash_KEYBYTES];
    struct door_figures figures;
    pthread_mutex_t lock; /* of the list, of who has which place, and of `stopping` */
    pthread_cond_t wake;
    struct visitor *first;
    bool stopping, started;
    pthread_t thread;
    struct place places[ROWS][WAYS]; /* taken under the lock; let go by who counts down to 0 */
};

/* The coarse clock will do: limits are seconds, and each request looks twice. */
static int64_t coarse_ms(void) {
    struct timespec now;
    (void)clock_gettime(CLOCK_MONOTONIC_COARSE, &now);
    return (int64_t)now.tv_sec * 1000 + now.tv_nsec / 1000000;
}

/* Reads the next of a list of addresses. Returns what follows it, NULL where it is none. */
static const char *next_proxy(const char *text, struct proxy *out) {
    char word[PROXY_TEXT_MAX];
    size_t len = strcspn(text, ",");
    if (len == 0 || len >= sizeof word)
        return NULL;
    memcpy(word, text, len);
    word[len] = '\0';
    out->len = peer_parse(word, len, out->bytes);
    if (out->len == 0)
        return NULL;
    return text[len] == ',' ? text + len + 1 : text + len;
}

/* Returns how many; -1 where it is no list of addresses. */
static int read_proxies(const char *text, struct proxy out[PROXIES_MAX]) {
    int count = 0;
    bool more = true; /* after a comma another address must follow */
    while (more) {
        if (count == PROXIES_MAX)
            return -1;
        const char *rest = next_proxy(text, &out[count++]);
        if (rest == NULL)
            return -1;
        more = rest[-1] == ',';
        text = rest;
    }
    return count;
}

bool door_proxies_are_good(const char *proxies) {
    struct proxy list[PROXIES_MAX];
    return read_proxies(proxies, list) > 0;
}

struct door *door_new(const struct door_limits *limits) {
    struct door *door = calloc(1, sizeof *door);
    pthread_condattr_t attributes;
    if (door == NULL)
        return NULL;
    door->connections = limits->connections;
    door->per_address = limits->per_address;
    door->patience_s = limits->patience_s;
    door->loopback_is_proxy = limits->proxies == NULL;
    if (limits->proxies != NULL)
        door->proxy_count = (size_t)read_proxies(limits->proxies, door->proxies);
    randombytes_buf(door->seed, sizeof door->seed);
    (void)pthread_mutex_init(&door->lock, NULL);
    (void)pthread_condattr_init(&attributes);
    (void)pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
    (void)pthread_cond_init(&door->wake, &attributes);
    (void)pthread_condattr_destroy(&attributes);
    return door;
}

const struct door_figures *door_figures(const struct door *door) {
    return &door->figures;
}

unsigned door_connections_max(const struct door *door) {
    return door->connections;
}

static bool is_proxy(const struct door *door, const unsigned char *bytes, size_t len) {
    if (door->loopback_is_proxy)
        return peer_bytes_are_loopback(bytes, len);
    for (size_t i = 0; i < door->proxy_count; i++) {
        if (door->proxies[i].len == len && memcmp(door->proxies[i].bytes, bytes, len) == 0)
            return true;
    }
    return false;
}

struct peer door_client(const struct door *door, const struct sockaddr *address,
                        const char *forwarded) {
    unsigned char bytes[PEER_BYTES_MAX];
    unsigned char named[PEER_BYTES_MAX];
    size_t len = peer_bytes(address, bytes);
    size_t left = forwarded == NULL ? 0 : strlen(forwarded);
    /* From the end: what stands there was added by the proxy that is trusted; what stands further
     * on is believed only behind another of ours. */
    while (left > 0 && is_proxy(door, bytes, len)) {
        size_t from = left;
        while (from > 0 && forwarded[from - 1] != ',')
            from--;
        const char *word = forwarded + from + strspn(forwarded + from, " \t");
        size_t word_len = strcspn(word, ", \t");
        size_t named_len = peer_parse(word, word_len, named);
        if (named_len == 0)
            break;
        memcpy(bytes, named, named_len);
        len = named_len;
        left = from == 0 ? 0 : from - 1;
    }
    return peer_of_bytes(bytes, len);
}

/* Looks through a row. Returns the place of `peer`, else NULL with what is free. */
static struct place *look_in(struct place *row, const struct peer *peer, struct place **free_one,
                             int *free_count) {
    *free_one = NULL;
    *free_count = 0;
    for (struct place *p = row; p < row + WAYS; p++) {
        if (atomic_load(&p->count) == 0) {
            *free_one = p;
            ++*free_count;
        } else if (peer_same(&p->peer, peer)) {
            return p;
        }
    }
    return NULL;
}

/* Where an address is counted, under the lock. NULL for one that is not held to the limit, and
 * where it has no place.
 *   takes  gives it one, counted 1, or counts it up */
static struct place *place_of(struct door *door, const struct sockaddr *address, bool takes) {
    unsigned char bytes[PEER_BYTES_MAX];
    size_t len = peer_bytes(address, bytes);
    uint32_t hash[2];
    struct place *free_ones[2];
    int free_counts[2];
    struct place *found = NULL;
    if (door->per_address == 0 || is_proxy(door, bytes, len))
        return NULL;
    struct peer peer = peer_of_bytes(bytes, len);
    static_assert(sizeof hash == crypto_shorthash_BYTES, "a row for each half");
    (void)crypto_shorthash((unsigned char *)hash, peer.bytes, peer.len, door->seed);
    for (int i = 0; found == NULL && i < 2; i++)
        found = look_in(door->places[hash[i] % ROWS], &peer, &free_ones[i], &free_counts[i]);
    if (!takes)
        return found;
    if (found == NULL) {
        found = free_ones[free_counts[1] > free_counts[0]];
        if (found != NULL)
            found->peer = peer;
    }
    if (found != NULL)
        atomic_fetch_add(&found->count, 1);
    return found;
}

/* A part on top in which who comes is still told why it is not served; and the part of all
 * connections that is kept for keys. */
static unsigned margin(unsigned limit) {
    return limit / 8 + 2;
}

bool door_admits(struct door *door, const struct sockaddr *address) {
    (void)pthread_mutex_lock(&door->lock);
    const struct place *place = place_of(door, address, false);
    bool room = place == NULL || (unsigned)atomic_load(&place->count) <
                                     door->per_address + margin(door->per_address);
    (void)pthread_mutex_unlock(&door->lock);
    if (!room)
        atomic_fetch_add(&door->figures.not_admitted, 1);
    return room;
}

/* Fewer than all, so that there is room left for keys. */
static bool is_filling(const struct door *door) {
    unsigned now = (unsigned)atomic_load(&door->figures.connections);
    return now + margin(door->connections) > door->connections;
}

bool door_is_crowded(const struct door *door, const struct visitor *visitor) {
    if (visitor != NULL && visitor->place != NULL &&
        (unsigned)atomic_load(visitor->place) > door->per_address)
        return true;
    return is_filling(door);
}

/* Limits are written down for the usual patience; another one changes all alike. */
static int64_t patience_ms(const struct door *door, int64_t seconds) {
    return seconds * 1000 * door->patience_s / LIMIT_BODY_SECONDS;
}

void visitor_await(struct visitor *v, enum awaited awaited) {
    if (v == NULL)
        return;
    int seconds = awaited == AWAITED_BODY ? LIMIT_BODY_SECONDS
                  : v->asked              ? LIMIT_IDLE_SECONDS
                                          : LIMIT_HEAD_SECONDS;
    v->asked = v->asked || awaited != AWAITED_HEAD;
    atomic_store(&v->awaited, awaited);
    atomic_store(&v->until_ms,
                 awaited == AWAITED_NOTHING ? 0 : coarse_ms() + patience_ms(v->door, seconds));
}

struct visitor *door_enter(struct door *door, const struct sockaddr *address, int socket,
                           bool tls) {
    struct visitor *v = calloc(1, sizeof *v);
    if (v == NULL) {
        atomic_fetch_add(&door->figures.connections, 1);
        return NULL;
    }
    v->door = door;
    v->socket = socket;
    v->tls = tls;
    visitor_await(v, AWAITED_HEAD);
    (void)pthread_mutex_lock(&door->lock);
    struct place *place = place_of(door, address, true);
    v->place = place == NULL ? NULL : &place->count;
    v->after = door->first;
    if (v->after != NULL)
        v->after->before = v;
    door->first = v;
    (void)pthread_mutex_unlock(&door->lock);
    /* After his address, and in leaving too: who is counted here is counted there. */
    atomic_fetch_add(&door->figures.connections, 1);
    return v;
}

void door_leave(struct door *door, struct visitor *v) {
    if (v == NULL) {
        atomic_fetch_sub(&door->figures.connections, 1);
        return;
    }
    (void)pthread_mutex_lock(&door->lock);
    if (v->before != NULL)
        v->before->after = v->after;
    else
        door->first = v->after;
    if (v->after != NULL)
        v->after->before = v->before;
    (void)pthread_mutex_unlock(&door->lock);
    if (v->place != NULL)
        atomic_fetch_sub(v->place, 1);
    free(v);
    atomic_fetch_sub(&door->figures.connections, 1);
}

bool visitor_is_limited(const struct visitor *v) {
    return v != NULL && v->place != NULL;
}

atomic_int *visitor_keep(struct visitor *v) {
    if (v == NULL)
        return NULL;
    /* Handed on and not counted anew: an address at its limit would be over it until the connection
     * that began the stream has gone. */
    atomic_int *place = v->place;
    v->place = NULL;
    return place;
}

/* Ends a connection from the other side of the library, which then finds that the client has gone.
 * In the middle of a body nothing else is being sent, so that a word can be said; under TLS only
 * the library could. */
static void shut(struct door *door, struct visitor *v) {
    static const char too_slow[] = "HTTP/1.1 408 Request Timeout\r\nContent-Length: 0\r\n"
                                   "Connection: close\r\n\r\n";
    bool body = atomic_load(&v->awaited) == AWAITED_BODY;
    atomic_fetch_add(body ? &door->figures.slow_bodies : &door->figures.slow_heads, 1);
    if (body && !v->tls)
        (void)send(v->socket, too_slow, sizeof too_slow - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
    (void)shutdown(v->socket, SHUT_RDWR);
    v->shut = true;
}

void visitor_turn_away(struct visitor *v) {
    static const char too_long[] = "HTTP/1.1 414 URI Too Long\r\nContent-Length: 0\r\n"
                                   "Connection: close\r\n\r\n";
    if (v == NULL)
        return;
    if (!v->tls)
        (void)send(v->socket, too_long, sizeof too_long - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
    (void)shutdown(v->socket, SHUT_RDWR);
}

/* While it fills, who is waited for to ask has less time. */
static void look(struct door *door) {
    int64_t now = coarse_ms();
    int64_t less =
        is_filling(door) ? patience_ms(door, LIMIT_HEAD_SECONDS - LIMIT_HEAD_CROWDED_SECONDS) : 0;
    for (struct visitor *v = door->first; v != NULL; v = v->after) {
        int64_t until = atomic_load(&v->until_ms);
        bool head = atomic_load(&v->awaited) == AWAITED_HEAD;
        if (until != 0 && !v->shut && until - (head ? less : 0) <= now)
            shut(door, v);
    }
}

static void *watch(void *context) {
    struct door *door = context;
    (void)pthread_mutex_lock(&door->lock);
    while (!door->stopping) {
        struct timespec until;
        (void)clock_gettime(CLOCK_MONOTONIC, &until);
        until.tv_sec++;
        (void)pthread_cond_timedwait(&door->wake, &door->lock, &until);
        look(door);
    }
    (void)pthread_mutex_unlock(&door->lock);
    return NULL;
}

bool door_start(struct door *door) {
    door->started = pthread_create(&door->thread, NULL, watch, door) == 0;
    return door->started;
}

void door_free(struct door *door) {
    if (door == NULL)
        return;
    (void)pthread_mutex_lock(&door->lock);
    door->stopping = true;
    (void)pthread_cond_signal(&door->wake);
    (void)pthread_mutex_unlock(&door->lock);
    if (door->started)
        (void)pthread_join(door->thread, NULL);
    (void)pthread_cond_destroy(&door->wake);
    (void)pthread_mutex_destroy(&door->lock);
    free(door);
}
