/* SPDX-License-Identifier: MIT */
/* rule_examples.h - worked examples of an item's rules: one car of the entry list comes on time,
 * late, early, so late that the cap applies, or not at all, with what that costs and why. Only the
 * times are chosen here; costs and reasons come from lib/scoring. */
#ifndef CAIRN_RULE_EXAMPLES_H
#define CAIRN_RULE_EXAMPLES_H

#include "event/event.h"

struct textbuf;

/* Appends the examples of an item as a JSON array; each holds `case` (on-time, late, early,
 * past-step, too-early, capped, fault, too-soon, beyond or missed), `car`, and the fields of a
 * card's point.
 *   model  with empty logs: the example's readings are added to it, so it is of no further use
 *   item   place on the route
 * Returns: ERR_OK; ERR_NOMEM. The array is empty where the car would come after the second
 * midnight, when no time of day can be written. */
int rule_examples_write(struct model *model, int item, struct textbuf *b);

#endif
