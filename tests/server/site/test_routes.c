/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "site/routes.h"

static char args[ARG_COUNT][ARG_LEN];
static char allowed[64];

static const struct route *find(const char *method, const char *path) {
    return route_find(&site_app.routes, method, path, args, allowed, sizeof allowed);
}

static void wildcards_stand_for_one_part_of_a_path(void **state) {
    (void)state;
    const struct route *r = find("GET", "/api/v1/events/merrow-2027/cars/22");
    assert_non_null(r);
    assert_string_equal(r->pattern, "/api/v1/events/{}/cars/{}");
    assert_string_equal(args[0], "merrow-2027");
    assert_string_equal(args[1], "22");
    assert_null(find("GET", "/api/v1/events/merrow-2027/cars/22/33"));
    assert_string_equal(allowed, "");
    assert_null(find("GET", "/api/v1/events//cars/22"));
}

static void a_wrong_method_is_told_which_would_do(void **state) {
    (void)state;
    assert_null(find("DELETE", "/api/v1/events/x/effects"));
    assert_string_equal(allowed, "POST");
    assert_null(find("PATCH", "/api/v1/events/x/notices"));
    assert_string_equal(allowed, "GET, HEAD, POST");
    assert_null(find("POST", "/"));
    assert_string_equal(allowed, "GET, HEAD");
}

static void a_file_of_the_pages_is_no_event(void **state) {
    (void)state;
    const struct route *r = find("GET", "/_/0123abcd/style.css");
    assert_non_null(r);
    assert_false(route_names_event(r));
    assert_string_equal(args[0], "0123abcd");
    assert_string_equal(args[1], "style.css");
}

static void a_part_that_is_too_long_is_not_found(void **state) {
    char path[256] = "/";
    (void)state;
    memset(path + 1, 'a', 200);
    strcpy(path + 201, "/");
    assert_null(find("GET", path));
}

/* Whoever adds a writing route must say who may use it and how much it takes. */
static void every_writing_route_has_a_role_and_a_limit(void **state) {
    (void)state;
    for (size_t i = 0; i < site_app.routes.count; i++) {
        const struct route *r = &site_app.routes.routes[i];
        bool reads = strcmp(r->method, "GET") == 0;
        /* What a crew sends under its car asks for the car's code in place of a key. */
        bool by_code = strstr(r->pattern, "/{}/cars/{}/") != NULL;
        assert_true(reads || r->role != ROLE_PUBLIC || by_code);
        assert_int_equal(reads, r->body_limit == 0);
        enum handler_sort sort = r->handler.sort;
        assert_int_equal(reads, sort == HANDLER_READ || sort == HANDLER_STREAM);
        if (sort == HANDLER_WRITE)
            assert_true(r->handler.write->prepare != NULL && r->handler.write->answer != NULL);
        else if (sort != HANDLER_STREAM)
            assert_non_null(r->handler.read);
    }
    assert_true(site_app.routes.count > 15);
}

/* An answer made by the thread that took the request must cost next to nothing, and one that is
 * kept for all events must be the same for all. */
static void what_is_made_at_once_and_what_is_constant_is_known_by_name(void **state) {
    static const char *const at_once[] = {"/healthz", "/metrics", "/api/v1/events/{}/clock",
                                          "/api/v1/events/{}/desks/{}"};
    size_t found = 0;
    (void)state;
    for (size_t i = 0; i < site_app.routes.count; i++) {
        const struct route *r = &site_app.routes.routes[i];
        bool is_named = false;
        for (size_t k = 0; k < sizeof at_once / sizeof at_once[0]; k++)
            is_named = is_named || strcmp(r->pattern, at_once[k]) == 0;
        assert_int_equal(route_is(r, ROUTE_AT_ONCE), is_named);
        found += route_is(r, ROUTE_AT_ONCE);
        if (route_is(r, ROUTE_CONSTANT))
            assert_false(route_names_event(r));
        /* In a crowd only answers that cost next to nothing are given; a stream itself says when
         * there are too many. */
        if (route_is(r, ROUTE_CROWDED))
            assert_true(route_is(r, ROUTE_AT_ONCE) || r->handler.sort == HANDLER_STREAM);
        assert_int_equal(route_is(r, ROUTE_PAPER), strstr(r->pattern, "/paper/") != NULL);
    }
    assert_int_equal(found, sizeof at_once / sizeof at_once[0]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(wildcards_stand_for_one_part_of_a_path),
        cmocka_unit_test(a_wrong_method_is_told_which_would_do),
        cmocka_unit_test(a_file_of_the_pages_is_no_event),
        cmocka_unit_test(a_part_that_is_too_long_is_not_found),
        cmocka_unit_test(what_is_made_at_once_and_what_is_constant_is_known_by_name),
        cmocka_unit_test(every_writing_route_has_a_role_and_a_limit),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
