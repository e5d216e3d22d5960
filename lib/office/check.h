/* SPDX-License-Identifier: MIT */
/* check.h - what is doubtful in an event that can be read: things that are allowed, but that an
 * experienced organiser would ask about. Each doubt names its place. */
#ifndef CAIRN_CHECK_H
#define CAIRN_CHECK_H

#include "event/event.h"

struct problems;

/* Published limits of average speed, thousandths of a unit per hour.
 * 50 km/h: FIVA events are those at an average of 50 km/h or less (FIA Appendix K, March 1999).
 * 30 mph: no regularity over 30 mph (Motorsport UK, National Competition Rules 2026). */
enum { SPEED_LIMIT_KM = 50000, SPEED_LIMIT_MI = 30000 };

/* Shortest time in which a check behind its start can be timed by hand, ms: two cars a minute
 * apart must not meet at it (common practice). */
enum { CHECK_TOO_NEAR_MS = 60000 };

/* True where a distance (thousandths of the event's unit) in a time (ms) is faster than the
 * published limit. Exact. */
bool check_is_too_fast(const struct rules *rules, int64_t distance, int64_t ms);

/* Adds every doubt about a model's event; the model must be settled.
 * Returns: ERR_OK, whatever it found; ERR_NOMEM. */
int check_event(const struct model *model, struct problems *problems);

#endif
