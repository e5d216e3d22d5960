/* SPDX-License-Identifier: MIT */
#include "system/heap.h"

#include <malloc.h>
#include <stdint.h>
#include <stdlib.h>
#include <sys/mman.h>
#include <unistd.h>

void heap_use_large_pages(size_t size) {
    enum { PAGE = 4096, MORE_THAN_IS_LEFT = 1 << 18 };
    /* The heap grows in one step, gives nothing back, and large blocks come from it too: so it is
     * one range of addresses, which madvise can name. */
    (void)mallopt(M_MMAP_THRESHOLD, (int)size);
    (void)mallopt(M_TRIM_THRESHOLD, (int)size);
    (void)mallopt(M_TOP_PAD, (int)size);
    char *from = sbrk(0);
    void *volatile grown = malloc(MORE_THAN_IS_LEFT); /* volatile, or the compiler leaves it out */
    free(grown);
    char *to = sbrk(0);
    from += (PAGE - (uintptr_t)from % PAGE) % PAGE;
    if (to > from)
        (void)madvise(from, (size_t)(to - from), MADV_HUGEPAGE);
}

/* A snapshot's blocks, some 100 KB each, are freed and allocated with every upload: returned to the
 * system each time, their pages would cost as much as the scoring. Larger blocks are rare (a table
 * of every test as one page) and are returned at once. */
void heap_keep_blocks(void) {
    (void)mallopt(M_MMAP_THRESHOLD, 256 << 10);
    (void)mallopt(M_TRIM_THRESHOLD, 1 << 20);
}
