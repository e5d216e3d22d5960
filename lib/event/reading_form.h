/* SPDX-License-Identifier: MIT */
/* reading_form.h - a reading from its fields as they were written. Source: the contract,
 * "readings.csv". Safe for any number of threads at once. */
#ifndef CAIRN_READING_FORM_H
#define CAIRN_READING_FORM_H

#include "event/readings.h"

/* Checks what can be checked without an event: how each field is written, and that a correction has
 * all it needs. An event may still refuse the reading.
 *   reason  gets what is wrong; untouched otherwise
 * Returns: true where nothing is. */
bool reading_form_is_good(const struct reading_text *text, struct textbuf *reason);

/* Reads and checks everything about a reading that does not need the log.
 *   text    its fields
 *   out     gets what they say; the caller sets id, text and faults. In a folder with errors its
 *           point or car may be -1: one that perhaps is there but could not be read
 *   faults  gets `out->fault_count` of them; there must be PARTS_MAX
 *   reason  gets what is wrong; untouched otherwise
 * Returns: true where nothing is. */
bool reading_parse(const struct rules *rules, const struct entries *entries,
                   const struct reading_text *text, struct reading *out, struct fault_count *faults,
                   struct textbuf *reason);

#endif
