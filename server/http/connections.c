/* SPDX-License-Identifier: MIT */
#include "http/connections.h"

#include <assert.h>
#include <pthread.h>
#include <sodium.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "system/client_address.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

/* An address is counted in a slot of its own, in one of two rows that a hash with a secret seed
 * picks; proxies have none. There are more slots than a server can have connections and streams,
 * and the emptier row is taken, so that both are hardly ever full. An address that finds no slot is
 * counted with all connections only; no slot is ever taken from another address. */
enum { ROWS = 8192, WAYS = 8, PROXIES_MAX = 8, PROXY_TEXT_MAX = 64 };

/* How often clients are looked at that may have been awaited too long. */
enum { CHECK_EVERY_US = 1000000 };

/* How long answers on their way may take when all connections end, and then the connections. */
enum { CLOSE_ANSWER_MS = 100, CLOSE_REST_MS = 1000 };

/* Free while its count is 0. */
struct slot {
    atomic_int count;
    struct client_address peer;
};

struct proxy {
    size_t len;
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX];
};

struct client {
    const struct connections *connections;
    struct client *before, *after; /* in the list */
    atomic_int *slot;              /* count of its address; NULL for a proxy's */
    atomic_llong until_ms;         /* when what is awaited must be there; 0 nothing is */
    atomic_int awaited;
    int socket;
    bool tls;
    bool asked; /* it has sent a request before */
    bool shut;  /* it took too long */
};

struct connections {
    unsigned most, per_address, patience_s;
    bool loopback_is_proxy;
    size_t proxy_count;
    struct proxy proxies[PROXIES_MAX];
    unsigned char seed[crypto_shorthash_KEYBYTES];
    struct connection_figures figures;
    pthread_mutex_t lock; /* of the list, of who has which slot, `stopping`, `closing` */
    pthread_cond_t wake;
    struct client *first;
    bool stopping, started, closing;
    pthread_t thread;
    struct slot slots[ROWS][WAYS]; /* taken under the lock; freed when the count falls to 0 */
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
    out->len = client_address_parse(word, len, out->bytes);
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

bool connections_proxies_are_good(const char *proxies) {
    struct proxy list[PROXIES_MAX];
    return read_proxies(proxies, list) > 0;
}

struct connections *connections_new(const struct connection_bounds *bounds) {
    struct connections *connections = calloc(1, sizeof *connections);
    if (connections == NULL)
        return NULL;
    connections->most = bounds->connections;
    connections->per_address = bounds->per_address;
    connections->patience_s = bounds->patience_s;
    connections->loopback_is_proxy = bounds->proxies == NULL;
    if (bounds->proxies != NULL)
        connections->proxy_count = (size_t)read_proxies(bounds->proxies, connections->proxies);
    randombytes_buf(connections->seed, sizeof connections->seed);
    (void)pthread_mutex_init(&connections->lock, NULL);
    monotonic_condition_init(&connections->wake);
    return connections;
}

const struct connection_figures *connection_figures(const struct connections *connections) {
    return &connections->figures;
}

unsigned connections_max(const struct connections *connections) {
    return connections->most;
}

static bool is_proxy(const struct connections *connections, const unsigned char *bytes,
                     size_t len) {
    if (connections->loopback_is_proxy)
        return client_address_bytes_are_loopback(bytes, len);
    for (size_t i = 0; i < connections->proxy_count; i++) {
        if (connections->proxies[i].len == len &&
            memcmp(connections->proxies[i].bytes, bytes, len) == 0)
            return true;
    }
    return false;
}

struct client_address connections_address_of(const struct connections *connections,
                                             const struct sockaddr *address,
                                             const char *forwarded) {
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX];
    unsigned char named[CLIENT_ADDRESS_BYTES_MAX];
    size_t len = client_address_bytes(address, bytes);
    size_t left = forwarded == NULL ? 0 : strlen(forwarded);
    /* From the end: what stands there was added by the proxy that is trusted; what stands further
     * on is believed only behind another of ours. */
    while (left > 0 && is_proxy(connections, bytes, len)) {
        size_t from = left;
        while (from > 0 && forwarded[from - 1] != ',')
            from--;
        const char *word = forwarded + from + strspn(forwarded + from, " \t");
        size_t word_len = strcspn(word, ", \t");
        size_t named_len = client_address_parse(word, word_len, named);
        if (named_len == 0)
            break;
        memcpy(bytes, named, named_len);
        len = named_len;
        left = from == 0 ? 0 : from - 1;
    }
    return client_address_of_bytes(bytes, len);
}

