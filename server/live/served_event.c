/* SPDX-License-Identifier: MIT */
#include "live/served_event.h"

#include <stdint.h>

#include "system/system_clock.h"
#include "system/hard_limits.h"

const char *served_event_trouble(const struct served_event *served) {
    long long since = atomic_load(&served->busy_since_ms);
    if (since != 0 &&
        monotonic_microseconds() / 1000 - since > INT64_C(1000) * LIMIT_WRITER_SECONDS)
        return "the disk does not answer";
    return write_state_words((enum write_state)atomic_load(&served->write_state));
}

void served_event_damage(struct served_event *served, struct damage *out) {
    *out = (struct damage){0};
    (void)pthread_mutex_lock(&served->damage_lock);
    damage_add_all(out, &served->damage);
    (void)pthread_mutex_unlock(&served->damage_lock);
}

void served_event_set_damage(struct served_event *served, struct damage *found) {
    (void)pthread_mutex_lock(&served->damage_lock);
    struct damage before = served->damage;
    served->damage = *found;
    *found = (struct damage){0};
    (void)pthread_mutex_unlock(&served->damage_lock);
    damage_clear(&before);
}
