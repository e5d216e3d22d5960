/* SPDX-License-Identifier: MIT */
/* Answers to reads, from a server with routes of its own: which are kept and for how long, how they
 * are tagged and compressed, what caches are told. */
#include "http/answer.h"

#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <sys/socket.h>
#include <unistd.h>
#include <zlib.h>

#include "asking.h"
#include "base/err.h"
#include "http/server.h"
#include "served.h"
#include "system/hard_limits.h"
#include "testing.h"

enum { COMPRESSIBLE = 2000 };

static struct served served;
static struct server *server;
static struct reply reply;

/* How often the handler was asked. */
static atomic_int made;

/* "1 by=…", then what a packed body saves something on, or nearly nothing. */
static unsigned count_it(struct request *r, struct textbuf *b) {
    const char *by = request_query(r, "by");
    textbuf_printf(b, "%d by=%s", atomic_fetch_add(&made, 1) + 1, by == NULL ? "-" : by);
    return MHD_HTTP_OK;
}

static unsigned count_long(struct request *r, struct textbuf *b) {
    (void)count_it(r, b);
    for (int i = 0; i < COMPRESSIBLE; i++)
        textbuf_putc(b, 'a');
    r->media_type = "text/html; charset=utf-8";
    return MHD_HTTP_OK;
}

static unsigned count_large(struct request *r, struct textbuf *b) {
    (void)count_it(r, b);
    for (int i = 0; i < LIMIT_ANSWER_LARGE / 16; i++)
        textbuf_printf(b, "%016d", i * 7);
    return MHD_HTTP_OK;
}

/* Held back until a test lets it go on. */
static atomic_bool held;

static unsigned count_held(struct request *r, struct textbuf *b) {
    while (atomic_load(&held))
        (void)usleep(1000);
    return count_it(r, b);
}

static unsigned count_tagged(struct request *r, struct textbuf *b) {
    (void)count_it(r, b);
    (void)strcpy(r->tag, "d7");
    return MHD_HTTP_OK;
}

static const char *const by_only[] = {"by", NULL};
static const char *const by_and_lang[] = {"by", "lang", NULL};

#define READ(function)                                                                             \
    { .sort = HANDLER_READ, .read = (function) }

static const struct route routes[] = {
    {"GET", "/constant", ROLE_PUBLIC, 0, NULL, READ(count_it), ROUTE_CONSTANT},
    {"GET", "/_/{}/{}", ROLE_PUBLIC, 0, NULL, READ(count_it), ROUTE_CONSTANT | ROUTE_EVENTLESS},
    {"GET", "/{}/short", ROLE_PUBLIC, 0, by_only, READ(count_it), 0},
    {"GET", "/{}/long", ROLE_PUBLIC, 0, by_and_lang, READ(count_long), 0},
    {"GET", "/{}/large", ROLE_PUBLIC, 0, NULL, READ(count_large), 0},
    {"GET", "/{}/held", ROLE_PUBLIC, 0, NULL, READ(count_held), 0},
    {"GET", "/{}/fresh", ROLE_PUBLIC, 0, NULL, READ(count_it), ROUTE_FRESH},
    {"GET", "/{}/tagged", ROLE_PUBLIC, 0, NULL, READ(count_tagged), ROUTE_FRESH},
    {"GET", "/{}/paper", ROLE_PUBLIC, 0, NULL, READ(count_it), ROUTE_PAPER},
};

static const struct app app = {.routes = {routes, COUNT_OF(routes)}};

static int begin(void **state) {
    struct textbuf why = {0};
    (void)state;
    served_make(&served);
    const struct server_options options = {
        .data_dir = served.folder, .host = "127.0.0.1", .patience_s = 120, .per_address = -1};
    if (server_start(&app, &options, &why, &server) != ERR_OK)
        fail_msg("%s", textbuf_text(&why));
    textbuf_clear(&why);
    atomic_store(&made, 0);
    return 0;
}

static int end(void **state) {
    (void)state;
    reply_clear(&reply);
    server_stop(server);
    served_remove(&served);
    return 0;
}

