/* SPDX-License-Identifier: MIT */
/* text_table.h - a table that a person pins on a board: columns aligned by width on paper, not by
 * bytes. Cells are gathered first and set out when all widths are known. Not thread-safe. */
#ifndef CAIRN_TEXT_TABLE_H
#define CAIRN_TEXT_TABLE_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

enum { BOARD_COLUMNS_MAX = 12 };

/* A plain value: {0} is an empty board. */
struct board {
    int columns;
    const char *heads[BOARD_COLUMNS_MAX];
    bool right[BOARD_COLUMNS_MAX];
    char **cells;
    size_t count;
    size_t cap;
    bool failed;
};

/* Adds a column; before any cell.
 *   head   borrowed until board_write
 *   right  its cells stand to the right, as figures do */
void board_column(struct board *board, const char *head, bool right);

/* Adds the next cell, row by row, as textbuf_plain has it. Takes the text and empties the buffer.
 */
void board_cell(struct board *board, struct textbuf *text);

/* Appends the table and empties the board. Where memory was out, `b` is marked as failed. */
void board_write(struct board *board, struct textbuf *b);

/* Appends that many blanks. */
void board_pad(struct textbuf *b, int count);

#endif
