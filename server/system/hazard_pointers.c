/* SPDX-License-Identifier: MIT */
#include "system/hazard_pointers.h"

#include <sched.h>
#include <stdatomic.h>
#include <stddef.h>

struct mark {
    _Atomic(void *) what; /* NULL while nobody has it */
};

/* The one piece of state that is not handed around. A thread begins its search where it found a
 * mark the last time, so that it seldom meets another. */
static struct {
    atomic_uint threads;
    struct mark list[HAZARD_COUNT];
} marks;

static _Thread_local unsigned mine = HAZARD_COUNT;

struct mark *hazard_take(void *what) {
    if (mine == HAZARD_COUNT)
        mine = atomic_fetch_add(&marks.threads, 1) % HAZARD_COUNT;
    for (unsigned tried = 1;; tried++) {
        void *none = NULL;
        struct mark *mark = &marks.list[mine];
        if (atomic_compare_exchange_strong(&mark->what, &none, what))
            return mark;
        mine = (mine + 1) % HAZARD_COUNT;
        if (tried % HAZARD_COUNT == 0)
            (void)sched_yield();
    }
}

void hazard_name(struct mark *mark, void *what) {
    atomic_store(&mark->what, what);
}

void hazard_give(struct mark *mark) {
    atomic_store(&mark->what, NULL);
}

void hazards_wait_for(const void *what) {
    for (size_t i = 0; i < HAZARD_COUNT; i++) {
        while (atomic_load(&marks.list[i].what) == what)
            (void)sched_yield();
    }
}