/* Asks for an address with headers, and keeps the reply until the next. Returns the status. */
static long asked(const char *address, const char *headers) {
    char line[128];
    (void)snprintf(line, sizeof line, "GET %s", address);
    reply_clear(&reply);
    ask(server_port(server), line, headers, NULL, &reply);
    return reply.status;
}

static const char *header(const char *name) {
    static char value[256];
    reply_header(&reply, name, value, sizeof value);
    return value;
}

static const char *with_key(void) {
    static char text[128];
    (void)snprintf(text, sizeof text, "Authorization: Bearer %s\r\n", served.key);
    return text;
}

static const char gzip[] = "Accept-Encoding: gzip\r\n";

static void write_reading(const char *rows) {
    struct served_events *events = server_events(server);
    struct rows_write *write =
        served_readings(&served, served_events_find(events, SERVED_SLUG), rows);
    served_write(&write->head);
    write_free(&write->head);
}

/* ---- kept ---- */

BEHAVIOUR(an_answer_is_made_once_for_all_who_ask_the_same) {
    assert_int_equal(asked("/skerry/short", ""), 200);
    assert_string_equal(reply.body, "1 by=-");
    assert_int_equal(asked("/skerry/short?unknown=1", ""), 200);
    assert_string_equal(reply.body, "1 by=-");
    assert_int_equal(asked("/skerry/short?by=day", ""), 200);
    assert_string_equal(reply.body, "2 by=day");
    assert_int_equal(asked("/skerry/short?by=day", ""), 200);
    assert_string_equal(reply.body, "2 by=day");
}

BEHAVIOUR(the_office_and_the_public_are_kept_apart) {
    assert_int_equal(asked("/skerry/short", ""), 200);
    assert_int_equal(asked("/skerry/short", with_key()), 200);
    assert_string_equal(reply.body, "2 by=-");
    assert_string_equal(header("Cache-Control"), "private, no-store");
    assert_int_equal(asked("/skerry/short", with_key()), 200);
    assert_string_equal(reply.body, "2 by=-");
}

BEHAVIOUR(an_answer_is_kept_no_longer_than_its_revision) {
    assert_int_equal(asked("/skerry/short", ""), 200);
    char before[64];
    (void)strcpy(before, header("ETag"));
    write_reading("[{'id': 'a1', 'point': 'PC1', 'car': '1'}]");
    assert_int_equal(asked("/skerry/short", ""), 200);
    assert_string_equal(reply.body, "2 by=-");
    assert_string_not_equal(header("ETag"), before);
}

BEHAVIOUR(what_depends_on_more_than_the_revision_is_made_each_time) {
    assert_int_equal(asked("/skerry/fresh", ""), 200);
    assert_int_equal(asked("/skerry/fresh", ""), 200);
    assert_string_equal(reply.body, "2 by=-");
    assert_string_equal(header("Cache-Control"), "no-store");
    assert_string_equal(header("ETag"), "");
}

BEHAVIOUR(what_is_the_same_for_all_revisions_is_kept_for_all) {
    assert_int_equal(asked("/constant", ""), 200);
    write_reading("[{'id': 'a1', 'point': 'PC1', 'car': '1'}]");
    assert_int_equal(asked("/constant", ""), 200);
    assert_string_equal(reply.body, "1 by=-");
}

BEHAVIOUR(a_paper_is_kept_for_each_name_of_this_machine) {
    assert_int_equal(asked("/skerry/paper", ""), 200);
    assert_int_equal(asked("/skerry/paper", "X-Forwarded-Proto: https\r\n"), 200);
    assert_string_equal(reply.body, "2 by=-");
    assert_string_equal(header("Cache-Control"), "private, max-age=0, must-revalidate");
}

