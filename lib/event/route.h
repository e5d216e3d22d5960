/* SPDX-License-Identifier: MIT */
/* route.h - the "route" of event.json: items in the order of the road, and their points.
 * Source: the contract, section 3. */
#ifndef CAIRN_ROUTE_H
#define CAIRN_ROUTE_H

#include "event/rules.h"

struct json_reader;
struct json_t;

/* Reads "route" into the rules and lays out its points. Days and scoring must have been read.
 * Returns: ERR_OK, also where something was reported; ERR_NOMEM. */
int route_read(const struct json_reader *reader, const struct json_t *root, struct rules *rules);

/* Whether a point is a scored point, and under which id: its own, or its item's. */
enum point_scoring { NOT_SCORED, SCORED_AS_POINT, SCORED_AS_ITEM };

/* Adds a point at the end of the route, while event.json is being read.
 *   item    its item's place
 *   role    what it is; `number` for checks, pads and laps, else 0
 *   suffix  what follows "ID/": NULL for the item's own id
 * Returns: ERR_OK or ERR_NOMEM. */
int route_add_point(struct rules *rules, int item, enum point_role role, int number,
                    const char *suffix, enum point_scoring scoring);

#endif
