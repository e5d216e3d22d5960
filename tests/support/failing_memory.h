/* SPDX-License-Identifier: MIT */
/* failing_memory.h - an allocator that refuses when it is told to, for programs named *_nomem: the
 * linker sends it what our own code asks for by malloc, calloc, realloc, strdup and strndup, and
 * what it asks of an arena, so that what happens to fit into an arena's block can be refused as
 * well. What shared libraries ask for goes past it. One thread. */
#ifndef CAIRN_TESTS_FAILING_MEMORY_H
#define CAIRN_TESTS_FAILING_MEMORY_H

#include <stdbool.h>

/* The next requests are met, `met` of them, and then all are refused. */
void memory_ends_after(long met);

/* The next requests are met, `met` of them; the `count` behind them are refused, and later ones met
 * again. */
void memory_refuses(long met, long count);

/* The next request is refused that comes from a place from which none was refused by this function
 * before, and all others are met. A place is a line of calls: who asks, who called it, and so on,
 * some functions up. The JSON library is never refused while it parses: it ends the program over a
 * text that it could not keep. */
void memory_refuses_a_new_place(void);

/* Every request is met again, as at first. */
void memory_is_back(void);

/* Whether a request was refused since it was last told to refuse. */
bool memory_was_refused(void);

/* How many requests there were so far. */
long memory_requests(void);

#endif
