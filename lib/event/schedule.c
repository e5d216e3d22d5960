/* SPDX-License-Identifier: MIT */
#include "event/schedule.h"

#include "format/json_read.h"

void schedule_read_control(const struct json_reader *reader, const json_t *object,
                           const struct json_place *place, struct schedule *out) {
    static const char *const froms[] = {"due", NULL};
    int choice;
    *out = (struct schedule){.on = true, .shortest = TIME_NONE};
    (void)json_get_duration(reader, object, place, "target", true, &out->target);
    (void)json_get_duration(reader, object, place, "halt", false, &out->halt);
    (void)json_get_flag(reader, object, place, "main", &out->main);
    (void)json_get_duration(reader, object, place, "shortest", false, &out->shortest);
    out->early_from_due =
        json_get_choice(reader, object, place, "early_from", false, froms, &choice);
}

void schedule_read_finish(const struct json_reader *reader, const json_t *object,
                          const struct json_place *place, struct schedule *out) {
    static const char *const finishes[] = {"control", NULL};
    int choice;
    *out = (struct schedule){.shortest = TIME_NONE};
    out->on = json_get_choice(reader, object, place, "finish", false, finishes, &choice);
    out->targeted = json_get_duration(reader, object, place, "target", false, &out->target);
}
