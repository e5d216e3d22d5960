/* SPDX-License-Identifier: MIT */
/* failing_memory.h - an allocator that refuses when it is told to, for programs named *_nomem: the
 * linker sends it what our own code asks for by malloc, calloc, realloc, strdup and strndup. What
 * shared libraries ask for goes past it. One thread. */
#ifndef CAIRN_TESTS_FAILING_MEMORY_H
#define CAIRN_TESTS_FAILING_MEMORY_H

#include <stdbool.h>

/* The next requests are met, `met` of them, and then all are refused. */
void memory_ends_after(long met);

/* The next requests are met, `met` of them; the `count` behind them are refused, and later ones met
 * again. */
void memory_refuses(long met, long count);

/* Every request is met again, as at first. */
void memory_is_back(void);

/* Whether a request was refused since it was last told to refuse. */
bool memory_was_refused(void);

/* How many requests there were so far. */
long memory_requests(void);

#endif