BEHAVIOUR(what_many_ask_for_at_once_is_made_once) {
    enum { CROWD = 20 };
    int sockets[CROWD];
    static const char request[] =
        "GET /skerry/held HTTP/1.1\r\nHost: skerry.example\r\nConnection: close\r\n\r\n";
    struct worker_pool_figures figures = {0};
    atomic_store(&held, true);
    for (int i = 0; i < CROWD; i++) {
        sockets[i] = ask_connect(server_port(server));
        assert_int_equal(send(sockets[i], request, sizeof request - 1, MSG_NOSIGNAL),
                         (ssize_t)sizeof request - 1);
    }
    for (int i = 0; i < 12000 && figures.waiting < CROWD; i++) {
        (void)usleep(10000);
        worker_pool_read_figures(server_workers(server), &figures);
    }
    atomic_store(&held, false);
    assert_int_equal(figures.waiting, CROWD);
    for (int i = 0; i < CROWD; i++) {
        reply_read(sockets[i], &reply);
        assert_int_equal(reply.status, 200);
        assert_string_equal(reply.body, "1 by=-");
        reply_clear(&reply);
        (void)close(sockets[i]);
    }
    assert_int_equal(atomic_load(&made), 1);
}

/* ---- tags ---- */

BEHAVIOUR(who_has_it_already_is_told_that_it_is_still_the_same) {
    char known[400];
    assert_int_equal(asked("/skerry/short", ""), 200);
    (void)snprintf(known, sizeof known, "If-None-Match: W/%s\r\n", header("ETag"));
    assert_int_equal(asked("/skerry/short", known), 304);
    assert_int_equal(reply.body_len, 0);
    assert_int_equal(asked("/skerry/short", "If-None-Match: \"other\"\r\n"), 200);
    assert_int_equal(asked("/skerry/short", "If-None-Match: *\r\n"), 304);
    assert_int_equal(atomic_load(&made), 1);
}

BEHAVIOUR(a_packed_body_has_a_tag_of_its_own_and_either_is_known) {
    char plain[64];
    char known[400];
    assert_int_equal(asked("/skerry/long", ""), 200);
    (void)strcpy(plain, header("ETag"));
    assert_int_equal(asked("/skerry/long", gzip), 200);
    assert_string_not_equal(header("ETag"), plain);
    assert_non_null(strstr(header("ETag"), "-gz\""));
    (void)snprintf(known, sizeof known, "%sIf-None-Match: %s\r\n", gzip, plain);
    assert_int_equal(asked("/skerry/long", known), 304);
}

BEHAVIOUR(a_handler_may_name_the_tag) {
    assert_int_equal(asked("/skerry/tagged", ""), 200);
    assert_string_equal(header("ETag"), "\"d7\"");
    assert_int_equal(asked("/skerry/tagged", "If-None-Match: \"d7\"\r\n"), 304);
}

/* ---- packed ---- */

static void assert_unpacks_to(const char *beginning, size_t len) {
    static unsigned char out[LIMIT_ANSWER_LARGE * 2];
    z_stream z = {.next_in = (Bytef *)(uintptr_t)reply.body,
                  .avail_in = (uInt)reply.body_len,
                  .next_out = out,
                  .avail_out = sizeof out};
    assert_int_equal(inflateInit2(&z, 15 + 16), Z_OK);
    assert_int_equal(inflate(&z, Z_FINISH), Z_STREAM_END);
    assert_int_equal(z.total_out, len);
    assert_memory_equal(out, beginning, strlen(beginning));
    (void)inflateEnd(&z);
}

BEHAVIOUR(a_body_is_packed_for_who_takes_it) {
    assert_int_equal(asked("/skerry/long", gzip), 200);
    assert_string_equal(header("Content-Encoding"), "gzip");
    assert_unpacks_to("1 by=-aaaa", 6 + COMPRESSIBLE);
    assert_int_equal(asked("/skerry/long", ""), 200);
    assert_string_equal(header("Content-Encoding"), "");
    assert_int_equal(reply.body_len, 6 + COMPRESSIBLE);
    assert_int_equal(atomic_load(&made), 1);
}

BEHAVIOUR(a_short_body_is_not_packed) {
    assert_int_equal(asked("/skerry/short", gzip), 200);
    assert_string_equal(header("Content-Encoding"), "");
}

