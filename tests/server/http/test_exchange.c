/* SPDX-License-Identifier: MIT */
/* The way of a request through a server with routes of its own: what is refused from the head
 * alone, what its handler is given, how each sort of handler is answered, and how errors are. */
#include "http/exchange.h"

#include <stdatomic.h>
#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "asking.h"
#include "base/err.h"
#include "http/server.h"
#include "served.h"
#include "testing.h"

static struct served served;
static struct server *server;
static struct reply reply;
static atomic_int releases;

/* ---- handlers ---- */

static void note_release(void *thing) {
    (void)thing;
    atomic_fetch_add(&releases, 1);
}

/* Tells what it was given. */
static unsigned read_it(struct request *r, struct textbuf *b) {
    const char *by = request_query(r, "by");
    (void)request_owns(r, &releases, note_release);
    textbuf_printf(b, "%s %s %s role=%d by=%s event=%s", r->method, r->path, r->args[1],
                   (int)r->role, by == NULL ? "-" : by, r->served == NULL ? "-" : r->served->slug);
    r->media_type = "text/plain";
    return MHD_HTTP_OK;
}

static unsigned fail_it(struct request *r, struct textbuf *b) {
    textbuf_puts(b, "dropped");
    (void)request_owns(r, &releases, note_release);
    return request_fail(r, MHD_HTTP_NOT_FOUND, "There is no “%s”.", r->args[1]);
}

static unsigned echo(struct request *r, struct textbuf *b) {
    (void)request_owns(r, &releases, note_release);
    textbuf_printf(b, "%zu:%s", r->body_len, r->body);
    r->media_type = "text/plain";
    return MHD_HTTP_OK;
}

static void own_page(struct request *r, struct textbuf *b, unsigned status) {
    textbuf_printf(b, "<p>own %u %s", status, r->detail);
}

static unsigned fail_in_page(struct request *r, struct textbuf *b) {
    (void)b;
    r->error_page = own_page;
    return request_fail(r, MHD_HTTP_BAD_REQUEST, "The form is wrong.");
}

/* A write of readings: the rows are those of the body. */
static unsigned prepare(struct request *r, struct write **out) {
    struct textbuf *why = request_text(r);
    if (!request_has_type(r, "application/json"))
        return request_fail(r, MHD_HTTP_UNSUPPORTED_MEDIA_TYPE, "Send JSON.");
    struct rows_write *write = readings_write_new();
    if (write == NULL)
        return request_no_memory(r);
    *out = &write->head;
    write->body = (struct write_body){"application/json", r->body, r->body_len};
    if (upload_parse(MEDIA_JSON, r->body, r->body_len, reading_field_names, READING_FIELD_COUNT, 0,
                     NULL, &write->rows, why) != ERR_OK)
        return request_fail(r, MHD_HTTP_BAD_REQUEST, "%s", textbuf_text(why));
    (void)request_owns(r, &releases, note_release);
    return 0;
}

static void answer_rows(struct request *r, const struct write *head, struct textbuf *b) {
    (void)r;
    textbuf_printf(b, "{\"accepted\":%d}", (int)rows_write_of(head)->accepted);
}

static void answer_address(struct request *r, const struct write *head, struct textbuf *b) {
    textbuf_printf(b, "/%s/?rows=%d", r->served->slug, (int)rows_write_of(head)->accepted);
}

static const struct write_handler rows = {.prepare = prepare, .answer = answer_rows};
static const struct write_handler form = {
    .prepare = prepare, .answer = answer_address, .redirects = true};

static const char *const by_only[] = {"by", NULL};

#define READ(function)                                                                             \
    { .sort = HANDLER_READ, .read = (function) }
#define ACT(function)                                                                              \
    { .sort = HANDLER_ACTION, .act = (function) }
#define WRITE(handler)                                                                             \
    { .sort = HANDLER_WRITE, .write = &(handler) }

