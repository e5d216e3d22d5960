/* SPDX-License-Identifier: MIT */
/* A listener over plain HTTP: what it is sent, and what it loses while it does not read. */
#include "http/stream_socket.h"

#include <stdlib.h>
#include <string.h>
#include <sys/epoll.h>
#include <sys/socket.h>
#include <unistd.h>

#include "testing.h"

/* Larger than a socket takes at once. */
enum { LARGE = 1 << 20 };

static atomic_int listeners;
static int client; /* the other end */
static int epoll;
static struct stream_socket *listener;

static int begin(void **state) {
    int ends[2];
    (void)state;
    listener = calloc(1, sizeof *listener);
    if (listener == NULL || socketpair(AF_UNIX, SOCK_STREAM, 0, ends) != 0)
        return -1;
    client = ends[1];
    epoll = epoll_create1(0);
    atomic_store(&listeners, 1);
    *listener =
        (struct stream_socket){.fd = ends[0], .chunked = true, .count = &listeners, .epoll = -1};
    return stream_socket_watch(listener, epoll) ? 0 : -1;
}

static int end(void **state) {
    (void)state;
    if (listener != NULL)
        stream_socket_free(listener);
    (void)close(client);
    (void)close(epoll);
    return 0;
}

static bool send_text(const char *text, size_t len) {
    struct stream_message *m = stream_message_new(0, text, len);
    assert_non_null(m);
    bool sent = stream_socket_send(listener, m);
    stream_message_release(m);
    return sent;
}

/* Sends more than the socket holds. */
static void fill(void) {
    char *large = malloc(LARGE);
    assert_non_null(large);
    memset(large, 'x', LARGE);
    assert_true(send_text(large, LARGE));
    free(large);
}

/* What the epoll set says of the listener, 0 for nothing. */
static uint32_t happens(void) {
    struct epoll_event event = {0};
    return epoll_wait(epoll, &event, 1, 0) == 1 ? event.events : 0;
}

/* Reads all that has been sent, and goes on while the listener sends more. Returns the end of it.
 */
static const char *read_all(size_t *total) {
    static char last[65536];
    *total = 0;
    for (;;) {
        ssize_t n = recv(client, last, sizeof last - 1, MSG_DONTWAIT);
        if (n > 0) {
            last[n] = '\0';
            *total += (size_t)n;
        } else if (listener->outbox.sending == NULL) {
            return last;
        } else {
            assert_true(stream_socket_flush(listener));
        }
    }
}

BEHAVIOUR(a_message_goes_as_a_chunk_or_as_it_is) {
    char got[64] = "";
    assert_true(send_text("data: 1\n\n", 9));
    assert_int_equal(recv(client, got, sizeof got - 1, MSG_DONTWAIT), 14);
    assert_string_equal(got, "9\r\ndata: 1\n\n\r\n");
    listener->chunked = false;
    memset(got, 0, sizeof got);
    assert_true(send_text("data: 2\n\n", 9));
    assert_int_equal(recv(client, got, sizeof got - 1, MSG_DONTWAIT), 9);
    assert_string_equal(got, "data: 2\n\n");
}

BEHAVIOUR(who_does_not_read_gets_the_rest_and_then_the_newest) {
    size_t total;
    fill();
    assert_non_null(listener->outbox.sending);
    assert_true(send_text("older", 5));
    assert_true(send_text("newer", 5));
    const char *last = read_all(&total);
    /* The chunk's frame is 8 bytes and 2, that of the newer 3 and 2; of the older there is none. */
    assert_int_equal(total, 8 + LARGE + 2 + 3 + 5 + 2);
    assert_non_null(strstr(last, "\r\n5\r\nnewer\r\n"));
    assert_null(listener->outbox.waiting);
}

BEHAVIOUR(room_is_watched_for_only_while_there_is_none) {
    size_t total;
    assert_int_equal(happens(), 0);
    fill();
    assert_int_equal(happens(), 0);
    char some[65536];
    while (recv(client, some, sizeof some, MSG_DONTWAIT) > 0)
        continue;
    assert_int_equal(happens(), EPOLLOUT);
    (void)read_all(&total);
    assert_true(stream_socket_flush(listener));
    assert_int_equal(happens(), 0);
}

BEHAVIOUR(who_has_gone_is_told_by_a_message_that_cannot_be_sent) {
    (void)close(client);
    client = -1;
    assert_false(send_text("x", 1));
}

BEHAVIOUR(the_last_chunk_comes_between_two_messages_only) {
    char got[64] = "";
    stream_socket_finish(listener);
    assert_int_equal(recv(client, got, sizeof got - 1, MSG_DONTWAIT), 5);
    assert_string_equal(got, "0\r\n\r\n");
    size_t total;
    fill();
    stream_socket_finish(listener);
    (void)read_all(&total);
    assert_int_equal(total, 8 + LARGE + 2);
}

BEHAVIOUR(its_end_is_counted) {
    atomic_int of_address = 3;
    char byte;
    listener->of_address = &of_address;
    fill();
    stream_socket_free(listener);
    listener = NULL;
    assert_int_equal(atomic_load(&listeners), 0);
    assert_int_equal(atomic_load(&of_address), 2);
    while (recv(client, &byte, 1, MSG_DONTWAIT) > 0)
        continue;
    assert_int_equal(recv(client, &byte, 1, MSG_DONTWAIT), 0);
}

#define WITH_LISTENER(test) cmocka_unit_test_setup_teardown(test, begin, end)

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_LISTENER(a_message_goes_as_a_chunk_or_as_it_is),
        WITH_LISTENER(who_does_not_read_gets_the_rest_and_then_the_newest),
        WITH_LISTENER(room_is_watched_for_only_while_there_is_none),
        WITH_LISTENER(who_has_gone_is_told_by_a_message_that_cannot_be_sent),
        WITH_LISTENER(the_last_chunk_comes_between_two_messages_only),
        WITH_LISTENER(its_end_is_counted),
    };
    RUN_BEHAVIOURS(tests);
}
