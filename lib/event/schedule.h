/* SPDX-License-Identifier: MIT */
/* schedule.h - what event.json says of an item's place on the road's schedule. Source: the
 * contract, "time-control" and "Road timing". */
#ifndef CAIRN_SCHEDULE_H
#define CAIRN_SCHEDULE_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads the keys of a time control: "target", "halt", "main", "shortest" and "early_from". Wrong
 * values are reported. */
void schedule_read_control(const struct json_reader *reader, const struct json_t *object,
                           const struct json_place *place, struct schedule *out);

/* The same for a test whose last point may be on the road: "finish" and "target". */
void schedule_read_finish(const struct json_reader *reader, const struct json_t *object,
                          const struct json_place *place, struct schedule *out);

/* True for a test whose last point is on the road. */
static inline bool schedule_has_finish(const struct item *item) {
    return item->road.on && item->test >= 0;
}

/* The reading point by which an item on the road's schedule is on it: of a control its arrival, of
 * a test the last point on the route of the cars that the item is for. */
static inline int schedule_point(const struct item *item) {
    int last = item->test < 0 ? 0 : item->point_count - 1;
    while (last > 0 && item->off_points != NULL && item->off_points[last])
        last--;
    return item->first_point + last;
}

#endif
