/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <arpa/inet.h>
#include <netinet/in.h>
#include <pthread.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "http/connections.h"
#include "system/client_address.h"

enum { CROWD = 400 };

static struct sockaddr_storage address_of(const char *text) {
    struct sockaddr_storage out = {0};
    struct sockaddr_in *four = (struct sockaddr_in *)(void *)&out;
    struct sockaddr_in6 *six = (struct sockaddr_in6 *)(void *)&out;
    out.ss_family = strchr(text, ':') == NULL ? AF_INET : AF_INET6;
    void *to = out.ss_family == AF_INET ? (void *)&four->sin_addr : (void *)&six->sin6_addr;
    assert_int_equal(inet_pton(out.ss_family, text, to), 1);
    return out;
}

static bool admits(struct connections *connections, const char *text) {
    struct sockaddr_storage address = address_of(text);
    return connections_admits(connections, (const struct sockaddr *)&address);
}

static struct client *enter(struct connections *connections, const char *text) {
    struct sockaddr_storage address = address_of(text);
    struct client *client =
        connections_add(connections, (const struct sockaddr *)&address, -1, false);
    assert_non_null(client);
    return client;
}

/* Lets so many of an address in; returns how many were heard without being one too many. */
static int fill(struct connections *connections, const char *text, int count, struct client **in) {
    int good = 0;
    for (int i = 0; i < count; i++) {
        in[i] = admits(connections, text) ? enter(connections, text) : NULL;
        good += in[i] != NULL && !connections_are_crowded(connections, in[i]);
    }
    return good;
}

static void empty(struct connections *connections, int count, struct client **in) {
    for (int i = 0; i < count; i++) {
        if (in[i] != NULL)
            connections_remove(connections, in[i]);
    }
}

/* Up to the limit connections are served; a few more are answered with a refusal; the rest is
 * closed unread. */
static void one_address_has_its_limit_and_others_are_let_in(void **state) {
    struct connection_bounds limits = {1000, 80, 120, NULL};
    struct connections *connections = connections_new(&limits);
    struct client *in[CROWD];
    (void)state;
    assert_non_null(connections);
    assert_int_equal(fill(connections, "192.0.2.7", CROWD, in), 80);
    assert_int_equal(atomic_load(&connection_figures(connections)->connections), 80 + 12);
    assert_int_equal(atomic_load(&connection_figures(connections)->not_admitted), CROWD - 80 - 12);
    assert_true(admits(connections, "192.0.2.8"));
    empty(connections, CROWD, in);
    assert_int_equal(atomic_load(&connection_figures(connections)->connections), 0);
    assert_int_equal(fill(connections, "192.0.2.7", 1, in), 1);
    empty(connections, 1, in);
    connections_free(connections);
}

/* Each is counted by itself, whatever their hashes: among so many, many share a row. */
static void no_address_counts_for_another(void **state) {
    enum { MANY = 20000 };
    static struct client *in[MANY];
    struct connection_bounds limits = {2 * MANY, 1, 120, NULL};
    struct connections *connections = connections_new(&limits);
    (void)state;
    assert_non_null(connections);
    for (int round = 0; round < 2; round++) { /* places are free again */
        for (int i = 0; i < MANY; i++) {
            char text[INET_ADDRSTRLEN];
            (void)snprintf(text, sizeof text, "10.%d.%d.%d", round, i / 250, i % 250);
            in[i] = enter(connections, text);
            assert_true(client_is_limited(in[i]));
            assert_false(connections_are_crowded(connections, in[i]));
        }
        for (int i = 0; i < MANY; i += 997) {
            char text[INET_ADDRSTRLEN];
            (void)snprintf(text, sizeof text, "10.%d.%d.%d", round, i / 250, i % 250);
            struct client *second = enter(connections, text);
            assert_true(connections_are_crowded(connections, second));
            connections_remove(connections, second);
        }
        empty(connections, MANY, in);
    }
    connections_free(connections);
}

/* A household has many addresses of IPv6, with the same first half. */
static void addresses_of_one_network_count_together(void **state) {
    struct connection_bounds limits = {1000, 8, 120, NULL};
    struct connections *connections = connections_new(&limits);
    struct client *in[20];
    (void)state;
    assert_int_equal(fill(connections, "2001:db8:1:2::1", 20, in), 8);
    assert_false(admits(connections, "2001:db8:1:2:ffff::9"));
    assert_true(admits(connections, "2001:db8:1:3::1"));
    empty(connections, 20, in);
    connections_free(connections);
}