static const struct route routes[] = {
    {"GET", "/", ROLE_PUBLIC, 0, by_only, READ(read_it), ROUTE_FRESH},
    {"GET", "/always", ROLE_PUBLIC, 0, NULL, READ(read_it),
     ROUTE_FRESH | ROUTE_AT_ONCE | ROUTE_CROWDED},
    {"GET", "/local", ROLE_PUBLIC, 0, NULL, READ(read_it), ROUTE_FRESH | ROUTE_LOCAL},
    {"GET", "/{}/", ROLE_PUBLIC, 0, by_only, READ(read_it), 0},
    {"GET", "/{}/desk", ROLE_TIMEKEEPER, 0, NULL, READ(read_it), 0},
    {"GET", "/{}/office", ROLE_ORGANISER, 0, NULL, READ(read_it), 0},
    {"GET", "/{}/fails/{}", ROLE_PUBLIC, 0, NULL, READ(fail_it), 0},
    {"POST", "/{}/echo", ROLE_PUBLIC, 100, NULL, ACT(echo), 0},
    {"POST", "/{}/echo-at-once", ROLE_PUBLIC, 100, NULL, ACT(echo), ROUTE_AT_ONCE},
    {"POST", "/{}/in-page", ROLE_PUBLIC, 100, NULL, ACT(fail_in_page), 0},
    {"POST", "/{}/rows", ROLE_ORGANISER, 100000, NULL, WRITE(rows), 0},
    {"POST", "/{}/form", ROLE_ORGANISER, 1000, NULL, WRITE(form), 0},
};

static void problem_page(struct request *r, struct textbuf *b, unsigned status) {
    textbuf_printf(b, "<h1>%u</h1>%s", status, r->detail);
}

static const struct app app = {.routes = {routes, COUNT_OF(routes)}, .problem_page = problem_page};

/* ---- asking ---- */

static void start(int per_address, const char *proxies) {
    struct textbuf why = {0};
    const struct server_options options = {.data_dir = served.folder,
                                           .host = "127.0.0.1",
                                           .patience_s = 120,
                                           .per_address = per_address,
                                           .proxies = proxies};
    if (server_start(&app, &options, &why, &server) != ERR_OK)
        fail_msg("%s", textbuf_text(&why));
    textbuf_clear(&why);
}

static int begin(void **state) {
    (void)state;
    served_make(&served);
    start(-1, NULL);
    atomic_store(&releases, 0);
    return 0;
}

static int end(void **state) {
    (void)state;
    reply_clear(&reply);
    server_stop(server);
    served_remove(&served);
    return 0;
}

/* Asks, and keeps the reply until the next. Returns the status. */
static long asked(const char *line, const char *headers, const char *body) {
    reply_clear(&reply);
    ask(server_port(server), line, headers, body, &reply);
    return reply.status;
}

static const char *header(const char *name) {
    static char value[256];
    reply_header(&reply, name, value, sizeof value);
    return value;
}

/* The header of the organiser's key, with more behind it. */
static const char *with_key(const char *more) {
    static char text[256];
    (void)snprintf(text, sizeof text, "Authorization: Bearer %s\r\n%s", served.key, more);
    return text;
}

static bool body_has(const char *text) {
    return strstr(reply.body, text) != NULL;
}

/* A request ends after its answer has been read: waits until as many things were released, or as
 * many were refused in all. */
static void await_releases(int count) {
    for (int i = 0; i < 12000 && atomic_load(&releases) < count; i++)
        (void)usleep(10000);
    assert_int_equal(atomic_load(&releases), count);
}

static void await_refusals(enum refusal refusal, int count) {
    for (int i = 0; i < 12000 && server_refusals(server, refusal) < count; i++)
        (void)usleep(10000);
    assert_int_equal(server_refusals(server, refusal), count);
}

/* ---- reads ---- */

BEHAVIOUR(a_handler_is_given_path_parts_query_and_event) {
    assert_int_equal(asked("GET /skerry/?by=day&other=1", "", NULL), 200);
    assert_string_equal(reply.body, "GET /skerry/  role=0 by=day event=skerry");
    assert_string_equal(header("Content-Type"), "text/plain");
    assert_int_equal(asked("GET /?by=", "", NULL), 200);
    assert_string_equal(reply.body, "GET /  role=0 by=- event=-");
}

