/* SPDX-License-Identifier: MIT */
/* explain_road.h - pieces of explanations that are about the road's schedule. As explain.h. */
#ifndef CAIRN_EXPLAIN_ROAD_H
#define CAIRN_EXPLAIN_ROAD_H

#include "scoring/explain.h"

/* Appends when a car is due at a road point and what that is made of: "Start 08:00, 30 min allowed:
 * due 08:30. ". */
void explain_road_due(struct textbuf *b, const struct explain_context *context,
                      const struct scored_point *sp);

/* Appends why a control is missed by max_lateness: ": later than scheduled 08:30 by more than
 * 30 min"; where lateness is cumulative, the sum. */
void explain_road_beyond(struct textbuf *b, const struct explain_context *context,
                         const struct scored_point *sp);

/* Appends what a car costs that was at a control before the shortest time allowed: ": left TC1 at
 * 08:32, at least 6 min: 1 min early, 1 whole minute at 60 a minute = 60". */
void explain_road_soon(struct textbuf *b, const struct explain_context *context,
                       const struct scored_point *sp);

/* Appends what a test's last point gives the road, where it was read. */
void explain_road_end(struct textbuf *b, const struct explain_context *context);

/* True where a point is missed since max_lateness_holds there. */
bool explain_road_is_held(const struct explain_context *context, const struct scored_point *sp);

/* Appends since which road point a car is too late for this to count: "Since TC3 more than 30 min
 * late: missed, ". */
void explain_road_hold(struct textbuf *b, const struct explain_context *context);

#endif