BEHAVIOUR(a_large_body_is_made_in_the_coding_that_is_wanted) {
    assert_int_equal(asked("/skerry/large", gzip), 200);
    assert_unpacks_to("1 by=-0000", 6 + LIMIT_ANSWER_LARGE / 16 * 16);
    assert_int_equal(asked("/skerry/large", gzip), 200);
    assert_unpacks_to("1 by=-0000", 6 + LIMIT_ANSWER_LARGE / 16 * 16);
    assert_int_equal(asked("/skerry/large", ""), 200);
    assert_int_equal(strncmp(reply.body, "2 by=-", 6), 0);
}

/* ---- headers ---- */

BEHAVIOUR(a_page_runs_nothing_that_is_not_of_this_server) {
    assert_int_equal(asked("/skerry/long", ""), 200);
    assert_non_null(strstr(header("Content-Security-Policy"), "default-src 'none'"));
    assert_string_equal(header("X-Frame-Options"), "DENY");
    assert_string_equal(header("X-Content-Type-Options"), "nosniff");
    assert_int_equal(asked("/skerry/short", ""), 200);
    assert_string_equal(header("Content-Security-Policy"), "");
    assert_string_equal(header("X-Content-Type-Options"), "nosniff");
}

BEHAVIOUR(caches_are_told_for_how_long_and_by_what_answers_differ) {
    assert_int_equal(asked("/skerry/short", ""), 200);
    assert_string_equal(header("Cache-Control"), "public, max-age=0, s-maxage=1, must-revalidate");
    assert_string_equal(header("Vary"), "Accept-Encoding, Authorization");
    assert_int_equal(asked("/_/1234/page.js", ""), 200);
    assert_string_equal(header("Cache-Control"), "public, max-age=31536000, immutable");
}

BEHAVIOUR(a_language_is_chosen_by_the_address_or_else_by_the_browser) {
    assert_int_equal(asked("/skerry/long", "Accept-Language: de\r\n"), 200);
    assert_string_equal(header("Content-Language"), "de");
    assert_string_equal(header("Vary"), "Accept-Encoding, Accept-Language, Authorization");
    assert_int_equal(asked("/skerry/long", "Accept-Language: fr\r\n"), 200);
    assert_string_equal(header("Content-Language"), "fr");
    assert_int_equal(atomic_load(&made), 2);
    assert_int_equal(asked("/skerry/long?lang=fr", "Accept-Language: de\r\n"), 200);
    assert_string_equal(header("Content-Language"), "fr");
    assert_string_equal(header("Vary"), "Accept-Encoding, Authorization");
    assert_int_equal(atomic_load(&made), 3); /* its links keep the language */
}

#define WITH_SERVER(test) cmocka_unit_test_setup_teardown(test, begin, end)

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_SERVER(an_answer_is_made_once_for_all_who_ask_the_same),
        WITH_SERVER(the_office_and_the_public_are_kept_apart),
        WITH_SERVER(an_answer_is_kept_no_longer_than_its_revision),
        WITH_SERVER(what_depends_on_more_than_the_revision_is_made_each_time),
        WITH_SERVER(what_is_the_same_for_all_revisions_is_kept_for_all),
        WITH_SERVER(a_paper_is_kept_for_each_name_of_this_machine),
        WITH_SERVER(what_many_ask_for_at_once_is_made_once),
        WITH_SERVER(who_has_it_already_is_told_that_it_is_still_the_same),
        WITH_SERVER(a_packed_body_has_a_tag_of_its_own_and_either_is_known),
        WITH_SERVER(a_handler_may_name_the_tag),
        WITH_SERVER(a_body_is_packed_for_who_takes_it),
        WITH_SERVER(a_short_body_is_not_packed),
        WITH_SERVER(a_large_body_is_made_in_the_coding_that_is_wanted),
        WITH_SERVER(a_page_runs_nothing_that_is_not_of_this_server),
        WITH_SERVER(caches_are_told_for_how_long_and_by_what_answers_differ),
        WITH_SERVER(a_language_is_chosen_by_the_address_or_else_by_the_browser),
    };
    RUN_BEHAVIOURS(tests);
}
