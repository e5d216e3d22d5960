/* SPDX-License-Identifier: MIT */
#include "base/strmap.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
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

enum { STAGES = 16, BLOCK = 4, COLLIDING = 1 << STAGES, LOW_BITS = 22, LOW = 1 << LOW_BITS };

static uint32_t fnv(uint32_t hash, const char *block) {
    for (int i = 0; i < BLOCK; i++)
        hash = (hash ^ (unsigned char)block[i]) * 16777619u;
    return hash & (LOW - 1);
}

/* For each stage two blocks after which an unkeyed hash (FNV-1a, its low bits) stands alike: all
 * 65,536 keys that choose one of the two in each stage meet in one place. */
static void find_pairs(char pair[STAGES][2][BLOCK]) {
    uint32_t *seen = calloc(LOW, sizeof *seen);
    assert_non_null(seen);
    uint32_t state = 2166136261u & (LOW - 1);
    for (uint32_t stage = 0, stamp = 1; stage < STAGES; stage++) {
        for (uint32_t n = 0, first = stamp;; n++) {
            char block[BLOCK];
            for (int i = 0; i < BLOCK; i++)
                block[i] = (char)('0' + (n >> 6 * i & 63));
            uint32_t hash = fnv(state, block);
            if (seen[hash] >= first) {
                assert_in_range(n, 0, (1 << 6 * BLOCK) - 1);
                memcpy(pair[stage][1], block, BLOCK);
                uint32_t other = seen[hash] - first;
                for (int i = 0; i < BLOCK; i++)
                    pair[stage][0][i] = (char)('0' + (other >> 6 * i & 63));
                assert_int_equal(fnv(state, pair[stage][0]), hash);
                state = hash;
                stamp = first + n + 1;
                break;
            }
            seen[hash] = first + n;
        }
    }
    free(seen);
}

/* Counted, not timed: an unkeyed map looks at half of them for each. */
BEHAVIOUR(keys_made_to_collide_are_found_in_a_few_looks) {
    enum { LENGTH = STAGES * BLOCK };
    char pair[STAGES][2][BLOCK];
    struct strmap map = {0};
    char *keys = calloc(COLLIDING, LENGTH + 1);
    assert_non_null(keys);
    find_pairs(pair);
    size_t looks = 0;
    for (int i = 0; i < COLLIDING; i++) {
        char *key = keys + (size_t)i * (LENGTH + 1);
        for (int stage = 0; stage < STAGES; stage++)
            memcpy(key + (size_t)stage * BLOCK, pair[stage][i >> stage & 1], BLOCK);
        /* Looked for before it is put: as many as putting it takes. */
        looks += strmap_probes(&map, key);
        assert_int_equal(strmap_put(&map, key, i), ERR_OK);
    }
    assert_int_equal(map.count, COLLIDING);
    assert_in_range(looks, COLLIDING / 2, 8 * COLLIDING);
    looks = 0;
    for (int i = 0; i < COLLIDING; i++) {
        looks += strmap_probes(&map, keys + (size_t)i * (LENGTH + 1));
        assert_int_equal(strmap_get(&map, keys + (size_t)i * (LENGTH + 1)), i);
    }
    assert_in_range(looks, COLLIDING, 4 * COLLIDING);
    strmap_clear(&map);
    free(keys);
}

BEHAVIOUR(the_seed_decides_the_places_and_nothing_else) {
    static const unsigned char zeros[STRMAP_SEED_LEN];
    static const unsigned char other[STRMAP_SEED_LEN] = {1};
    uint32_t hash[2];
    for (int i = 0; i < 2; i++) {
        struct strmap map = {0};
        strmap_seed(i == 0 ? other : zeros);
        assert_int_equal(strmap_put(&map, "R1/2", 5), ERR_OK);
        assert_int_equal(strmap_get(&map, "R1/2"), 5);
        assert_int_equal(strmap_get(&map, "R1/1"), -1);
        for (size_t slot = 0; slot < map.cap; slot++) {
            if (map.slots[slot].key != NULL)
                hash[i] = map.slots[slot].hash;
        }
        strmap_clear(&map);
    }
    assert_int_not_equal(hash[0], hash[1]);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_empty_map_holds_nothing),
        cmocka_unit_test(what_was_put_is_found_again),
        cmocka_unit_test(a_key_put_again_takes_the_new_value),
        cmocka_unit_test(keys_are_compared_by_their_text),
        cmocka_unit_test(many_keys_are_all_found_while_the_map_grows),
        cmocka_unit_test(room_for_many_keys_keeps_those_that_are_there_and_spares_growing),
        cmocka_unit_test(keys_made_to_collide_are_found_in_a_few_looks),
        cmocka_unit_test(the_seed_decides_the_places_and_nothing_else),
    };
    RUN_BEHAVIOURS(tests);
}