BEHAVIOUR(what_a_handler_put_into_the_request_ends_with_it) {
    assert_int_equal(asked("GET /?by=1", "", NULL), 200);
    await_releases(1);
    assert_int_equal(asked("GET /skerry/fails/7", "", NULL), 404);
    await_releases(2);
    assert_int_equal(asked("POST /skerry/echo", "", "x"), 200);
    await_releases(3);
    assert_int_equal(asked("POST /skerry/echo-at-once", "", "x"), 200);
    await_releases(4);
    assert_int_equal(
        asked("POST /skerry/rows", with_key("Content-Type: application/json\r\n"), "[]"), 200);
    await_releases(5);
}

BEHAVIOUR(head_is_answered_as_get_without_its_body) {
    assert_int_equal(asked("HEAD /?by=day", "", NULL), 200);
    assert_string_equal(header("Content-Length"), "29");
    assert_int_equal(reply.body_len, 0);
}

/* ---- what is refused from the head alone ---- */

BEHAVIOUR(an_address_without_a_route_is_not_found) {
    assert_int_equal(asked("GET /nothing/here", "", NULL), 404);
    assert_string_equal(header("Content-Type"), "application/problem+json");
    assert_true(body_has("\"detail\":\"There is nothing at this address.\""));
    assert_int_equal(asked("GET /a%00b", "", NULL), 404);
    assert_int_equal(asked("GET /other/", "", NULL), 404);
    assert_true(body_has("There is no event “other”."));
}

BEHAVIOUR(an_event_without_its_last_slash_leads_to_its_page) {
    assert_int_equal(asked("GET /skerry?by=day", "", NULL), 308);
    assert_string_equal(header("Location"), "/skerry/?by=day");
    assert_int_equal(asked("GET /other", "", NULL), 404);
}

BEHAVIOUR(a_wrong_method_is_told_the_right_ones) {
    assert_int_equal(asked("DELETE /skerry/rows", "", NULL), 405);
    assert_string_equal(header("Allow"), "POST");
    assert_int_equal(asked("POST /", "", "x"), 405);
    assert_string_equal(header("Allow"), "GET, HEAD");
}

BEHAVIOUR(a_role_wants_its_key) {
    assert_int_equal(asked("GET /skerry/office", "", NULL), 401);
    assert_string_equal(header("WWW-Authenticate"), "Bearer realm=\"cairn\"");
    assert_int_equal(asked("GET /skerry/desk", "", NULL), 401);
    assert_int_equal(asked("GET /skerry/office", with_key(""), NULL), 200);
    assert_true(body_has("role=2"));
    assert_int_equal(asked("GET /skerry/desk", with_key(""), NULL), 200);
    assert_int_equal(asked("GET /skerry/", "Authorization: Bearer wrong\r\n", NULL), 401);
    assert_true(body_has("The key is not in force"));
    assert_int_equal(asked("GET /skerry/", "Authorization: Basic x\r\n", NULL), 401);
}

BEHAVIOUR(figures_of_the_machine_are_for_this_machine_only) {
    assert_int_equal(asked("GET /local", "", NULL), 200);
    assert_int_equal(asked("GET /local", "X-Forwarded-For: 192.0.2.7\r\n", NULL), 404);
    assert_int_equal(asked("GET /local", "Forwarded: for=192.0.2.7\r\n", NULL), 404);
}

BEHAVIOUR(a_parameter_that_is_too_long_is_refused) {
    char line[256] = "GET /?by=";
    size_t len = strlen(line);
    memset(line + len, 'a', ARG_LEN);
    line[len + ARG_LEN - 1] = '\0';
    assert_int_equal(asked(line, "", NULL), 200);
    line[len + ARG_LEN - 1] = 'a';
    line[len + ARG_LEN] = '\0';
    assert_int_equal(asked(line, "", NULL), 400);
    assert_true(body_has("The value of “by” is too long."));
}

