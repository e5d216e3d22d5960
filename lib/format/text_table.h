/* SPDX-License-Identifier: MIT */
/* text_table.h - a table that a person pins on a board: columns aligned by width on paper, not by
 * bytes. Cells are gathered first and set out when all widths are known. Not thread-safe. */
#ifndef CAIRN_TEXT_TABLE_H
#define CAIRN_TEXT_TABLE_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

enum { TEXT_TABLE_COLUMNS_MAX = 12 };

/* A plain value: {0} is an empty board. */
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
void text_table_column(struct text_table *board, const char *head, bool right);

/* Adds the next cell, row by row, as textbuf_plain has it. Takes the text and empties the buffer.
 */
void text_table_cell(struct text_table *board, struct textbuf *text);

/* Appends the table and empties the board. Where memory was out, `b` is marked as failed. */
void text_table_write(struct text_table *board, struct textbuf *b);

/* Appends that many blanks. */
void text_table_pad(struct textbuf *b, int count);

#endif
