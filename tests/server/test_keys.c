/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sodium.h>
#include <string.h>

#include "guard.h"
#include "hard_limits.h"
#include "keys.h"

static void keys_differ_and_use_signs_that_are_not_misread(void **state) {
    char first[KEY_TEXT_LEN + 1];
    char second[KEY_TEXT_LEN + 1];
    (void)state;
    key_make(first);
    key_make(second);
    assert_string_not_equal(first, second);
    assert_int_equal(strlen(first), KEY_TEXT_LEN);
    assert_int_equal(strspn(first, "23456789abcdefghijkmnpqrstuvwxyz"), KEY_TEXT_LEN);
}

static void a_key_is_found_by_its_hash_unless_revoked(void **state) {
    struct stored_key keys[2] = {{.id = 1}, {.id = 2}};
    (void)state;
    key_hash("one", keys[0].hash);
    key_hash("two", keys[1].hash);
    assert_int_equal(key_find(keys, 2, "two"), 1);
    assert_int_equal(key_find(keys, 2, "three"), -1);
    assert_int_equal(key_find(keys, 2, ""), -1);
    keys[1].revoked = true;
    assert_int_equal(key_find(keys, 2, "two"), -1);
}

/* Wrong keys are slowed by address; each network has its own count. */
static void many_wrong_keys_from_one_address_are_slowed(void **state) {
    struct guard *guard = guard_new();
    struct sockaddr_storage here = {.ss_family = AF_UNSPEC};
    (void)state;
    assert_non_null(guard);
    for (int i = 0; i < LIMIT_KEY_FAILURES; i++)
        assert_true(guard_failed(guard, (const struct sockaddr *)&here, 0));
    assert_false(guard_failed(guard, (const struct sockaddr *)&here, 0));
    assert_int_equal(guard_failures(guard), LIMIT_KEY_FAILURES + 1);
    guard_free(guard);
}

static int set_up(void **state) {
    (void)state;
    return sodium_init() < 0 ? -1 : 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_differ_and_use_signs_that_are_not_misread),
        cmocka_unit_test(a_key_is_found_by_its_hash_unless_revoked),
        cmocka_unit_test(many_wrong_keys_from_one_address_are_slowed),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
