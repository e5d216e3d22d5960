/* SPDX-License-Identifier: MIT */
/* csv_rows.h - a CSV table in memory, as rows of cells, whatever its columns are called.
 * For what keeps, compares or rewrites whole tables; csv_columns.h reads the columns of one kind of
 * file. Not thread-safe: one owner at a time. */
#ifndef CAIRN_CSV_ROWS_H
#define CAIRN_CSV_ROWS_H

#include <stdbool.h>
#include <stddef.h>

struct arena;
struct textbuf;

enum { CSV_ROWS_COLUMNS_MAX = 64 };

/* A row that is not in the table. */
struct csv_rows_fault {
    long line;
    const char *why; /* a constant */
};

/* Set up by csv_rows_read, cleared by csv_rows_clear; read the members, or ask by csv_rows_cell. */
struct csv_rows {
    struct arena *arena; /* owns the cells */
    const char **cells;  /* row after row; the first is the header */
    long *lines;         /* where each row begins in the text, from 1 */
    size_t columns, rows;
    struct csv_rows_fault *faults;
    size_t fault_count;
    bool too_wide; /* there were more columns than CSV_ROWS_COLUMNS_MAX, and the rest is not here */
    size_t cell_cap, line_cap, fault_cap;
};

/* Reads a table. Rows that are not well formed, or of another width than the header, are left out
 * and stand in `faults`.
 *   table  {0}
 *   text   `len` bytes, borrowed for the call
 *   typed  somebody typed or pasted it: the separator may be a tab too, and blanks around cells are
 *          left out
 * Returns: ERR_OK; ERR_NOMEM. csv_rows_clear in any case. */
int csv_rows_read(struct csv_rows *table, const char *text, size_t len, bool typed);
void csv_rows_clear(struct csv_rows *table);

/* The column of that name, -1 where there is none. */
int csv_rows_find(const struct csv_rows *table, const char *name);

/* A cell, "" where there is no such row, or the column is -1. Row 0 is the header. Borrowed. */
const char *csv_rows_cell(const struct csv_rows *table, size_t row, int column);

#endif
