/* SPDX-License-Identifier: MIT */
/* Event streams: what listeners are sent, from a server with the stream as its one route; and the
 * message that leads from one snapshot to the next. */
#include "http/stream.h"

#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>

#include "asking.h"
#include "base/decimal.h"
#include "base/err.h"
#include "http/server.h"
#include "served.h"
#include "testing.h"

/* ---- the message ---- */

enum { CARS = 200 };

/* Two snapshots of the same cars, as far as a message looks at them. */
static struct {
    struct entry list[CARS];
    struct entries entries;
    struct point points[1];
    struct rules rules;
    struct car_score cars[2][CARS];
    struct scores scores[2];
    struct snapshot snapshots[2];
} made;

static void make_snapshots(void) {
    memset(&made, 0, sizeof made);
    made.entries = (struct entries){.list = made.list, .count = CARS};
    made.points[0].id = "PC1";
    made.rules.points = made.points;
    for (int car = 0; car < CARS; car++) {
        made.list[car].number = car + 1;
        made.cars[0][car] = (struct car_score){.through = -1, .position = car + 1};
        made.cars[1][car] = made.cars[0][car];
    }
    for (int i = 0; i < 2; i++) {
        struct snapshot *s = &made.snapshots[i];
        s->event = (struct event){.rules = &made.rules, .entries = &made.entries};
        made.scores[i] = (struct scores){.event = &s->event, .cars = made.cars[i]};
        s->public_results = (struct results){.scores = &made.scores[i], .revision = 7 + i};
    }
}

static void assert_patch(const char *expected) {
    struct textbuf b = {0};
    stream_write_patch(&b, &made.snapshots[0], &made.snapshots[1]);
    assert_string_equal(textbuf_text(&b), expected);
    textbuf_clear(&b);
}

BEHAVIOUR(cars_that_changed_are_told_with_place_penalty_and_last_point) {
    make_snapshots();
    made.cars[1][2].through = 0;
    made.cars[1][2].tally[BASIS_CORRECTED].total = 12345;
    made.cars[1][199].position = 0;
    assert_patch("id: 8\ndata: {\"from\":7,\"revision\":8,\"rows\":[[3,3,\"12.345\",\"PC1\"],"
                 "[200,null,\"0.000\",null]]}\n\n");
}

BEHAVIOUR(what_changed_nothing_that_shows_has_no_rows) {
    make_snapshots();
    assert_patch("id: 8\ndata: {\"from\":7,\"revision\":8,\"rows\":[]}\n\n");
}

BEHAVIOUR(the_same_revision_of_the_public_is_no_message) {
    make_snapshots();
    made.snapshots[1].public_results.revision = 7;
    assert_patch("");
}

BEHAVIOUR(rows_that_would_not_fit_a_packet_are_left_out) {
    make_snapshots();
    for (int car = 0; car < CARS; car++)
        made.cars[1][car].position = 0;
    assert_patch("id: 8\ndata: {\"revision\":8}\n\n");
}

BEHAVIOUR(another_entry_list_has_no_rows) {
    struct entries other;
    make_snapshots();
    other = made.entries;
    made.snapshots[1].event.entries = &other;
    made.cars[1][2].position = 9;
    assert_patch("id: 8\ndata: {\"revision\":8}\n\n");
}

BEHAVIOUR(the_first_snapshot_has_no_rows) {
    struct textbuf b = {0};
    make_snapshots();
    stream_write_patch(&b, NULL, &made.snapshots[1]);
    assert_string_equal(textbuf_text(&b), "id: 8\ndata: {\"revision\":8}\n\n");
    textbuf_clear(&b);
}

/* ---- listeners ---- */

static struct served served;
static struct server *server;

static const struct route routes[] = {
    {"GET", "/{}/stream", ROLE_PUBLIC, 0, NULL, {.sort = HANDLER_STREAM}, ROUTE_CROWDED},
};
static const struct app app = {.routes = {routes, COUNT_OF(routes)}};

static void start(int per_address) {
    struct textbuf why = {0};
    const struct server_options options = {.data_dir = served.folder,
                                           .host = "127.0.0.1",
                                           .patience_s = 120,
                                           .per_address = per_address,
                                           .proxies = "192.0.2.1"};
    if (server_start(&app, &options, &why, &server) != ERR_OK)
        fail_msg("%s", textbuf_text(&why));
    textbuf_clear(&why);
}

static int begin(void **state) {
    (void)state;
    served_make(&served);
    start(0);
    return 0;
}

static int end(void **state) {
    (void)state;
    server_stop(server);
    server = NULL;
    served_remove(&served);
    return 0;
}

/* Listens. Returns the socket. */
static int listen_to(const char *headers) {
    char request[256];
    int fd = ask_connect(server_port(server));
    int len = snprintf(request, sizeof request,
                       "GET /skerry/stream HTTP/1.1\r\nHost: skerry.example\r\n%s\r\n", headers);
    assert_int_equal(send(fd, request, (size_t)len, MSG_NOSIGNAL), len);
    return fd;
}

