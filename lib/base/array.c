/* SPDX-License-Identifier: MIT */
#include "base/array.h"

#include <stdint.h>
#include <stdlib.h>

void *array_reserve(void *items, size_t *cap, size_t need, size_t size) {
    if (need <= *cap && items != NULL)
        return items;
    size_t capacity = *cap < 8 ? 8 : *cap;
    while (capacity < need) {
        if (capacity > SIZE_MAX / 2)
            return NULL;
        capacity *= 2;
    }
    if (capacity > SIZE_MAX / size)
        return NULL;
    void *moved = realloc(items, capacity * size);
    if (moved != NULL)
        *cap = capacity;
    return moved;
}
