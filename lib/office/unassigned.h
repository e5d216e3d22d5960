/* SPDX-License-Identifier: MIT */
/* unassigned.h - what desks have sent that is of no car of the list. Safe for any number of threads
 * at once. */
#ifndef CAIRN_UNASSIGNED_H
#define CAIRN_UNASSIGNED_H

#include "event/readings.h"

/* How many readings wait for a car: theirs is not in the list, or they have none, and nothing has
 * withdrawn them or taken their place. A rehearsal waits for nothing. */
int unassigned_count(struct readings_view view);

#endif
