/* SPDX-License-Identifier: MIT */
/* check.h - what is doubtful in an event that can be read: things that are allowed and that an
 * old hand would still ask about. Each doubt names its place. */
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

/* Looks through a model's event and adds every doubt; the model is settled.
 * Returns: ERR_OK, whatever it found; ERR_NOMEM. */
int check_event(const struct model *model, struct problems *problems);

#endif
