/* SPDX-License-Identifier: MIT */
/* unassigned.h - what desks have sent that is of no car of the list. Safe for any number of threads
 * at once. */
#ifndef CAIRN_UNASSIGNED_H
#define CAIRN_UNASSIGNED_H

#include "event/readings.h"

/* True for a reading that waits for a car: its car is not in the list, or it has none; and nothing
 * has withdrawn it or taken its place. A rehearsal waits for nothing. */
bool unassigned_waits(struct readings_view view, const struct reading *reading);

/* How often anything was said of a reading that stands aside, as readings_evidence_count. */
int unassigned_said(struct readings_view view, const struct reading *reading);

/* How many wait. */
int unassigned_count(struct readings_view view);

#endif
