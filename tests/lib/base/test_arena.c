/* SPDX-License-Identifier: MIT */
#include "base/arena.h"

#include <stdalign.h>
#include <stdbool.h>
#include <string.h>

#include "testing.h"

static bool all_nought(const unsigned char *bytes, size_t size) {
    for (size_t i = 0; i < size; i++) {
        if (bytes[i] != 0)
            return false;
    }
    return true;
}

BEHAVIOUR(blocks_are_zeroed_aligned_and_apart) {
    static const size_t sizes[] = {1, 3, 8, 17, 100, 4095, 4096, 4097, 70000, 300000, 1};
    unsigned char *blocks[COUNT_OF(sizes)];
    struct arena *arena = arena_new();
    assert_non_null(arena);
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        blocks[i] = arena_alloc(arena, sizes[i]);
        assert_non_null(blocks[i]);
        assert_int_equal((uintptr_t)blocks[i] % alignof(max_align_t), 0);
        assert_true(all_nought(blocks[i], sizes[i]));
        memset(blocks[i], (int)i + 1, sizes[i]);
    }
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        for (size_t j = 0; j < sizes[i]; j++)
            assert_int_equal(blocks[i][j], i + 1);
    }
    arena_free(arena);
}

BEHAVIOUR(what_is_reserved_is_zeroed_and_may_be_more_or_less_than_is_used) {
    static const size_t sizes[] = {0, 100, 3 << 20, SIZE_MAX / 2, SIZE_MAX};
    enum { PIECE = 100000, PIECES = 40 };
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        struct arena *arena = arena_new();
        char *before = arena_text(arena, "Calder", 6);
        arena_reserve(arena, sizes[i]);
        for (int n = 0; n < PIECES; n++) {
            unsigned char *piece = arena_alloc(arena, PIECE);
            assert_non_null(piece);
            assert_int_equal((uintptr_t)piece % alignof(max_align_t), 0);
            assert_true(all_nought(piece, PIECE));
            memset(piece, 0xA5, PIECE);
        }
        assert_string_equal(before, "Calder");
        arena_free(arena);
    }
}

BEHAVIOUR(a_block_of_no_bytes_is_still_its_own) {
    struct arena *arena = arena_new();
    void *a = arena_alloc(arena, 0);
    void *b = arena_alloc(arena, 0);
    assert_non_null(a);
    assert_non_null(b);
    assert_ptr_not_equal(a, b);
    arena_free(arena);
}

BEHAVIOUR(texts_are_copies_with_an_end) {
    struct arena *arena = arena_new();
    char source[] = "Garrodine";
    char *copy = arena_text(arena, source, 4);
    char *empty = arena_text(arena, NULL, 0);
    char *next = arena_text(arena, "x", 1);
    source[0] = '?';
    assert_string_equal(copy, "Garr");
    assert_string_equal(empty, "");
    assert_string_equal(next, "x");
    /* a text of odd length does not put the next block out of line */
    assert_int_equal((uintptr_t)arena_alloc(arena, 8) % alignof(max_align_t), 0);
    arena_free(arena);
}

BEHAVIOUR(what_no_machine_has_is_refused) {
    struct arena *arena = arena_new();
    assert_null(arena_array(arena, SIZE_MAX, 2));
    assert_null(arena_array(arena, SIZE_MAX / 2 + 2, 2));
    assert_null(arena_alloc(arena, SIZE_MAX));
    assert_null(arena_text(arena, "x", SIZE_MAX));
    assert_non_null(arena_array(arena, 10, 0));
    assert_non_null(arena_array(arena, 0, 10));
    assert_non_null(arena_alloc(arena, 16));
    arena_free(arena);
}

BEHAVIOUR(freeing_nothing_is_nothing) {
    arena_free(NULL);
    struct arena *arena = arena_new();
    assert_non_null(arena);
    arena_free(arena);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(blocks_are_zeroed_aligned_and_apart),
        cmocka_unit_test(what_is_reserved_is_zeroed_and_may_be_more_or_less_than_is_used),
        cmocka_unit_test(a_block_of_no_bytes_is_still_its_own),
        cmocka_unit_test(texts_are_copies_with_an_end),
        cmocka_unit_test(what_no_machine_has_is_refused),
        cmocka_unit_test(freeing_nothing_is_nothing),
    };
    RUN_BEHAVIOURS(tests);
}
