/* SPDX-License-Identifier: MIT */
#include "system/hazard_pointers.h"

#include <sched.h>
#include <stdatomic.h>
#include <stddef.h>

struct hazard {
    _Atomic(void *) what; /* NULL while no thread has it */
};

/* Global, since a hazard must be visible to every owner of every slot. A thread begins its search
 * where it found a hazard the last time, so that two threads seldom try for the same one. */
static struct {
    atomic_uint threads;
    struct hazard list[HAZARD_COUNT];
} hazards;

/* Where this thread's search begins; HAZARD_COUNT before its first. */
static _Thread_local unsigned start = HAZARD_COUNT;

struct hazard *hazard_take(void *what) {
    if (start == HAZARD_COUNT)
        start = atomic_fetch_add(&hazards.threads, 1) % HAZARD_COUNT;
    for (unsigned tried = 1;; tried++) {
        void *none = NULL;
        struct hazard *hazard = &hazards.list[start];
        if (atomic_compare_exchange_strong(&hazard->what, &none, what))
            return hazard;
        start = (start + 1) % HAZARD_COUNT;
        if (tried % HAZARD_COUNT == 0)
            (void)sched_yield();
    }
}

void hazard_name(struct hazard *hazard, void *what) {
    atomic_store(&hazard->what, what);
}

void hazard_give(struct hazard *hazard) {
    atomic_store(&hazard->what, NULL);
}

void hazards_wait_for(const void *what) {
    for (size_t i = 0; i < HAZARD_COUNT; i++) {
        while (atomic_load(&hazards.list[i].what) == what)
            (void)sched_yield();
    }
}
