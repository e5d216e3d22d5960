/* SPDX-License-Identifier: MIT */
/* export.h - readings and decisions written back as the CSV files of an event folder.
 * Fields are written as they came. Rows are in the contract's order (the earliest `at`, none
 * last, then the id), so that the same facts give the same file in whatever order they arrived. */
#ifndef CAIRN_EXPORT_H
#define CAIRN_EXPORT_H

#include "base/textbuf.h"
#include "event/decisions.h"
#include "event/readings.h"

/* Appends readings.csv, unassigned.csv (what a desk sent and readings.csv cannot hold, since its
 * car or a fault is not known; see enum reading_aside), decisions.csv. Extra columns come last, in
 * byte order of their names. An unassigned.csv without a row is empty, without a heading too.
 * Returns: ERR_OK or ERR_NOMEM. */
int export_readings(const struct readings *readings, struct textbuf *b);
int export_unassigned(const struct readings *readings, struct textbuf *b);
int export_decisions(const struct decisions *decisions, struct textbuf *b);

/* The same for some of them, in the order of the list. */
int export_reading_list(const struct reading *const *list, size_t count, struct textbuf *b);
int export_decision_list(const struct decision *const *list, size_t count, struct textbuf *b);

#endif
