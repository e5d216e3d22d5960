/* SPDX-License-Identifier: MIT */
#include "live/served_event.h"

#include <stdint.h>

#include "live/writer_thread.h"
#include "system/hard_limits.h"
#include "system/system_clock.h"

const char *served_event_trouble(const struct served_event *served) {
    long long since = atomic_load(&served->busy_since_ms);
    if (since != 0 &&
        monotonic_microseconds() / 1000 - since > INT64_C(1000) * LIMIT_WRITER_SECONDS)
        return "the disk does not answer";
    return writability_message((enum writability)atomic_load(&served->writability));
}

void served_event_damage(struct served_event *served, struct damaged_facts *out) {
    *out = (struct damaged_facts){0};
    (void)pthread_mutex_lock(&served->damage_lock);
    damaged_facts_add_all(out, &served->damage);
    (void)pthread_mutex_unlock(&served->damage_lock);
}

void served_event_set_damage(struct served_event *served, struct damaged_facts *found) {
    (void)pthread_mutex_lock(&served->damage_lock);
    struct damaged_facts before = served->damage;
    served->damage = *found;
    *found = (struct damaged_facts){0};
    (void)pthread_mutex_unlock(&served->damage_lock);
    damaged_facts_clear(&before);
}

void served_event_refresh(struct served_event *served) {
    writer_thread_refresh(served->thread);
}