BEHAVIOUR(a_body_that_is_too_large_packed_or_in_other_letters_is_refused) {
    char body[102];
    memset(body, 'a', sizeof body);
    body[100] = '\0';
    assert_int_equal(asked("POST /skerry/echo", "", body), 200);
    body[100] = 'a';
    body[101] = '\0';
    assert_int_equal(asked("POST /skerry/echo", "", body), 413);
    assert_true(body_has("The body may have 100 bytes."));
    assert_int_equal(asked("POST /skerry/echo", "Content-Encoding: gzip\r\n", "x"), 415);
    assert_int_equal(
        asked("POST /skerry/echo", "Content-Type: text/plain; charset=latin1\r\n", "x"), 415);
    assert_int_equal(asked("POST /skerry/echo",
                           "Transfer-Encoding: chunked\r\n\r\n66\r\n"
                           "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa"
                           "aaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaaa\r\n0\r\n",
                           NULL),
                     413);
}

BEHAVIOUR(a_head_that_can_be_read_in_two_ways_ends_the_connection) {
    assert_int_equal(asked("GET /", "Host: other.example\r\n", NULL), 400);
    assert_string_equal(header("Connection"), "close");
    assert_int_equal(asked("POST /skerry/echo", "Content-Length: 1\r\n", "x"), 400);
}

BEHAVIOUR(who_is_one_too_many_is_told_so_but_where_the_route_answers_a_crowd) {
    server_stop(server);
    start(1, "192.0.2.1");
    int first = ask_connect(server_port(server));
    /* The server has heard of it when something else has been answered behind it. */
    assert_int_equal(asked("GET /always", "", NULL), 200);
    assert_int_equal(asked("GET /", "", NULL), 503);
    assert_string_equal(header("Retry-After"), "2");
    assert_true(body_has("Too many are here at once"));
    assert_int_equal(asked("GET /skerry/", "", NULL), 503);
    assert_int_equal(asked("GET /skerry/", with_key(""), NULL), 200);
    assert_int_equal(asked("GET /always", "", NULL), 200);
    await_refusals(REFUSAL_CROWDED, 2);
    (void)close(first);
}

/* ---- errors ---- */

BEHAVIOUR(an_error_of_a_handler_drops_its_body) {
    assert_int_equal(asked("GET /skerry/fails/7", "", NULL), 404);
    assert_string_equal(header("Content-Type"), "application/problem+json");
    assert_true(body_has("\"detail\":\"There is no “7”.\",\"instance\":\"/skerry/fails/7\"}"));
    assert_false(body_has("dropped"));
}

BEHAVIOUR(a_browser_is_told_in_the_page_of_problems) {
    assert_int_equal(asked("GET /skerry/fails/7", "Accept: text/html\r\n", NULL), 404);
    assert_string_equal(header("Content-Type"), "text/html; charset=utf-8");
    assert_string_equal(reply.body, "<h1>404</h1>There is no “7”.");
    assert_int_equal(asked("GET /api/nothing", "Accept: text/html\r\n", NULL), 404);
    assert_string_equal(header("Content-Type"), "application/problem+json");
}

BEHAVIOUR(a_handler_may_tell_errors_in_a_page_of_its_own) {
    assert_int_equal(asked("POST /skerry/in-page", "", "x"), 400);
    assert_string_equal(header("Content-Type"), "text/html; charset=utf-8");
    assert_string_equal(reply.body, "<p>own 400 The form is wrong.");
}

/* ---- actions and writes ---- */

BEHAVIOUR(an_action_is_given_the_body_and_is_never_kept) {
    assert_int_equal(asked("POST /skerry/echo", "", "hello"), 200);
    assert_string_equal(reply.body, "5:hello");
    assert_string_equal(header("Cache-Control"), "private, no-store");
    assert_string_equal(header("ETag"), "");
    assert_int_equal(asked("POST /skerry/echo", "", ""), 200);
    assert_string_equal(reply.body, "0:");
    assert_int_equal(asked("POST /skerry/echo-at-once", "", "hello"), 200);
    assert_string_equal(reply.body, "5:hello");
}

static const char reading[] = "[{\"id\":\"a1\",\"point\":\"PC1\",\"car\":\"1\"}]";

BEHAVIOUR(a_write_is_answered_when_it_is_done) {
    const char *json = with_key("Content-Type: application/json\r\n");
    assert_int_equal(asked("POST /skerry/rows", json, reading), 200);
    assert_string_equal(reply.body, "{\"accepted\":1}");
    assert_int_equal(asked("POST /skerry/rows", json, reading), 200);
    assert_string_equal(reply.body, "{\"accepted\":0}");
}