/* Reads until `what` has come, which must stand in what was read: appends it. */
static void read_until(int fd, const char *what, struct textbuf *got) {
    while (strstr(textbuf_text(got), what) == NULL) {
        char part[512];
        ssize_t n = recv(fd, part, sizeof part, 0);
        if (n <= 0)
            fail_msg("not in it: %s\n%s", what, textbuf_text(got));
        textbuf_add(got, part, (size_t)n);
    }
}

/* True where nothing more comes before the end of the connection. */
static bool ends(int fd, struct textbuf *got) {
    char part[512];
    ssize_t n = 0;
    while ((n = recv(fd, part, sizeof part, 0)) > 0)
        textbuf_add(got, part, (size_t)n);
    return n == 0;
}

static void await_listeners(int count) {
    for (int i = 0; i < 12000 && stream_listeners(server_streams(server)) != count; i++)
        (void)usleep(10000);
    assert_int_equal(stream_listeners(server_streams(server)), count);
}

static void write_reading(const char *rows) {
    struct served_events *events = server_events(server);
    struct rows_write *write =
        served_readings(&served, served_events_find(events, SERVED_SLUG), rows);
    served_write(&write->head);
    write_free(&write->head);
}

BEHAVIOUR(a_listener_is_greeted_with_the_revision) {
    struct textbuf got = {0};
    int fd = listen_to("");
    read_until(fd, "id: 1\ndata: {\"revision\":1}\n\n", &got);
    assert_non_null(strstr(got.bytes, "Content-Type: text/event-stream\r\n"));
    assert_non_null(strstr(got.bytes, "Cache-Control: no-cache, no-transform\r\n"));
    assert_non_null(strstr(got.bytes, "retry: "));
    textbuf_clear(&got);
    (void)close(fd);
    await_listeners(0);
}

BEHAVIOUR(who_knows_the_newest_is_not_told_it_again) {
    struct textbuf got = {0};
    int fd = listen_to("Last-Event-ID: 1\r\n");
    read_until(fd, ": up to date\n\n", &got);
    assert_null(strstr(got.bytes, "data:"));
    textbuf_clear(&got);
    (void)close(fd);
}

BEHAVIOUR(all_listeners_are_told_of_a_write) {
    enum { LISTENERS = 5 };
    int sockets[LISTENERS];
    struct textbuf got[LISTENERS] = {0};
    for (int i = 0; i < LISTENERS; i++) {
        sockets[i] = listen_to("");
        read_until(sockets[i], "{\"revision\":1}\n\n", &got[i]);
    }
    await_listeners(LISTENERS);
    write_reading("[{'id': 'a1', 'point': 'PC1', 'car': '1'}]");
    for (int i = 0; i < LISTENERS; i++) {
        read_until(sockets[i], "{\"from\":1,\"revision\":2,\"rows\":[[1,", &got[i]);
        textbuf_clear(&got[i]);
        (void)close(sockets[i]);
    }
    await_listeners(0);
}

BEHAVIOUR(who_is_one_too_many_is_told_to_come_back_in_a_minute) {
    struct textbuf got = {0};
    server_stop(server);
    start(1);
    int first = listen_to("");
    read_until(first, "{\"revision\":1}\n\n", &got);
    textbuf_reset(&got);
    int second = listen_to("");
    assert_true(ends(second, &got));
    assert_non_null(strstr(got.bytes, "HTTP/1.1 200 "));
    assert_non_null(strstr(got.bytes, "retry: 60000\n\n"));
    assert_null(strstr(got.bytes, "data:"));
    assert_int_equal(stream_turned_away(server_streams(server)), 1);
    textbuf_clear(&got);
    (void)close(second);
    (void)close(first);
}

BEHAVIOUR(streams_end_with_the_server) {
    struct textbuf got = {0};
    int fd = listen_to("");
    read_until(fd, "{\"revision\":1}\n\n", &got);
    server_stop(server);
    server = NULL;
    assert_true(ends(fd, &got));
    textbuf_clear(&got);
    (void)close(fd);
}

#define WITH_SERVER(test) cmocka_unit_test_setup_teardown(test, begin, end)

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cars_that_changed_are_told_with_place_penalty_and_last_point),
        cmocka_unit_test(what_changed_nothing_that_shows_has_no_rows),
        cmocka_unit_test(the_same_revision_of_the_public_is_no_message),
        cmocka_unit_test(rows_that_would_not_fit_a_packet_are_left_out),
        cmocka_unit_test(another_entry_list_has_no_rows),
        cmocka_unit_test(the_first_snapshot_has_no_rows),
        WITH_SERVER(a_listener_is_greeted_with_the_revision),
        WITH_SERVER(who_knows_the_newest_is_not_told_it_again),
        WITH_SERVER(all_listeners_are_told_of_a_write),
        WITH_SERVER(who_is_one_too_many_is_told_to_come_back_in_a_minute),
        WITH_SERVER(streams_end_with_the_server),
    };
    RUN_BEHAVIOURS(tests);
}
