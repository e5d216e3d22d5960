/* SPDX-License-Identifier: MIT */
/* table_layout.h - the columns of a table, measured, and its rows on pages. */
#ifndef CAIRN_TABLE_LAYOUT_H
#define CAIRN_TABLE_LAYOUT_H

#include "paper/printer.h"

/* A plain value; {0} is no table. `sizes` is on the heap, for whoever measured it to free. */
struct table_layout {
    const struct block *block;
    double width[PAPER_COLUMNS_MAX];
    struct text_size *sizes; /* of each cell, in one line */
    double head_height;
};

/* Measures the cells of a block that is a table, and shares the page's width among its columns.
 * Returns: ERR_OK; ERR_NOMEM. */
int table_layout_measure(struct printer *p, struct table_layout *t, const struct block *block);

/* Draws the table from where the printer stands, on as many pages as it needs. No row is split; a
 * row takes the table's head along to a new page, and a heading the first row of its table.
 *   heading  stands above; NULL for none */
void table_layout_draw(struct printer *p, const struct table_layout *t, const char *heading);

#endif