/* Looks through a row. Returns the slot of `peer`, else NULL with what is free. */
static struct slot *find_slot(struct slot *row, const struct client_address *peer,
                              struct slot **free_one, int *free_count) {
    *free_one = NULL;
    *free_count = 0;
    for (struct slot *p = row; p < row + WAYS; p++) {
        if (atomic_load(&p->count) == 0) {
            *free_one = p;
            ++*free_count;
        } else if (client_address_same(&p->peer, peer)) {
            return p;
        }
    }
    return NULL;
}

/* Where an address is counted, under the lock. NULL for one that is not held to the limit, and
 * where it has no slot.
 *   takes  gives it one, counted 1, or counts it up */
static struct slot *slot_of(struct connections *connections, const struct sockaddr *address,
                            bool takes) {
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX];
    size_t len = client_address_bytes(address, bytes);
    uint32_t hash[2];
    struct slot *free_ones[2];
    int free_counts[2];
    struct slot *found = NULL;
    if (connections->per_address == 0 || is_proxy(connections, bytes, len))
        return NULL;
    struct client_address peer = client_address_of_bytes(bytes, len);
    static_assert(sizeof hash == crypto_shorthash_BYTES, "a row for each half");
    (void)crypto_shorthash((unsigned char *)hash, peer.bytes, peer.len, connections->seed);
    for (int i = 0; found == NULL && i < 2; i++)
        found =
            find_slot(connections->slots[hash[i] % ROWS], &peer, &free_ones[i], &free_counts[i]);
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

/* How many connections beyond a limit still get an answer that says why they are not served; and
 * how many of all connections are kept for keys. */
static unsigned margin(unsigned limit) {
    return limit / 8 + 2;
}

bool connections_admits(struct connections *connections, const struct sockaddr *address) {
    (void)pthread_mutex_lock(&connections->lock);
    const struct slot *slot = slot_of(connections, address, false);
    bool room = !connections->closing &&
                (slot == NULL || (unsigned)atomic_load(&slot->count) <
                                     connections->per_address + margin(connections->per_address));
    (void)pthread_mutex_unlock(&connections->lock);
    if (!room)
        atomic_fetch_add(&connections->figures.not_admitted, 1);
    return room;
}

/* Fewer than all, so that there is room left for keys. */
static bool is_filling(const struct connections *connections) {
    unsigned now = (unsigned)atomic_load(&connections->figures.connections);
    return now + margin(connections->most) > connections->most;
}

bool connections_are_crowded(const struct connections *connections, const struct client *client) {
    if (client != NULL && client->slot != NULL &&
        (unsigned)atomic_load(client->slot) > connections->per_address)
        return true;
    return is_filling(connections);
}

/* Limits are written down for the usual patience; another one changes all alike. */
static int64_t patience_ms(const struct connections *connections, int64_t seconds) {
    return seconds * 1000 * connections->patience_s / LIMIT_BODY_SECONDS;
}

void client_await(struct client *client, enum awaited awaited) {
    if (client == NULL)
        return;
    int seconds = awaited == AWAITED_BODY ? LIMIT_BODY_SECONDS
                  : client->asked         ? LIMIT_IDLE_SECONDS
                                          : LIMIT_HEAD_SECONDS;
    client->asked = client->asked || awaited != AWAITED_HEAD;
    atomic_store(&client->awaited, awaited);
    atomic_store(&client->until_ms, awaited == AWAITED_NOTHING
                                        ? 0
                                        : coarse_ms() + patience_ms(client->connections, seconds));
}

struct client *connections_add(struct connections *connections, const struct sockaddr *address,
                               int socket, bool tls) {
    struct client *client = calloc(1, sizeof *client);
    if (client == NULL) {
        atomic_fetch_add(&connections->figures.connections, 1);
        return NULL;
    }
    client->connections = connections;
    client->socket = socket;
    client->tls = tls;
    client_await(client, AWAITED_HEAD);
    (void)pthread_mutex_lock(&connections->lock);
    struct slot *slot = slot_of(connections, address, true);
    client->slot = slot == NULL ? NULL : &slot->count;
    client->after = connections->first;
    if (client->after != NULL)
        client->after->before = client;
    connections->first = client;
    if (connections->closing)
        (void)shutdown(socket, SHUT_RDWR);
    (void)pthread_mutex_unlock(&connections->lock);
    /* After its address, and so when it is removed: whoever is counted here is counted there. */
    atomic_fetch_add(&connections->figures.connections, 1);
    return client;
}

