/* SPDX-License-Identifier: MIT */
/* variants.h - the lines of an item's `for`: values that are other for some cars. Each line gives a
 * copy of the whole item (struct variant in rules.h), read once when event.json is read. Which
 * line holds for a car: car_route.h. Source: the contract, "Other values for some cars". */
#ifndef CAIRN_VARIANTS_H
#define CAIRN_VARIANTS_H

#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* The object of an item with the names of all faults of its `for` lines among its own, those null
 * that no line of its own names: a fault has the same place in every copy of the item. Null that
 * event.json itself has there is reported.
 *   object  the item, borrowed
 * Returns: a new reference for the caller; the object itself where memory is out, which is
 * reported. */
struct json_t *variants_join_faults(const struct json_reader *reader, struct json_t *object,
                                    const struct json_place *place);

/* Reads the `for` of an item, whose own values have been read well; what is wrong is reported.
 *   object  from variants_join_faults */
void variants_read(const struct json_reader *reader, struct json_t *object,
                   const struct json_place *place, const struct rules *rules, struct item *item);

/* Once the points of the route are laid out: tells every copy of the item where they are. */
void variants_complete(struct item *item);

#endif
