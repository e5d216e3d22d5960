/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "http/http.h"

static char args[ARG_COUNT][ARG_LEN];
static char allowed[64];

static const struct route *find(const char *method, const char *path) {
    return route_find(method, path, args, allowed, sizeof allowed);
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
    assert_true(r->eventless);
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
    for (size_t i = 0; i < route_count; i++) {
        const struct route *r = &routes[i];
        bool reads = strcmp(r->method, "GET") == 0;
        /* What a crew sends under its car asks for the car's code in place of a key. */
        bool by_code = strstr(r->pattern, "/{}/cars/{}/") != NULL;
        assert_true(reads || r->role != ROLE_PUBLIC || by_code);
        assert_int_equal(reads, r->body_limit == 0);
        assert_int_equal(reads, r->write == NULL && r->act == NULL);
        assert_int_equal(r->write == NULL, r->tell == NULL);
        assert_int_equal(reads, r->render != NULL || r->special != NULL);
    }
    assert_true(route_count > 15);
}

/* What is made by the thread that took the request must cost next to nothing, and what is kept for
 * all events must be the same for all. */
static void what_is_made_at_once_and_what_is_constant_is_known_by_name(void **state) {
    static const char *const at_once[] = {"/healthz", "/metrics", "/api/v1/events/{}/clock",
                                          "/api/v1/events/{}/desks/{}"};
    size_t found = 0;
    (void)state;
    for (size_t i = 0; i < route_count; i++) {
        const struct route *r = &routes[i];
        for (size_t k = 0; r->at_once && k < sizeof at_once / sizeof at_once[0]; k++)
            found += strcmp(r->pattern, at_once[k]) == 0;
        if (r->at_once)
            assert_true(found > 0);
        if (r->constant)
            assert_true(r->eventless || strstr(r->pattern, "{}") == NULL);
        if (r->always)
            assert_true(r->at_once);
        assert_int_equal(r->paper, strstr(r->pattern, "/paper/") != NULL);
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
