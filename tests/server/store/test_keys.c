/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <sodium.h>
#include <string.h>

#include "http/guess_limits.h"
#include "store/keys.h"
#include "store/stored_keys.h"
#include "system/hard_limits.h"

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

static int find(const struct stored_key keys[2], const char *text) {
    unsigned char hash[32];
    key_hash(text, hash);
    return key_find(keys, 2, hash);
}

static bool is_revoked(const struct stored_key keys[2], const char *text) {
    unsigned char hash[32];
    key_hash(text, hash);
    return key_is_revoked(keys, 2, hash);
}

static void a_key_is_found_by_its_hash_unless_revoked(void **state) {
    struct stored_key keys[2] = {{.id = 1}, {.id = 2}};
    (void)state;
    key_hash("one", keys[0].hash);
    key_hash("two", keys[1].hash);
    assert_int_equal(find(keys, "two"), 1);
    assert_int_equal(find(keys, "three"), -1);
    assert_int_equal(find(keys, ""), -1);
    keys[1].revoked = true;
    assert_int_equal(find(keys, "two"), -1);
}

static void a_revoked_key_is_known_as_such(void **state) {
    struct stored_key keys[2] = {{.id = 1}, {.id = 2, .revoked = true}};
    (void)state;
    key_hash("one", keys[0].hash);
    key_hash("two", keys[1].hash);
    assert_false(is_revoked(keys, "one"));
    assert_true(is_revoked(keys, "two"));
    assert_false(is_revoked(keys, "three"));
}

/* Somebody at 10.0.HOST.1 who tries the code of a car of an event. */
static struct guessed tries(int host, uint64_t event, int64_t car) {
    return (struct guessed){
        {.bytes = {10, (unsigned char)(host >> 8), (unsigned char)host, 1}, .len = 4}, event, car};
}

static bool fails(struct guess_limits *limits, struct guessed what) {
    return guess_limits_failed(limits, &what);
}

static bool allows(struct guess_limits *limits, struct guessed what) {
    return guess_limits_allows(limits, &what);
}

static void many_wrong_ones_are_slowed_for_that_address_event_and_car_alone(void **state) {
    struct guess_limits *limits = guess_limits_new();
    (void)state;
    assert_non_null(limits);
    for (int i = 0; i < LIMIT_KEY_FAILURES; i++) {
        assert_true(allows(limits, tries(1, 7, 22)));
        assert_true(fails(limits, tries(1, 7, 22)));
    }
    assert_false(allows(limits, tries(1, 7, 22)));
    assert_false(fails(limits, tries(1, 7, 22)));
    assert_int_equal(guess_limits_failures(limits), LIMIT_KEY_FAILURES + 1);
    assert_true(allows(limits, tries(2, 7, 22)));
    assert_true(allows(limits, tries(1, 8, 22)));
    assert_true(allows(limits, tries(1, 7, 23)));
    guess_limits_free(limits);
}

/* Sixteen addresses try all of 400 cars too often: no innocent crew elsewhere is held up, and what
 * was counted for the guessers stands as long as there is room. */
static void no_address_locks_out_another(void **state) {
    struct guess_limits *limits = guess_limits_new();
    int held = 0;
    (void)state;
    assert_non_null(limits);
    for (int host = 0; host < 16; host++) {
        for (int car = 1; car <= 400; car++) {
            for (int i = 0; i <= LIMIT_KEY_FAILURES; i++)
                (void)fails(limits, tries(host, 7, car));
        }
    }
    for (int car = 1; car <= 400; car++) {
        assert_true(allows(limits, tries(1000 + car, 7, car)));
        for (int host = 0; host < 16; host++)
            held += !allows(limits, tries(host, 7, car));
    }
    assert_in_range(held, 6000, 16 * 400);
    /* However many guess: an address that has not may try. */
    for (int host = 0; host < 60000; host++)
        (void)fails(limits, tries(host, 7, 22));
    for (int car = 1; car <= 400; car++)
        assert_true(allows(limits, tries(60000 + car, 7, car)));
    guess_limits_free(limits);
}

static void who_has_shown_the_right_code_is_not_held_up_by_a_guesser_beside_it(void **state) {
    struct guess_limits *limits = guess_limits_new();
    struct guessed crew = tries(1, 7, 22);
    (void)state;
    assert_non_null(limits);
    guess_limits_succeeded(limits, &crew);
    for (int i = 0; i < LIMIT_KNOWN_FAILURES; i++)
        assert_true(fails(limits, crew));
    assert_false(allows(limits, crew)); /* or there would be no limit at all */
    /* The address is out of tries for another car, whose code it has not shown before. */
    for (int i = 0; i < LIMIT_KEY_FAILURES; i++)
        (void)fails(limits, tries(1, 7, 23));
    assert_false(allows(limits, tries(1, 7, 23)));
    guess_limits_free(limits);
}

static int set_up(void **state) {
    (void)state;
    return sodium_init() < 0 ? -1 : 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(keys_differ_and_use_signs_that_are_not_misread),
        cmocka_unit_test(a_key_is_found_by_its_hash_unless_revoked),
        cmocka_unit_test(a_revoked_key_is_known_as_such),
        cmocka_unit_test(many_wrong_ones_are_slowed_for_that_address_event_and_car_alone),
        cmocka_unit_test(no_address_locks_out_another),
        cmocka_unit_test(who_has_shown_the_right_code_is_not_held_up_by_a_guesser_beside_it),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
