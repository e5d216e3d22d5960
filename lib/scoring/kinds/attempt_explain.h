/* SPDX-License-Identifier: MIT */
/* attempt_explain.h - how one attempt at a special test came to its cost, in words. Appends to a
 * buffer, which is marked as failed where memory is out. Safe for any number of threads at once. */
#ifndef CAIRN_ATTEMPT_EXPLAIN_H
#define CAIRN_ATTEMPT_EXPLAIN_H

#include "scoring/explain.h"

/* Appends how an attempt that was worked out came to its cost, without a full stop: "Start
 * 10:00:00, finish 10:01:23: 1 min 23 s; 83 at 1 a second = 83". */
void attempt_explain(struct textbuf *b, const struct explain_context *context,
                     const struct scored_point *sp);

/* Appends what `attempt_missed` follows from, where it is the maximum: "as at the maximum 1 min
 * 30 s; 90 at 1 a second". */
void attempt_explain_missed(struct textbuf *b, const struct explain_context *context);

#endif
