/* SPDX-License-Identifier: MIT */
/* connections.h - who is connected, and how long a request may take to come: connections in all
 * and for each address, and the time for heads and bodies.
 *
 * Connections beyond a limit are answered with 503 and closed (connections_are_crowded); beyond a
 * margin on top they are closed unanswered. Part of the connections is kept for those who show a
 * key. A proxy's address stands for a crowd, so addresses of proxies are not held to the limit of
 * one; unless the options say otherwise those are this machine's own.
 *
 * A thread of its own shuts down the sockets of those who take too long; the HTTP library then
 * finds that the client has gone. All other functions are called by the library's threads, and may
 * be by any, but for connections_new, connections_start and connections_free. */
#ifndef CAIRN_CONNECTIONS_H
#define CAIRN_CONNECTIONS_H

#include <stdatomic.h>
#include <stdbool.h>
#include <sys/socket.h>

#include "system/client_address.h"

struct connections;

/* Who holds a connection; its requests come one after the other. Owned by struct connections, from
 * connections_add to connections_remove. */
struct client;

struct connection_bounds {
    unsigned connections; /* in all, those kept for keys among them */
    unsigned per_address; /* 0: as many as one likes */
    unsigned patience_s;  /* seconds for a body; a head has its share, see hard_limits.h */
    const char *proxies;  /* addresses with commas between them; NULL: this machine's own */
};

/* With nobody connected (NULL when memory is out). libsodium must have been set up.
 *   bounds  its `proxies` must hold good addresses, see connections_proxies_are_good; not kept */
struct connections *connections_new(const struct connection_bounds *bounds);

/* Starts the thread that looks, each second, for requests that take too long. Returns false where
 * there is no thread to be had. */
bool connections_start(struct connections *connections);

/* Ends all connections, once answers on their way are sent or a tenth of a second has gone, and
 * waits for their ends a second at most; nobody else comes in. Afterwards the library has nothing
 * at hand when it is stopped, but for who was let in at that moment or outlasts that second. NULL
 * is accepted. */
void connections_close(struct connections *connections);

/* After all connections have ended. NULL is accepted. */
void connections_free(struct connections *connections);

/* True for addresses of IPv4 or IPv6 with commas between them, eight at most. */
bool connections_proxies_are_good(const char *proxies);

/* False where an address has so many connections that another is closed unheard. */
bool connections_admits(struct connections *connections, const struct sockaddr *address);

/* Who asks. That is the address itself; of a proxy's it is the last in `forwarded` that is no
 * proxy's, since each proxy adds whom it heard. Where that is no address, it is the last proxy.
 *   forwarded  X-Forwarded-For: addresses with commas between them; NULL where there is none */
struct client_address connections_address_of(const struct connections *connections,
                                             const struct sockaddr *address, const char *forwarded);

/* Somebody comes in, and goes.
 *   socket  stays open until connections_remove; it may be shut down here
 * Returns: NULL when memory is out; then nothing is limited for that one. */
struct client *connections_add(struct connections *connections, const struct sockaddr *address,
                               int socket, bool tls);
void connections_remove(struct connections *connections, struct client *client);

/* What a client is waited for; from that call on the time counts. NULL is accepted. */
enum awaited {
    AWAITED_NOTHING, /* the server is at work, or sends */
    AWAITED_HEAD,    /* of the next request */
    AWAITED_BODY
};
void client_await(struct client *client, enum awaited awaited);

/* Ends the connection of a client whose request names too much to be heard: 414, and under TLS
 * without a word. NULL is accepted. */
void client_refuse_address(struct client *client);

/* True where this client is one too many: a request without a key is then to be answered with 503.
 */
bool connections_are_crowded(const struct connections *connections, const struct client *client);

/* True where the limits of one address hold for this client: not for a proxy's, and for none where
 * there is no limit. NULL is not held to them. */
bool client_is_limited(const struct client *client);

/* Hands a client's part in the count of its address on to an event stream, which outlives the
 * connection. The client itself is counted no more, and must send no other request.
 * Returns: the count, to be lessened by one when the stream ends; NULL where there is none. */
atomic_int *client_hand_over_count(struct client *client);

/* Figures since the start. */
struct connection_figures {
    atomic_int connections;    /* now */
    atomic_llong not_admitted; /* closed unanswered */
    atomic_llong slow_heads, slow_bodies;
};
const struct connection_figures *connection_figures(const struct connections *connections);

/* Connections that may be there at once. */
unsigned connections_max(const struct connections *connections);

#endif
