/* SPDX-License-Identifier: MIT */
/* decision_form.h - a decision from its fields as they were written. Source: the contract,
 * "decisions.csv". Safe for any number of threads at once. */
#ifndef CAIRN_DECISION_FORM_H
#define CAIRN_DECISION_FORM_H

#include "event/decisions.h"

/* Reads and checks everything about a decision that does not need the log.
 *   text    its fields
 *   out     gets what they say; the caller sets id, text, line, ends and faults. In a folder with
 *           errors its car and its place may be -1, as a reading's
 *   faults  gets the faults of a decision that tells some; PARTS_MAX places
 *   reason  gets what is wrong; untouched otherwise
 * Returns: true where nothing is. */
bool decision_parse(const struct rules *rules, const struct entries *entries,
                    const struct decision_text *text, struct decision *out,
                    struct fault_count *faults, struct textbuf *reason);

#endif
