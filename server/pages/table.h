/* SPDX-License-Identifier: MIT */
/* table.h - tables of public pages. The columns of each are listed once, in pages/columns.def; a
 * table says how their cells are written, by key, and its head and rows follow the list. Nothing
 * here keeps anything between two calls: any number of threads may write pages of their own. */
#ifndef CAIRN_TABLE_H
#define CAIRN_TABLE_H

#include "pages/page.h"

/* A column as it is listed. Texts live for ever. */
struct table_column {
    const char *key;
    const char *words; /* its heading: a key of words; NULL behind the last column of a table */
    const char *class; /* of its heading: "n" where it has figures, which stand right; "" */
    bool optional;     /* a page may go without it */
};

/* The columns of a table.
 *   name  as columns.def has it
 * Returns: the first of them; NULL where there is no such table. */
const struct table_column *columns_of(const char *name);

/* What a row is of. */
struct table_row {
    int car;        /* its place in the entry list; -1 for a row of no car */
    const void *of; /* what else, as the writers of its table have it; NULL */
};

/* Appends something of a row. */
typedef void cell_writer(struct page *p, const struct table_row *row);

/* What stands under a column. */
struct table_cell {
    const char *key;    /* of the column; NULL behind the last cell of a table */
    cell_writer *write; /* the cell, from <td> to </td>; NULL: this page goes without the column,
                         * which is an optional one */
    const char *words;  /* another heading than the list's; NULL for that */
    /* For a page that keeps itself up to date by figures: the member that tells this column's, one
     * value for each row, and what writes such a value. NULL: they do not tell it. */
    const char *figure;
    cell_writer *tell;
};

/* What a table is called: a text, which is escaped, or HTML that C makes. */
struct table_caption {
    const char *text; /* NULL where it is HTML */
    struct markup markup;
};

/* Both borrow what they are given until the table has begun. */
struct table_caption caption_text(const char *text);
struct table_caption caption_markup(struct markup markup);

enum { TABLE_COLUMNS_MAX = 9 };

/* A table that is being written. */
struct table {
    struct page *page;
    int count;
    cell_writer *cells[TABLE_COLUMNS_MAX]; /* in the order of its columns */
};

/* Begins a table in a box that scrolls by itself, up to its first row.
 *   t        is filled, for table_cells
 *   name     of its list of columns
 *   class    of the table, the name first: it says how the table is set out on a phone
 *   cells    one for each column, in any order
 * A column without a cell fails the page, and so does one that is left out and is not optional. */
void table_begin(struct table *t, struct page *p, const char *name, const char *class,
                 struct table_caption caption, const struct table_cell *cells);

/* Appends the cells of a row in the order of the columns, and ends it; the caller writes <tr>
 * before them.
 *   car, of  as in struct table_row */
void table_cells(const struct table *t, int car, const void *of);

/* Ends a table. */
void table_end(struct page *p);

/* Cells: a number; a penalty. */
void cell_number(struct page *p, int64_t number);
void cell_penalty(struct page *p, int64_t penalty);
/* Fails under a heading that says so; beside penalties as time, in words. */
void cell_fails(struct page *p, int fails);
/* A dash where it is not known yet: 0.000 would be a result. */
void cell_known(struct page *p, int64_t penalty, bool known);
/* How far a car is behind another: in penalty, or in fails where these differ; `known` as above. */
void cell_gap(struct page *p, struct gap gap, bool known);
/* A time of day or duration in that precision; nothing where there is none. */
void cell_time(struct page *p, int64_t ms, int64_t unit);
/* A position, with a sign before it where others share it. */
void cell_place(struct page *p, int position, bool equal);

/* Cells that any row of a car may have. Its plate; its crew, leading to the
 * card, with make, model and year below; its class. */
void cell_plate(struct page *p, const struct table_row *row);
void cell_crew(struct page *p, const struct table_row *row);
void cell_class(struct page *p, const struct table_row *row);

#endif
