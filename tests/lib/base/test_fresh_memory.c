/* SPDX-License-Identifier: MIT */
#include "base/fresh_memory.h"

#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "testing.h"

BEHAVIOUR(touching_pages_leaves_their_bytes) {
    static const size_t sizes[] = {0, 1, 4096, 1 << 16, (1 << 20) + 5};
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        char *bytes = malloc(sizes[i] + 1);
        assert_non_null(bytes);
        memset(bytes, 'x', sizes[i] + 1);
        room_touch(bytes, sizes[i]);
        for (size_t j = 0; j <= sizes[i]; j++)
            assert_int_equal(bytes[j], 'x');
        free(bytes);
    }
}

/* Below and above the size from which large pages are asked for. */
BEHAVIOUR(new_room_holds_what_it_was_asked_for) {
    static const size_t sizes[] = {1, 4096, (1 << 18) - 1, 1 << 18, (1 << 21) - 1, (5 << 20) + 3};
    for (size_t i = 0; i < COUNT_OF(sizes); i++) {
        char *bytes = room_new(sizes[i]);
        assert_non_null(bytes);
        memset(bytes, 'x', sizes[i]);
        assert_int_equal(bytes[0], 'x');
        char *moved = realloc(bytes, sizes[i] + 1);
        assert_non_null(moved);
        for (size_t j = 0; j < sizes[i]; j++)
            assert_int_equal(moved[j], 'x');
        free(moved);
    }
}

BEHAVIOUR(room_that_no_machine_has_is_refused) {
    assert_null(room_new(SIZE_MAX));
    assert_null(room_new(SIZE_MAX / 2));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(touching_pages_leaves_their_bytes),
        cmocka_unit_test(new_room_holds_what_it_was_asked_for),
        cmocka_unit_test(room_that_no_machine_has_is_refused),
    };
    RUN_BEHAVIOURS(tests);
}