static void a_proxy_brings_a_crowd(void **state) {
    struct client *in[CROWD];
    struct connection_bounds own = {1000, 8, 120, NULL};
    struct connection_bounds named = {1000, 8, 120, "192.0.2.1,2001:db8::1"};
    struct connection_bounds none = {1000, 0, 120, NULL};
    struct connections *connections = connections_new(&own);
    (void)state;
    assert_int_equal(fill(connections, "127.0.0.1", CROWD, in), CROWD);
    empty(connections, CROWD, in);
    assert_int_equal(fill(connections, "::1", CROWD, in), CROWD);
    empty(connections, CROWD, in);
    connections_free(connections);
    connections = connections_new(&named);
    assert_int_equal(fill(connections, "192.0.2.1", CROWD, in), CROWD);
    empty(connections, CROWD, in);
    assert_int_equal(fill(connections, "2001:db8::1", CROWD, in), CROWD);
    empty(connections, CROWD, in);
    assert_int_equal(fill(connections, "127.0.0.1", CROWD, in), 8);
    empty(connections, CROWD, in);
    connections_free(connections);
    connections = connections_new(&none);
    assert_int_equal(fill(connections, "192.0.2.7", CROWD, in), CROWD);
    empty(connections, CROWD, in);
    connections_free(connections);
}

/* Some of all connections are reserved for requests with a key. */
static void room_is_kept(void **state) {
    struct connection_bounds limits = {160, 0, 120, NULL};
    struct connections *connections = connections_new(&limits);
    struct client *in[160];
    (void)state;
    assert_int_equal(fill(connections, "192.0.2.7", 160, in), 160 - 22);
    empty(connections, 160, in);
    connections_free(connections);
}

/* A stream is counted for its address until the stream ends, also after its connection. */
static void a_stream_goes_on_being_counted(void **state) {
    struct connection_bounds limits = {1000, 1, 120, NULL};
    struct connections *connections = connections_new(&limits);
    struct client *client = enter(connections, "192.0.2.7");
    (void)state;
    atomic_int *kept = client_hand_over_count(client);
    assert_non_null(kept);
    connections_remove(connections, client);
    client = enter(connections, "192.0.2.7");
    assert_true(connections_are_crowded(connections, client));
    atomic_fetch_sub(kept, 1);
    assert_false(connections_are_crowded(connections, client));
    connections_remove(connections, client);
    client = enter(connections, "127.0.0.1");
    assert_null(client_hand_over_count(client));
    connections_remove(connections, client);
    assert_null(client_hand_over_count(NULL));
    connections_free(connections);
}

/* While the connection that began a stream is still counted, the two count as one. */
static void a_stream_is_counted_once(void **state) {
    struct connection_bounds limits = {1000, 2, 120, NULL};
    struct connections *connections = connections_new(&limits);
    struct client *client = enter(connections, "192.0.2.7");
    (void)state;
    atomic_int *kept = client_hand_over_count(client);
    struct client *other = enter(connections, "192.0.2.7");
    assert_false(connections_are_crowded(connections, other));
    connections_remove(connections, client);
    assert_int_equal(atomic_load(kept), 2);
    connections_remove(connections, other);
    assert_int_equal(atomic_load(kept), 1);
    connections_free(connections);
}

static void lists_of_proxies_are_read_whole(void **state) {
    (void)state;
    assert_true(connections_proxies_are_good("192.0.2.1"));
    assert_true(connections_proxies_are_good("::1,127.0.0.1"));
    for (const char *const *bad =
             (const char *const[]){"", ",", "192.0.2.1,", ",::1", "192.0.2", "name", "192.0.2.1/24",
                                   "::1 ,::2", "1.1.1.1,,1.1.1.2", NULL};
         *bad != NULL; bad++)
        assert_false(connections_proxies_are_good(*bad));
    assert_true(connections_proxies_are_good("::1,::2,::3,::4,::5,::6,::7,::8"));
    assert_false(connections_proxies_are_good("::1,::2,::3,::4,::5,::6,::7,::8,::9"));
}

static void this_machines_own_addresses_are_known(void **state) {
    static const char *const own[] = {"127.0.0.1", "127.9.8.7", "::1"};
    static const char *const others[] = {"126.0.0.1", "192.0.2.1", "::2", "2001:db8::1"};
    (void)state;
    for (size_t i = 0; i < sizeof own / sizeof own[0]; i++) {
        struct sockaddr_storage address = address_of(own[i]);
        assert_true(client_address_is_loopback((const struct sockaddr *)&address));
    }
    for (size_t i = 0; i < sizeof others / sizeof others[0]; i++) {
        struct sockaddr_storage address = address_of(others[i]);
        assert_false(client_address_is_loopback((const struct sockaddr *)&address));
    }
    assert_false(client_address_is_loopback(NULL));
}

