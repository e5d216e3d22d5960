/* SPDX-License-Identifier: MIT */
/* check_places.h - places of points that are likely slips, and a track's clock that cannot be read.
 */
#ifndef CAIRN_CHECK_PLACES_H
#define CAIRN_CHECK_PLACES_H

#include "event/rules.h"

struct problems;

/* A gate narrower than this is missed by a receiver's own error; wider than that it lies across
 * other roads (common practice). Thousandths of a metre. */
enum { PLACE_NARROW = 15000, PLACE_WIDE = 200000 };

/* Two places of one day, one behind the other on the route, are no further apart in latitude or
 * longitude, degrees. */
enum { PLACE_FAR = 5 };

/* Adds a doubt, with its place in event.json and a cure, for each. */
void check_places(const struct rules *rules, struct problems *problems);

#endif
