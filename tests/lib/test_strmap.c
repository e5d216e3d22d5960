/* SPDX-License-Identifier: MIT */
#include "strmap.h"

#include <stdio.h>

#include "err.h"
#include "testing.h"

BEHAVIOUR(an_empty_map_holds_nothing) {
    struct strmap map = {0};
    assert_int_equal(strmap_get(&map, "a"), -1);
    assert_int_equal(strmap_get(&map, ""), -1);
    strmap_clear(&map);
}

BEHAVIOUR(what_was_put_is_found_again) {
    struct strmap map = {0};
    assert_int_equal(strmap_put(&map, "R1", 3), ERR_OK);
    assert_int_equal(strmap_put(&map, "R1/2", 0), ERR_OK);
    assert_int_equal(strmap_put(&map, "", 7), ERR_OK);
    assert_int_equal(strmap_get(&map, "R1"), 3);
    assert_int_equal(strmap_get(&map, "R1/2"), 0);
    assert_int_equal(strmap_get(&map, ""), 7);
    assert_int_equal(strmap_get(&map, "r1"), -1);
    assert_int_equal(strmap_get(&map, "R1/"), -1);
    assert_int_equal(map.count, 3);
    strmap_clear(&map);
}

BEHAVIOUR(a_key_put_again_takes_the_new_value) {
    struct strmap map = {0};
    assert_int_equal(strmap_put(&map, "TC1", 1), ERR_OK);
    assert_int_equal(strmap_put(&map, "TC1", 2), ERR_OK);
    assert_int_equal(strmap_get(&map, "TC1"), 2);
    assert_int_equal(map.count, 1);
    strmap_clear(&map);
}

BEHAVIOUR(keys_are_compared_by_their_text) {
    struct strmap map = {0};
    char first[] = "same";
    char second[] = "same";
    assert_int_equal(strmap_put(&map, first, 4), ERR_OK);
    assert_int_equal(strmap_get(&map, second), 4);
    strmap_clear(&map);
}

BEHAVIOUR(many_keys_are_all_found_while_the_map_grows) {
    enum { MANY = 5000 };
    static char keys[MANY][32];
    struct strmap map = {0};
    for (int i = 0; i < MANY; i++) {
        (void)snprintf(keys[i], sizeof keys[i], "R%d/%d", i / 10, i % 10);
        assert_int_equal(strmap_put(&map, keys[i], i), ERR_OK);
    }
    assert_int_equal(map.count, MANY);
    assert_true(map.count * 4 <= map.cap * 3);
    for (int i = 0; i < MANY; i++)
        assert_int_equal(strmap_get(&map, keys[i]), i);
    assert_int_equal(strmap_get(&map, "R500/0"), -1);
    strmap_clear(&map);
    assert_int_equal(strmap_get(&map, keys[0]), -1);
}

BEHAVIOUR(room_for_many_keys_keeps_those_that_are_there_and_spares_growing) {
    struct strmap map = {0};
    assert_int_equal(strmap_put(&map, "TC1", 1), ERR_OK);
    assert_int_equal(strmap_reserve(&map, 1000), ERR_OK);
    assert_int_equal(strmap_get(&map, "TC1"), 1);
    assert_int_equal(map.count, 1);
    size_t cap = map.cap;
    static char keys[999][8];
    for (int i = 0; i < 999; i++) {
        (void)snprintf(keys[i], sizeof keys[i], "k%d", i);
        assert_int_equal(strmap_put(&map, keys[i], i), ERR_OK);
    }
    assert_int_equal(map.cap, cap);
    assert_int_equal(strmap_reserve(&map, 10), ERR_OK);
    assert_int_equal(map.cap, cap);
    assert_int_equal(strmap_get(&map, "k998"), 998);
    assert_int_equal(strmap_reserve(&map, SIZE_MAX), ERR_NOMEM);
    assert_int_equal(map.cap, cap);
    strmap_clear(&map);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_empty_map_holds_nothing),
        cmocka_unit_test(what_was_put_is_found_again),
        cmocka_unit_test(a_key_put_again_takes_the_new_value),
        cmocka_unit_test(keys_are_compared_by_their_text),
        cmocka_unit_test(many_keys_are_all_found_while_the_map_grows),
        cmocka_unit_test(room_for_many_keys_keeps_those_that_are_there_and_spares_growing),
    };
    RUN_BEHAVIOURS(tests);
}
