/* SPDX-License-Identifier: MIT */
#include "track/readings_table.h"

#include "base/err.h"
#include "base/textbuf.h"
#include "format/csv.h"

/* The columns of the joined table: those of `old`, then these of `more`. */
struct join {
    const struct csv_rows *old, *more;
    int added[CSV_ROWS_COLUMNS_MAX];
    int count;
};

/* A row of one of the tables; `own` is the one that it stands in. */
static void write_row(const struct join *join, const struct csv_rows *own, size_t row,
                      struct textbuf *out) {
    const struct csv_rows *old = join->old;
    for (size_t column = 0; column < old->columns; column++) {
        int at = own == old ? (int)column : csv_rows_find(own, csv_rows_cell(old, 0, (int)column));
        if (column > 0)
            textbuf_putc(out, ',');
        csv_write_field(out, csv_rows_cell(own, row, at));
    }
    for (int i = 0; i < join->count; i++) {
        if (i > 0 || old->columns > 0)
            textbuf_putc(out, ',');
        if (own == join->more || row == 0)
            csv_write_field(out, csv_rows_cell(join->more, row, join->added[i]));
    }
    textbuf_putc(out, '\n');
}

int readings_table_join(const struct csv_rows *old, const struct csv_rows *more, const bool *wanted,
                        struct textbuf *out) {
    struct join join = {.old = old, .more = more};
    for (size_t column = 0; column < more->columns; column++) {
        if (csv_rows_find(old, csv_rows_cell(more, 0, (int)column)) < 0)
            join.added[join.count++] = (int)column;
    }
    if (old->columns + (size_t)join.count > CSV_ROWS_COLUMNS_MAX)
        return ERR_RANGE;
    write_row(&join, old->rows > 0 ? old : more, 0, out);
    for (size_t row = 1; row < old->rows; row++)
        write_row(&join, old, row, out);
    for (size_t row = 1; row < more->rows; row++) {
        if (wanted[row])
            write_row(&join, more, row, out);
    }
    return out->failed ? ERR_NOMEM : ERR_OK;
}
