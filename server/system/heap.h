/* SPDX-License-Identifier: MIT */
/* heap.h - how the heap is had from the system. Only a matter of speed: memory is asked for with
 * malloc everywhere, and where the system cannot do this nothing changes. */
#ifndef CAIRN_HEAP_H
#define CAIRN_HEAP_H

#include <stddef.h>

enum { HEAP_PAGES_MAX = 32 << 20 };

/* Has the next part of the heap in large pages, where the system has them, instead of in small ones
 * that are put in place one by one as they are first written. For a command that reads a whole
 * event, answers and ends; a server counts its memory and does without. Once, before a second
 * thread begins.
 *   size  bytes, at most HEAP_PAGES_MAX */
void heap_use_large_pages(size_t size);

#endif