void connections_remove(struct connections *connections, struct client *client) {
    if (client == NULL) {
        atomic_fetch_sub(&connections->figures.connections, 1);
        return;
    }
    (void)pthread_mutex_lock(&connections->lock);
    if (client->before != NULL)
        client->before->after = client->after;
    else
        connections->first = client->after;
    if (client->after != NULL)
        client->after->before = client->before;
    (void)pthread_mutex_unlock(&connections->lock);
    if (client->slot != NULL)
        atomic_fetch_sub(client->slot, 1);
    free(client);
    atomic_fetch_sub(&connections->figures.connections, 1);
}

bool client_is_limited(const struct client *client) {
    return client != NULL && client->slot != NULL;
}

atomic_int *client_hand_over_count(struct client *client) {
    if (client == NULL)
        return NULL;
    /* Handed on, not counted a second time: an address at its limit would exceed it until the
     * connection that began the stream has gone. */
    atomic_int *slot = client->slot;
    client->slot = NULL;
    return slot;
}

/* Ends a connection from the other side of the library, which then finds that the client has gone.
 * In the middle of a body nothing else is being sent, so that an answer can be; under TLS only the
 * library could. */
static void disconnect(struct connections *connections, struct client *client) {
    static const char too_slow[] = "HTTP/1.1 408 Request Timeout\r\nContent-Length: 0\r\n"
                                   "Connection: close\r\n\r\n";
    bool body = atomic_load(&client->awaited) == AWAITED_BODY;
    atomic_fetch_add(body ? &connections->figures.slow_bodies : &connections->figures.slow_heads,
                     1);
    if (body && !client->tls)
        (void)send(client->socket, too_slow, sizeof too_slow - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
    (void)shutdown(client->socket, SHUT_RDWR);
    client->shut = true;
}

void client_refuse_address(struct client *client) {
    static const char too_long[] = "HTTP/1.1 414 URI Too Long\r\nContent-Length: 0\r\n"
                                   "Connection: close\r\n\r\n";
    if (client == NULL)
        return;
    if (!client->tls)
        (void)send(client->socket, too_long, sizeof too_long - 1, MSG_NOSIGNAL | MSG_DONTWAIT);
    (void)shutdown(client->socket, SHUT_RDWR);
}

/* While connections run out, a client has less time to send the head of its request. */
static void check_all(struct connections *connections) {
    int64_t now = coarse_ms();
    int64_t less = is_filling(connections)
                       ? patience_ms(connections, LIMIT_HEAD_SECONDS - LIMIT_HEAD_CROWDED_SECONDS)
                       : 0;
    for (struct client *client = connections->first; client != NULL; client = client->after) {
        int64_t until = atomic_load(&client->until_ms);
        bool head = atomic_load(&client->awaited) == AWAITED_HEAD;
        if (until != 0 && !client->shut && until - (head ? less : 0) <= now)
            disconnect(connections, client);
    }
}

static void *watch(void *context) {
    struct connections *connections = context;
    (void)pthread_mutex_lock(&connections->lock);
    while (!connections->stopping) {
        struct timespec until = monotonic_deadline(CHECK_EVERY_US);
        (void)pthread_cond_timedwait(&connections->wake, &connections->lock, &until);
        check_all(connections);
    }
    (void)pthread_mutex_unlock(&connections->lock);
    return NULL;
}

bool connections_start(struct connections *connections) {
    connections->started = pthread_create(&connections->thread, NULL, watch, connections) == 0;
    return connections->started;
}

/* Shuts all down, and waits until they are gone, `wait_ms` at most. */
static bool shut_all(struct connections *connections, int how, int wait_ms) {
    (void)pthread_mutex_lock(&connections->lock);
    connections->closing = true;
    for (struct client *client = connections->first; client != NULL; client = client->after)
        (void)shutdown(client->socket, how);
    (void)pthread_mutex_unlock(&connections->lock);
    for (; wait_ms > 0 && atomic_load(&connections->figures.connections) > 0; wait_ms--)
        (void)nanosleep(&(struct timespec){.tv_nsec = 1000000}, NULL);
    return atomic_load(&connections->figures.connections) == 0;
}

void connections_close(struct connections *connections) {
    if (connections != NULL && !shut_all(connections, SHUT_RD, CLOSE_ANSWER_MS))
        (void)shut_all(connections, SHUT_RDWR, CLOSE_REST_MS);
}

void connections_free(struct connections *connections) {
    if (connections == NULL)
        return;
    (void)pthread_mutex_lock(&connections->lock);
    connections->stopping = true;
    (void)pthread_cond_signal(&connections->wake);
    (void)pthread_mutex_unlock(&connections->lock);
    if (connections->started)
        (void)pthread_join(connections->thread, NULL);
    (void)pthread_cond_destroy(&connections->wake);
    (void)pthread_mutex_destroy(&connections->lock);
    free(connections);
}
