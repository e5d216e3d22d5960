/* SPDX-License-Identifier: MIT */
/* paper_private.h - a document as paper.c gathers it and print.c draws it. */
#ifndef CAIRN_PAPER_PRIVATE_H
#define CAIRN_PAPER_PRIVATE_H

#include <stddef.h>

#include "paper/paper.h"

/* A pair is a label and a text, a code an address and a text, with a line break between them. */
enum block_kind { BLOCK_HEADING, BLOCK_TEXT, BLOCK_PAIR, BLOCK_CODE, BLOCK_PAGE, BLOCK_TABLE };

struct block {
    enum block_kind kind;
    const char *text; /* of all but a table; "" for a page */
    struct paper_column columns[PAPER_COLUMNS_MAX];
    int column_count;
    int row_height;
    const char **cells; /* row by row, on the heap */
    size_t cell_count;
    size_t cell_cap;
};

struct paper_doc {
    struct paper_head head; /* its texts are the arena's */
    struct arena *arena;
    struct block *blocks; /* on the heap */
    size_t block_count;
    size_t block_cap;
    bool failed;
};

#endif
