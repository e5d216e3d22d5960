/* SPDX-License-Identifier: MIT */
/* hazard_pointers.h - lets a thread take hold of something that is counted while another thread may
 * be about to free it.
 *
 * The reader loads a pointer, names it in a hazard, looks whether the pointer is still in its
 * place, counts itself in, and gives the hazard back. The owner puts something else in that place,
 * waits until no hazard names the old thing, and only then lets go of its own count. No lock; any
 * number of threads. */
#ifndef CAIRN_HAZARD_POINTERS_H
#define CAIRN_HAZARD_POINTERS_H

/* Hazards that there are. Where all are in use, another thread waits a moment for one. */
enum { HAZARD_COUNT = 64 };

struct hazard;

/* Takes a hazard that no other thread has, and names `what` in it; not NULL. Give it back with
 * hazard_give within a few instructions, and do not wait in between. Any thread. */
struct hazard *hazard_take(void *what);

/* Names something else in a hazard that this thread has taken; not NULL. */
void hazard_name(struct hazard *hazard, void *what);

/* Gives a hazard back. */
void hazard_give(struct hazard *hazard);

/* Waits until no hazard names `what`. It must not be loaded by anybody from then on. Any thread but
 * one that has a hazard. */
void hazards_wait_for(const void *what);

#endif
