/* SPDX-License-Identifier: MIT */
#include "base/fresh_memory.h"

#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>

enum { TOUCHED_FROM = 1 << 16, LARGE_FROM = 1 << 18, PAGE = 4096, LARGE_PAGE = 1 << 21 };

void room_touch(void *bytes, size_t size) {
#ifdef MADV_POPULATE_WRITE
    size_t skipped = (PAGE - (uintptr_t)bytes % PAGE) % PAGE;
    if (size >= TOUCHED_FROM)
        (void)madvise((char *)bytes + skipped, size - skipped, MADV_POPULATE_WRITE);
#else
    (void)bytes;
    (void)size;
#endif
}

void *room_new(size_t size) {
    if (size < LARGE_FROM || size > SIZE_MAX / 2)
        return malloc(size);
    size_t whole = (size + LARGE_PAGE - 1) / LARGE_PAGE * LARGE_PAGE;
    void *bytes = aligned_alloc(LARGE_PAGE, whole);
    if (bytes == NULL)
        return NULL;
#ifdef MADV_HUGEPAGE
    (void)madvise(bytes, whole, MADV_HUGEPAGE);
#endif
    room_touch(bytes, size);
    return bytes;
}
