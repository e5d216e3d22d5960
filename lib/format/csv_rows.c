/* SPDX-License-Identifier: MIT */
#include "format/csv_rows.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "format/csv.h"

void csv_rows_clear(struct csv_rows *g) {
    free(g->cells);
    free(g->lines);
    free(g->faults);
    arena_free(g->arena);
    *g = (struct csv_rows){0};
}

int csv_rows_find(const struct csv_rows *g, const char *name) {
    for (size_t i = 0; g->rows > 0 && i < g->columns; i++) {
        if (strcmp(g->cells[i], name) == 0)
            return (int)i;
    }
    return -1;
}

const char *csv_rows_cell(const struct csv_rows *g, size_t row, int column) {
    return column < 0 || row >= g->rows || g->cells == NULL
               ? ""
               : g->cells[row * g->columns + (size_t)column];
}

static int add_fault(struct csv_rows *g, long line, const char *why) {
    struct csv_rows_fault *faults =
        array_reserve(g->faults, &g->fault_cap, g->fault_count + 1, sizeof *faults);
    if (faults == NULL)
        return ERR_NOMEM;
    g->faults = faults;
    faults[g->fault_count++] = (struct csv_rows_fault){line, why};
    return ERR_OK;
}

static bool is_blank(char c) {
    return c == ' ' || c == '\t' || c == '\r' || c == '\n';
}

static const char *kept(struct csv_rows *g, const char *text, bool typed) {
    size_t len = strlen(text);
    while (typed && len > 0 && is_blank(*text)) {
        text++;
        len--;
    }
    while (typed && len > 0 && is_blank(text[len - 1]))
        len--;
    return arena_text(g->arena, text, len);
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
static int add_row(struct csv_rows *g, const struct csv *csv, size_t width, bool typed) {
    if (csv->count != width)
        return add_fault(g, csv->line, "has another number of fields than the header");
    const char **cells =
        array_reserve(g->cells, &g->cell_cap, (g->rows + 1) * g->columns, sizeof *cells);
    if (cells == NULL)
        return ERR_NOMEM;
    g->cells = cells;
    long *lines = array_reserve(g->lines, &g->line_cap, g->rows + 1, sizeof *lines);
    if (lines == NULL)
        return ERR_NOMEM;
    g->lines = lines;
    for (size_t i = 0; i < g->columns; i++) {
        const char *cell = kept(g, csv->fields[i], typed);
        if (cell == NULL)
            return ERR_NOMEM;
        cells[g->rows * g->columns + i] = cell;
    }
    lines[g->rows++] = csv->line;
    return ERR_OK;
}

int csv_rows_read(struct csv_rows *g, const char *text, size_t len, bool typed) {
    struct csv csv;
    enum csv_result result;
    size_t width = 0;
    int err = ERR_OK;
    g->arena = arena_new();
    if (g->arena == NULL)
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
        if (result == CSV_ROW && g->rows == 0) {
            width = csv.count;
            g->too_wide = width > CSV_ROWS_COLUMNS_MAX;
            g->columns = g->too_wide ? CSV_ROWS_COLUMNS_MAX : width;
        }
        err =
            result == CSV_BAD ? add_fault(g, csv.line, csv.wrong) : add_row(g, &csv, width, typed);
    }
    csv_clear(&csv);
    return err;
}
