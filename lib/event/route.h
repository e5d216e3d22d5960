/* SPDX-License-Identifier: MIT */
/* route.h - the "route" of event.json: items in the order of the road, and their points.
 * Source: the contract, section 3. */
#ifndef CAIRN_ROUTE_H
#define CAIRN_ROUTE_H

#include "event/rules.h"
#include "format/json_read.h"

/* Reads "route" into the rules and lays out its points. Days and scoring must have been read.
 * Returns: ERR_OK, also where something was reported; ERR_NOMEM. */
int route_read(const struct json_reader *reader, const json_t *root, struct rules *rules);

#endif