/* "ADDRESS" or "" for none. */
static void check_client(const char *proxies, const char *from, const char *forwarded,
                         const char *expected) {
    struct connection_bounds limits = {100, 10, 120, proxies};
    struct connections *connections = connections_new(&limits);
    struct sockaddr_storage address = address_of(from);
    struct sockaddr_storage other = address_of(expected);
    unsigned char bytes[CLIENT_ADDRESS_BYTES_MAX];
    assert_non_null(connections);
    struct client_address client =
        connections_address_of(connections, (const struct sockaddr *)&address, forwarded);
    struct client_address wanted = client_address_of_bytes(
        bytes, client_address_bytes((const struct sockaddr *)&other, bytes));
    assert_true(client_address_same(&client, &wanted));
    connections_free(connections);
}

/* What a client says of itself is not believed, what a proxy of ours adds is. */
static void who_asks_is_told_by_the_last_proxy_that_is_trusted(void **state) {
    (void)state;
    check_client(NULL, "192.0.2.7", NULL, "192.0.2.7");
    check_client(NULL, "192.0.2.7", "198.51.100.1", "192.0.2.7");
    check_client(NULL, "127.0.0.1", NULL, "127.0.0.1");
    check_client(NULL, "127.0.0.1", "198.51.100.1", "198.51.100.1");
    check_client(NULL, "::1", "203.0.113.9, 198.51.100.1", "198.51.100.1");
    check_client(NULL, "127.0.0.1", "203.0.113.9,198.51.100.1 , 127.0.0.1", "198.51.100.1");
    check_client(NULL, "127.0.0.1", "2001:db8:1:2::5", "2001:db8:1:2::9");
    check_client(NULL, "127.0.0.1", "::ffff:198.51.100.1", "198.51.100.1");
    check_client(NULL, "127.0.0.1", "203.0.113.9, unknown", "127.0.0.1");
    check_client(NULL, "127.0.0.1", "", "127.0.0.1");
    check_client(NULL, "127.0.0.1", ",,,", "127.0.0.1");
    check_client("192.0.2.1,192.0.2.2", "192.0.2.1", "203.0.113.9, 198.51.100.1, 192.0.2.2",
                 "198.51.100.1");
    check_client("192.0.2.1", "127.0.0.1", "198.51.100.1", "127.0.0.1");
    check_client("192.0.2.1", "::ffff:192.0.2.1", "198.51.100.1", "198.51.100.1");
}

/* What the HTTP library does with one connection: it reads until the client has gone. */
struct reader {
    struct connections *connections;
    struct client *client;
    int socket;
};

static void *read_to_the_end(void *context) {
    const struct reader *reader = context;
    char byte;
    while (read(reader->socket, &byte, 1) > 0) {
    }
    connections_remove(reader->connections, reader->client);
    return NULL;
}

static void all_end_and_nobody_else_comes_in(void **state) {
    struct connection_bounds limits = {1000, 80, 120, NULL};
    struct sockaddr_storage address = address_of("192.0.2.7");
    struct connections *connections = connections_new(&limits);
    struct reader reader = {.connections = connections};
    int pair[2];
    pthread_t thread;
    char byte;
    (void)state;
    assert_non_null(connections);
    assert_int_equal(socketpair(AF_UNIX, SOCK_STREAM, 0, pair), 0);
    reader.socket = pair[0];
    reader.client = connections_add(connections, (const struct sockaddr *)&address, pair[0], false);
    assert_int_equal(pthread_create(&thread, NULL, read_to_the_end, &reader), 0);
    connections_close(connections);
    assert_int_equal(atomic_load(&connection_figures(connections)->connections), 0);
    assert_int_equal(pthread_join(thread, NULL), 0);
    /* An answer could still be sent. */
    assert_int_equal(write(pair[0], "", 1), 1);
    assert_int_equal(read(pair[1], &byte, 1), 1);
    assert_false(admits(connections, "192.0.2.8"));
    /* One that was let in a moment before. */
    struct client *late =
        connections_add(connections, (const struct sockaddr *)&address, pair[0], false);
    assert_int_equal(read(pair[1], &byte, 1), 0);
    connections_remove(connections, late);
    (void)close(pair[0]);
    (void)close(pair[1]);
    connections_free(connections);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(one_address_has_its_limit_and_others_are_let_in),
        cmocka_unit_test(no_address_counts_for_another),
        cmocka_unit_test(addresses_of_one_network_count_together),
        cmocka_unit_test(a_proxy_brings_a_crowd),
        cmocka_unit_test(room_is_kept),
        cmocka_unit_test(a_stream_goes_on_being_counted),
        cmocka_unit_test(a_stream_is_counted_once),
        cmocka_unit_test(all_end_and_nobody_else_comes_in),
        cmocka_unit_test(lists_of_proxies_are_read_whole),
        cmocka_unit_test(this_machines_own_addresses_are_known),
        cmocka_unit_test(who_asks_is_told_by_the_last_proxy_that_is_trusted),
    };
    return cmocka_run_group_tests_name("connections", tests, NULL, NULL);
}
