/* SPDX-License-Identifier: MIT */
/* reading_form.h - a reading from its fields as they were written. Source: the contract,
 * "readings.csv". Safe for any number of threads at once. */
#ifndef CAIRN_READING_FORM_H
#define CAIRN_READING_FORM_H

#include "event/readings.h"

/* Everything about a reading that follows without the log.
 *   text    its fields
 *   out     gets what they say; id, text and faults are the caller's to set
 *   faults  gets `out->fault_count` of them; there must be PARTS_MAX
 *   reason  gets what is wrong; untouched otherwise
 * Returns: true where nothing is. */
bool reading_parse(const struct rules *rules, const struct entries *entries,
                   const struct reading_text *text, struct reading *out, struct fault_count *faults,
                   struct textbuf *reason);

#endif
