/* SPDX-License-Identifier: MIT */
/* array.h - arrays on the heap that grow.
 * The caller keeps the array, its capacity and how much of it is used; nothing is owned here. */
#ifndef CAIRN_ARRAY_H
#define CAIRN_ARRAY_H

#include <stddef.h>

/* Makes an array large enough; its capacity at least doubles where it grows.
 *   items  the array, may be NULL at first; the caller frees it with free()
 *   cap    its capacity in items, updated
 *   need   how many items must fit
 *   size   bytes of one item
 * Returns: the array, perhaps moved; NULL when memory is out, and then `items` is still valid. */
void *array_reserve(void *items, size_t *cap, size_t need, size_t size);

#endif
