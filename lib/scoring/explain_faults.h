/* SPDX-License-Identifier: MIT */
/* explain_faults.h - faults in the sentences of a card. Appends to a buffer, which is marked as
 * failed where memory is out. Safe for any number of threads at once. */
#ifndef CAIRN_EXPLAIN_FAULTS_H
#define CAIRN_EXPLAIN_FAULTS_H

#include "event/faults.h"
#include "scoring/explain.h"

/* Appends the faults of the sheet's car at a point that cost a penalty or fails, told with its
 * reading or by decisions: " + 2 × cone at 5 + 1 × stop at 1 fail (decided: judge of facts)".
 * Rulings on the point are not looked at.
 *   before  stands before each: " + "
 *
 * Returns: what all faults there come to. */
struct fault_sum explain_told_faults(struct textbuf *b, const struct explain_context *context,
                                     int point, const char *before);

/* Appends, at a scored point, the faults that are part of the item's sum and of no scored point:
 * its own, and at the item's first one also those at points that are not scored. */
void explain_faults_beside(struct textbuf *b, const struct explain_context *context);

/* Appends the faults that are charged at a scored point, and what it costs with them. Nothing where
 * there are none. */
void explain_faults_at(struct textbuf *b, const struct explain_context *context);

/* Appends the fault for which a scored point is missed whatever was read: "Fault doubtful: counts
 * as missed, ". Returns false, and appends nothing, where there is none. */
bool explain_fault_missed(struct textbuf *b, const struct explain_context *context);

/* Appends an amount of penalty and fails: "10", "1 fail", "10 and 2 fails". */
void explain_amount(struct textbuf *b, int64_t penalty, int fails);

#endif