BEHAVIOUR(a_write_that_cannot_be_prepared_never_comes_to_the_writer) {
    assert_int_equal(asked("POST /skerry/rows", with_key("Content-Type: text/csv\r\n"), "x"), 415);
    assert_int_equal(
        asked("POST /skerry/rows", with_key("Content-Type: application/json\r\n"), "{"), 400);
    assert_int_equal(asked("POST /skerry/rows", "Content-Type: application/json\r\n", reading),
                     401);
}

BEHAVIOUR(a_large_write_is_prepared_by_a_worker) {
    static char body[60000];
    size_t used = 0;
    const char *json = with_key("Content-Type: application/json\r\n");
    for (int i = 0; i < 1000; i++)
        used += (size_t)snprintf(body + used, sizeof body - used,
                                 "%s{\"id\":\"b%d\",\"point\":\"PC1\",\"car\":\"2\"}",
                                 i == 0 ? "[" : ",", i);
    (void)snprintf(body + used, sizeof body - used, "]");
    assert_int_equal(asked("POST /skerry/rows", json, body), 200);
    assert_string_equal(reply.body, "{\"accepted\":1000}");
    body[used - 1] = ' ';
    assert_int_equal(asked("POST /skerry/rows", json, body), 400);
}

BEHAVIOUR(a_write_of_a_form_leads_on) {
    assert_int_equal(
        asked("POST /skerry/form", with_key("Content-Type: application/json\r\n"), reading), 303);
    assert_string_equal(header("Location"), "/skerry/?rows=1");
    assert_true(body_has("<a href=\"/skerry/?rows=1\">303</a>"));
}

BEHAVIOUR(requests_are_counted_by_the_hundreds_of_their_status) {
    (void)asked("GET /", "", NULL);
    (void)asked("GET /nothing/here", "", NULL);
    (void)asked("GET /skerry", "", NULL);
    await_refusals(REFUSAL_NOT_FOUND, 1);
    for (int i = 0; i < 12000 && server_requests(server, 2) + server_requests(server, 3) < 2; i++)
        (void)usleep(10000);
    assert_int_equal(server_requests(server, 2), 1);
    assert_int_equal(server_requests(server, 3), 1);
    assert_int_equal(server_requests(server, 4), 1);
}

#define WITH_SERVER(test) cmocka_unit_test_setup_teardown(test, begin, end)

int main(void) {
    const struct CMUnitTest tests[] = {
        WITH_SERVER(a_handler_is_given_path_parts_query_and_event),
        WITH_SERVER(what_a_handler_put_into_the_request_ends_with_it),
        WITH_SERVER(head_is_answered_as_get_without_its_body),
        WITH_SERVER(an_address_without_a_route_is_not_found),
        WITH_SERVER(an_event_without_its_last_slash_leads_to_its_page),
        WITH_SERVER(a_wrong_method_is_told_the_right_ones),
        WITH_SERVER(a_role_wants_its_key),
        WITH_SERVER(figures_of_the_machine_are_for_this_machine_only),
        WITH_SERVER(a_parameter_that_is_too_long_is_refused),
        WITH_SERVER(a_body_that_is_too_large_packed_or_in_other_letters_is_refused),
        WITH_SERVER(a_head_that_can_be_read_in_two_ways_ends_the_connection),
        WITH_SERVER(who_is_one_too_many_is_told_so_but_where_the_route_answers_a_crowd),
        WITH_SERVER(an_error_of_a_handler_drops_its_body),
        WITH_SERVER(a_browser_is_told_in_the_page_of_problems),
        WITH_SERVER(a_handler_may_tell_errors_in_a_page_of_its_own),
        WITH_SERVER(an_action_is_given_the_body_and_is_never_kept),
        WITH_SERVER(a_write_is_answered_when_it_is_done),
        WITH_SERVER(a_write_that_cannot_be_prepared_never_comes_to_the_writer),
        WITH_SERVER(a_large_write_is_prepared_by_a_worker),
        WITH_SERVER(a_write_of_a_form_leads_on),
        WITH_SERVER(requests_are_counted_by_the_hundreds_of_their_status),
    };
    RUN_BEHAVIOURS(tests);
}
