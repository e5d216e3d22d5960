/* SPDX-License-Identifier: MIT */
#include "format/csv_rows.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "format/csv.h"

void csv_rows_clear(struct csv_rows *t) {
    free(t->cells);
    free(t->lines);
    free(t->faults);
    arena_free(t->arena);
    *t = (struct csv_rows){0};
}

int csv_rows_find(const struct csv_rows *t, const char *name) {
    for (size_t i = 0; t->rows > 0 && i < t->columns; i++) {
        if (strcmp(t->cells[i], name) == 0)
            return (int)i;
    }
    return -1;
}

const char *csv_rows_cell(const struct csv_rows *t, size_t row, int column) {
    return column < 0 || row >= t->rows || t->cells == NULL
               ? ""
               : t->cells[row * t->columns + (size_t)column];
}

static int add_fault(struct csv_rows *t, long line, const char *why) {
    struct csv_rows_fault *faults =
        array_reserve(t->faults, &t->fault_cap, t->fault_count + 1, sizeof *faults);
    if (faults == NULL)
        return ERR_NOMEM;
    t->faults = faults;
    faults[t->fault_count++] = (struct csv_rows_fault){line, why};
    return ERR_OK;
}

static bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static const char *kept(struct csv_rows *t, const char *text, bool typed) {
    size_t len = strlen(text);
    while (typed && len > 0 && is_blank(*text)) {
        text++;
        len--;
    }
    while (typed && len > 0 && is_blank(text[len - 1]))
        len--;
    return arena_text(t->arena, text, len);
}

/* A row of a spreadsheet that holds nothing. */
static bool is_empty(const struct csv *csv) {
    for (size_t i = 0; i < csv->count; i++) {
        if (csv->fields[i][strspn(csv->fields[i], " \t")] != '\0')
            return false;
    }
    return true;
}

/* Adds the row that was read; the first is the header. */
static int add_row(struct csv_rows *t, const struct csv *csv, size_t width, bool typed) {
    if (csv->count != width)
        return add_fault(t, csv->line, "has another number of fields than the header");
    const char **cells =
        array_reserve(t->cells, &t->cell_cap, (t->rows + 1) * t->columns, sizeof *cells);
    if (cells == NULL)
        return ERR_NOMEM;
    t->cells = cells;
    long *lines = array_reserve(t->lines, &t->line_cap, t->rows + 1, sizeof *lines);
    if (lines == NULL)
        return ERR_NOMEM;
    t->lines = lines;
    for (size_t i = 0; i < t->columns; i++) {
        const char *cell = kept(t, csv->fields[i], typed);
        if (cell == NULL)
            return ERR_NOMEM;
        cells[t->rows * t->columns + i] = cell;
    }
    lines[t->rows++] = csv->line;
    return ERR_OK;
}

int csv_rows_read(struct csv_rows *t, const char *text, size_t len, bool typed) {
    struct csv csv;
    enum csv_result result;
    size_t width = 0;
    int err = ERR_OK;
    t->arena = arena_new();
    if (t->arena == NULL)
        return ERR_NOMEM;
    csv_init(&csv, text, len);
    if (typed)
        csv_allow_tabs(&csv);
    while (err == ERR_OK && (result = csv_next(&csv)) != CSV_END) {
        if (result == CSV_NOMEM) {
            err = ERR_NOMEM;
            break;
        }
        if (result == CSV_ROW && typed && is_empty(&csv))
            continue;
        if (result == CSV_ROW && t->rows == 0) {
            width = csv.count;
            t->too_wide = width > CSV_ROWS_COLUMNS_MAX;
            t->columns = t->too_wide ? CSV_ROWS_COLUMNS_MAX : width;
        }
        err =
            result == CSV_BAD ? add_fault(t, csv.line, csv.wrong) : add_row(t, &csv, width, typed);
    }
    csv_clear(&csv);
    return err;
}
