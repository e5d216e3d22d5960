/* SPDX-License-Identifier: MIT */
/* heap.h - how malloc gets its memory from the system. Only a matter of speed: where the system
 * cannot do this, nothing else changes. */
#ifndef CAIRN_HEAP_H
#define CAIRN_HEAP_H

#include <stddef.h>

enum { HEAP_PAGES_MAX = 32 << 20 };

/* Grows the heap by `size` bytes at once, in large pages where the system has them, instead of in
 * small pages that the kernel maps one by one as they are first written. For a command that reads a
 * whole event, answers and ends; not for a server, whose memory should stay small. Call it once,
 * while there is one thread.
 *   size  bytes, at most HEAP_PAGES_MAX */
void heap_use_large_pages(size_t size);

/* Keeps freed blocks of up to 256 KB, and up to 1 MB of them, for the next ones instead of
 * returning them to the system. For a server. Once, before a second thread begins. */
void heap_keep_blocks(void);

#endif
