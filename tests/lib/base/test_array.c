/* SPDX-License-Identifier: MIT */
#include "base/array.h"

#include <stdlib.h>

#include "testing.h"

BEHAVIOUR(an_array_grows_and_keeps_what_it_holds) {
    int *items = NULL;
    size_t cap = 0;
    for (int i = 0; i < 1000; i++) {
        int *moved = array_reserve(items, &cap, (size_t)i + 1, sizeof *moved);
        assert_non_null(moved);
        assert_true(cap >= (size_t)i + 1);
        items = moved;
        items[i] = i;
    }
    for (int i = 0; i < 1000; i++)
        assert_int_equal(items[i], i);
    int *same = array_reserve(items, &cap, 5, sizeof *same);
    assert_ptr_equal(same, items);
    free(items);
}

BEHAVIOUR(an_array_that_cannot_grow_stays_valid) {
    size_t cap = 0;
    char *items = array_reserve(NULL, &cap, 3, 1);
    assert_non_null(items);
    size_t before = cap;
    items[2] = 'x';
    assert_null(array_reserve(items, &cap, SIZE_MAX, 8));
    assert_null(array_reserve(items, &cap, SIZE_MAX / 2, 8));
    assert_int_equal(cap, before);
    assert_int_equal(items[2], 'x');
    free(items);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_array_grows_and_keeps_what_it_holds),
        cmocka_unit_test(an_array_that_cannot_grow_stays_valid),
    };
    RUN_BEHAVIOURS(tests);
}
