/* SPDX-License-Identifier: MIT */
/* text_table.h - a table of plain text, for a terminal or paper: columns are aligned by the width
 * that their characters take (utf8_width), not by bytes. Cells are collected first and written when
 * all widths are known. Not thread-safe. */
#ifndef CAIRN_TEXT_TABLE_H
#define CAIRN_TEXT_TABLE_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

enum { TEXT_TABLE_COLUMNS_MAX = 12 };

/* A plain value: {0} is an empty table. At most TEXT_TABLE_COLUMNS_MAX columns; a column is as
 * wide as its widest cell, at most 90, and longer cells push the rest of their row. */
struct text_table {
    int columns;
    const char *heads[TEXT_TABLE_COLUMNS_MAX];
    bool right[TEXT_TABLE_COLUMNS_MAX];
    char **cells;
    size_t count;
    size_t cap;
    bool failed;
};

/* Adds a column; before any cell.
 *   head   borrowed until text_table_write
 *   right  its cells stand to the right, as figures do */
void text_table_column(struct text_table *table, const char *head, bool right);

/* Adds the next cell, row by row, with control characters made blank (textbuf_plain).
 *   text  copied, and the buffer emptied for the next cell */
void text_table_cell(struct text_table *table, struct textbuf *text);

/* Appends the table to `b` and frees what it holds, so that it is empty again. Where memory was
 * out, `b` is marked as failed. */
void text_table_write(struct text_table *table, struct textbuf *b);

/* Appends that many blanks. */
void text_table_pad(struct textbuf *b, int count);

#endif
