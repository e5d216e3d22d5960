/* SPDX-License-Identifier: MIT */
/* hazard_pointers.h - what is just being taken hold of, named where its owner can see it. Whoever
 * loads a pointer to something that is counted names it in a mark until it has counted itself in;
 * the owner does not let the thing go while a mark names it. Any thread, and any number of threads.
 */
#ifndef CAIRN_HAZARD_POINTERS_H
#define CAIRN_HAZARD_POINTERS_H

#include <stdbool.h>

/* So many may be in the midst of taking hold of something before one waits for another. */
enum { HAZARD_COUNT = 64 };

struct mark;

/* Takes a mark that nobody else has, and names something in it; never shared. Waits a moment where
 * all are taken. The mark is given back by hazard_give, within a few instructions. */
struct mark *hazard_take(void *what);

/* Names something else in a mark. */
void hazard_name(struct mark *mark, void *what);

/* Gives a mark back. */
void hazard_give(struct mark *mark);

/* Waits until no mark names a thing, which can be loaded no more. */
void hazards_wait_for(const void *what);

#endif
