/* SPDX-License-Identifier: MIT */
/* fresh_memory.h - memory as the system gives it: in pages, each of which costs a trap when it is
 * first touched. For what is large and about to be filled. Only a matter of speed. */
#ifndef CAIRN_FRESH_MEMORY_H
#define CAIRN_FRESH_MEMORY_H

#include <stddef.h>

/* Has the pages of fresh memory put in place at once. Below 64 KB, or where the system cannot, it
 * does nothing. The bytes stay as they are.
 *   bytes, size  memory that may be written, on the heap or mapped */
void room_touch(void *bytes, size_t size);

/* Room for `size` bytes, not zeroed; from 256 KB on in large pages, where the system has them.
 * Returns: the room, which the caller frees with free(); NULL when memory is out. */
void *room_new(size_t size);

#endif
