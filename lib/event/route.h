/* SPDX-License-Identifier: MIT */
/* route.h - the "route" of event.json: items in the order of the road, and their points.
 * Source: the contract, section 3. */
#ifndef CAIRN_ROUTE_H
#define CAIRN_ROUTE_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* Reads "route" into the rules and lays out its points. Days and scoring must have been read.
 * Returns: ERR_OK, also where something was reported; ERR_NOMEM. */
int route_read(const struct json_reader *reader, const struct json_t *root, struct rules *rules);

/* Reads the values of an item that may be other for some cars into `item`, whose day, id, name,
 * kind and place are set; what is wrong is reported at `place`. */
void route_read_values(const struct json_reader *reader, const struct json_t *object,
                       const struct json_place *place, const struct rules *rules,
                       struct item *item);

/* True where an item of this kind may have that key. */
bool route_item_has_key(const struct item *item, const char *key);

/* Whether a point is a scored point, and under which id: its own, or its item's. */
enum point_scoring { NOT_SCORED, SCORED_AS_POINT, SCORED_AS_ITEM };

/* Adds a point at the end of the route, while event.json is being read.
 *   item    its item's place
 *   role    what it is; `number` as in struct point
 *   suffix  what follows "ID/": NULL for the item's own id
 * Returns: ERR_OK or ERR_NOMEM. */
int route_add_point(struct rules *rules, int item, enum point_role role, int number,
                    const char *suffix, enum point_scoring scoring);

#endif
