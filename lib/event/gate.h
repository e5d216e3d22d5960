/* SPDX-License-Identifier: MIT */
/* gate.h - where a point is on the ground: `place` of an item, or `places` by point, in event.json.
 * A gate is the line across the road that a car passes at the point. Nothing is scored by it: it
 * tells `cairn track` where to look. It is never shown to the public. Whole numbers only, as
 * everywhere in lib/. Source: schema/README.md, "Places". */
#ifndef CAIRN_GATE_H
#define CAIRN_GATE_H

#include <stdint.h>

struct item;
struct json_place;
struct json_reader;
struct json_t;
struct rules;

enum {
    GATE_WIDTH = 40000,      /* thousandths of a metre, where event.json says none */
    GATE_WIDTH_MAX = 1000000 /* a kilometre */
};

/* Billionths of a degree in one degree, by which latitudes and longitudes are held. */
#define GATE_DEGREE INT64_C(1000000000)

/* Its middle, the way in which it is passed, and how wide it is. */
struct gate {
    int64_t lat;     /* -90 .. 90 degrees, north positive, WGS 84 */
    int64_t lon;     /* -180 .. 180 degrees, east positive */
    int64_t heading; /* thousandths of a degree, 0 .. 360000 clockwise from north */
    int64_t width;   /* thousandths of a metre, 1000 .. GATE_WIDTH_MAX, half to each side */
};

/* Reads `place` and `places` of an item whose points are laid out, and hangs each gate on its
 * point. What is wrong is reported at `place`. */
void gates_read(const struct json_reader *reader, const struct json_t *object,
                const struct json_place *place, struct rules *rules, const struct item *item);

#endif
