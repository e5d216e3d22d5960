/* SPDX-License-Identifier: MIT */
/* served_event.h - an event that the server serves, as all threads share it. Only the event's own
 * thread changes it; what others read of it is atomic, or under a lock of its own. */
#ifndef CAIRN_SERVED_EVENT_H
#define CAIRN_SERVED_EVENT_H

#include <pthread.h>
#include <stdatomic.h>

#include "live/snapshot.h"
#include "store/damaged_facts.h"
#include "store/writability.h"

struct writer_thread;

/* Lives as long as the list that it is in (served_events.h). */
struct served_event {
    char slug[65];
    struct snapshot_slot slot;
    struct writer_thread *thread; /* that alone changes the event */
    atomic_int waiting;           /* writes that were queued and are not answered yet */
    atomic_llong busy_since_ms;   /* since when a batch or a refresh is being done
                                     (monotonic_microseconds / 1000); 0: none */
    atomic_int writability;       /* an enum writability */
    atomic_llong epoch;           /* of the file, see store_last_epoch */
    atomic_bool copied;           /* the file is open as STORE_COPY: others must read it so too */
    atomic_bool refreshing;       /* somebody waits in served_event_refresh */
    pthread_mutex_t damage_lock;  /* the next */
    struct damaged_facts damage;  /* facts that do not read, or are not as they were taken */
};

/* Which facts are damaged; `out` is the caller's to clear. Any thread. */
void served_event_damage(struct served_event *served, struct damaged_facts *out);

/* Takes what was found, and leaves `found` empty. The event's thread alone. */
void served_event_set_damage(struct served_event *served, struct damaged_facts *found);

/* Why writes to an event fail or hang, as far as is known: a few words that live for ever, without
 * a period. NULL where they work. Never waits; any thread. */
const char *served_event_trouble(const struct served_event *served);

/* Asks the event's thread to load what another process changed in the event's file, and waits for
 * it, half a second at most. Any thread. */
void served_event_refresh(struct served_event *served);

#endif
