/* SPDX-License-Identifier: MIT */
#include "format/text_table.h"

#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/textbuf.h"
#include "base/utf8.h"

enum { COLUMN_WIDTH_MAX = 90 };

void text_table_column(struct text_table *table, const char *head, bool right) {
    table->heads[table->columns] = head;
    table->right[table->columns++] = right;
}

void text_table_cell(struct text_table *table, struct textbuf *text) {
    char **cells = array_reserve(table->cells, &table->cap, table->count + 1, sizeof *cells);
    struct textbuf plain = {0};
    textbuf_plain(&plain, textbuf_text(text));
    char *copy = text->failed || plain.failed ? NULL : strdup(textbuf_text(&plain));
    textbuf_clear(&plain);
    textbuf_reset(text);
    if (cells != NULL)
        table->cells = cells;
    if (cells == NULL || copy == NULL) {
        table->failed = true;
        free(copy);
        return;
    }
    table->cells[table->count++] = copy;
}

void text_table_pad(struct textbuf *b, int count) {
    while (count-- > 0)
        textbuf_putc(b, ' ');
}

static void write_cell(struct textbuf *b, const char *text, int width, bool right, bool last) {
    int gap = width - utf8_width(text);
    if (right)
        text_table_pad(b, gap);
    textbuf_puts(b, text);
    if (!right && !last)
        text_table_pad(b, gap);
    if (!last)
        textbuf_puts(b, "  ");
}

void text_table_write(struct text_table *table, struct textbuf *b) {
    int width[TEXT_TABLE_COLUMNS_MAX] = {0};
    size_t columns = (size_t)table->columns;
    for (size_t c = 0; c < columns; c++)
        width[c] = utf8_width(table->heads[c]);
    for (size_t i = 0; i < table->count; i++) {
        int needed = utf8_width(table->cells[i]);
        if (needed > COLUMN_WIDTH_MAX)
            needed = COLUMN_WIDTH_MAX;
        if (needed > width[i % columns])
            width[i % columns] = needed;
    }
    for (size_t c = 0; c < columns; c++)
        write_cell(b, table->heads[c], width[c], table->right[c], c + 1 == columns);
    textbuf_putc(b, '\n');
    for (size_t c = 0; c < columns; c++) {
        for (int i = 0; i < width[c]; i++)
            textbuf_puts(b, "─");
        textbuf_puts(b, c + 1 == columns ? "\n" : "  ");
    }
    for (size_t i = 0; i < table->count; i++) {
        size_t c = i % columns;
        write_cell(b, table->cells[i], width[c], table->right[c], c + 1 == columns);
        if (c + 1 == columns)
            textbuf_putc(b, '\n');
    }
    b->failed = b->failed || table->failed;
    for (size_t i = 0; i < table->count; i++)
        free(table->cells[i]);
    free(table->cells);
    *table = (struct text_table){0};
}
