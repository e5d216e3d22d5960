/* SPDX-License-Identifier: MIT */
#include "system/heap.h"

#include <stdlib.h>
#include <string.h>

#include "testing.h"

/* More than was asked for in large pages, in small and large blocks, some of them given back. */
BEHAVIOUR(memory_is_had_as_before) {
    enum { COUNT = 200, SIZE = 100000 };
    char *blocks[COUNT];
    heap_use_large_pages(8 << 20);
    for (int round = 0; round < 2; round++) {
        for (int i = 0; i < COUNT; i++) {
            blocks[i] = malloc((size_t)SIZE * (i % 10 == 0 ? 10 : 1));
            assert_non_null(blocks[i]);
            memset(blocks[i], i, SIZE);
        }
        for (int i = 0; i < COUNT; i++) {
            assert_int_equal(blocks[i][0], (char)i);
            assert_int_equal(blocks[i][SIZE - 1], (char)i);
            free(blocks[i]);
        }
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(memory_is_had_as_before),
    };
    RUN_BEHAVIOURS(tests);
}
