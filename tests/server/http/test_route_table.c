/* SPDX-License-Identifier: MIT */
#include "http/route_table.h"

#include <string.h>

#include "testing.h"

static const char *const names[] = {"by", "lang", NULL};

static const struct route routes[] = {
    {"GET", "/", ROLE_PUBLIC, 0, NULL, {.sort = HANDLER_READ}, 0},
    {"GET", "/{}/", ROLE_PUBLIC, 0, names, {.sort = HANDLER_READ}, 0},
    {"POST", "/{}/cars/{}", ROLE_ORGANISER, 100, NULL, {.sort = HANDLER_ACTION}, 0},
    {"PUT", "/{}/cars/{}", ROLE_ORGANISER, 100, NULL, {.sort = HANDLER_ACTION}, 0},
    {"GET", "/{}/cars/{}", ROLE_PUBLIC, 0, NULL, {.sort = HANDLER_READ}, 0},
    {"GET", "/{}/cars/{}.csv", ROLE_PUBLIC, 0, NULL, {.sort = HANDLER_READ}, 0},
    {"GET", "/_/{}/{}", ROLE_PUBLIC, 0, NULL, {.sort = HANDLER_READ}, ROUTE_EVENTLESS},
};
static const struct route_table table = {routes, COUNT_OF(routes)};

static char args[ARG_COUNT][ARG_LEN];
static char allowed[64];

static const struct route *find(const char *method, const char *path) {
    return route_find(&table, method, path, args, allowed, sizeof allowed);
}

BEHAVIOUR(a_wildcard_stands_for_one_part_of_a_path_that_is_not_empty) {
    const struct route *route = find("GET", "/skerry/cars/22");
    assert_ptr_equal(route, &routes[4]);
    assert_string_equal(args[0], "skerry");
    assert_string_equal(args[1], "22");
    assert_null(find("GET", "/skerry/cars/"));
    assert_null(find("GET", "//cars/22"));
    assert_null(find("GET", "/skerry/cars/22/more"));
    assert_string_equal(allowed, "");
}

BEHAVIOUR(a_wildcard_before_a_suffix_ends_at_the_point) {
    assert_ptr_equal(find("GET", "/skerry/cars/22.csv"), &routes[4]);
    assert_string_equal(args[1], "22.csv"); /* the route above takes it whole */
    const struct route_table last = {&routes[5], 1};
    assert_ptr_equal(route_find(&last, "GET", "/skerry/cars/22.csv", args, allowed, sizeof allowed),
                     &routes[5]);
    assert_string_equal(args[1], "22");
    assert_null(route_find(&last, "GET", "/skerry/cars/22.pdf", args, allowed, sizeof allowed));
}

BEHAVIOUR(a_part_that_has_no_room_is_not_found) {
    char path[ARG_LEN + 3] = "/";
    memset(path + 1, 'a', ARG_LEN - 1);
    strcpy(path + ARG_LEN, "/");
    assert_non_null(find("GET", path));
    assert_int_equal(strlen(args[0]), ARG_LEN - 1);
    memset(path + 1, 'a', ARG_LEN);
    strcpy(path + ARG_LEN + 1, "/");
    assert_null(find("GET", path));
}

BEHAVIOUR(a_wrong_method_is_answered_with_those_that_would_do) {
    assert_null(find("DELETE", "/skerry/cars/22"));
    assert_string_equal(allowed, "POST, PUT, GET, HEAD");
    assert_null(find("POST", "/"));
    assert_string_equal(allowed, "GET, HEAD");
}

BEHAVIOUR(methods_that_have_no_room_are_left_out) {
    char little[10];
    assert_null(route_find(&table, "DELETE", "/skerry/cars/22", args, little, sizeof little));
    assert_string_equal(little, "POST, PUT");
}

BEHAVIOUR(a_first_wildcard_names_an_event_unless_the_route_says_otherwise) {
    assert_false(route_names_event(&routes[0]));
    assert_true(route_names_event(&routes[1]));
    assert_false(route_names_event(&routes[6]));
}

BEHAVIOUR(a_parameter_has_its_place_among_those_of_the_route) {
    assert_int_equal(route_parameter(&routes[1], "by"), 0);
    assert_int_equal(route_parameter(&routes[1], "lang"), 1);
    assert_int_equal(route_parameter(&routes[1], "b"), -1);
    assert_int_equal(route_parameter(&routes[0], "by"), -1);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_wildcard_stands_for_one_part_of_a_path_that_is_not_empty),
        cmocka_unit_test(a_wildcard_before_a_suffix_ends_at_the_point),
        cmocka_unit_test(a_part_that_has_no_room_is_not_found),
        cmocka_unit_test(a_wrong_method_is_answered_with_those_that_would_do),
        cmocka_unit_test(methods_that_have_no_room_are_left_out),
        cmocka_unit_test(a_first_wildcard_names_an_event_unless_the_route_says_otherwise),
        cmocka_unit_test(a_parameter_has_its_place_among_those_of_the_route),
    };
    RUN_BEHAVIOURS(tests);
}
