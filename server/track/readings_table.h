/* SPDX-License-Identifier: MIT */
/* readings_table.h - rows added to a readings.csv whose columns may be others: those that it lacks
 * come behind its own. What stands there stays as it is, also rows that are refused. */
#ifndef CAIRN_READINGS_TABLE_H
#define CAIRN_READINGS_TABLE_H

#include "format/csv_rows.h"

struct textbuf;

/* Writes the old table and the rows behind it.
 *   old  the table that is there; {0} for none
 *   more its rows are added where `wanted` has true, by row from 1
 * Returns: ERR_OK; ERR_RANGE for too many columns; ERR_NOMEM. */
int readings_table_join(const struct csv_rows *old, const struct csv_rows *more, const bool *wanted,
                        struct textbuf *out);

#endif
