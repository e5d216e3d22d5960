/* SPDX-License-Identifier: MIT */
/* csv_columns.h - a CSV file with a header row, read by column name.
 * Columns stand in any order; a column that is not known is reported once as a warning and kept
 * with each row. Not about rallies: the readers of an event folder's files are built on it. */
#ifndef CAIRN_CSV_COLUMNS_H
#define CAIRN_CSV_COLUMNS_H

#include <stdbool.h>
#include <stddef.h>

#include "format/csv.h"
#include "format/extra.h"

struct arena;
struct problems;

enum { CSV_COLUMNS_MAX = 32 };

/* Most unknown columns of a table, or unknown members of a row that comes as an object, that are
 * kept with each row. Real files have a handful; without a bound a header of megabytes would be
 * read. */
enum { EXTRAS_MAX = 64 };

/* A column that the reader knows. */
struct column {
    const char *name;
    bool required; /* an error where the header does not name it */
};

struct csv_columns {
    struct csv csv;
    const char *file;
    const struct column *columns;
    const char *const *headings; /* see csv_columns_open_device; NULL */
    size_t column_count;
    int field_of[CSV_COLUMNS_MAX]; /* field of each known column, -1 where it is not there */
    bool is_device;                /* notes between rows are passed over */
    bool is_numbered;              /* there is no header row */
    size_t least;                  /* then: fields that a row must have */
    bool header_is_read; /* also where csv_columns_open refused a column of it: see there */
    size_t header_count;
    char **header; /* names of all columns, owned by the arena */
    bool *known;
    struct arena *arena;
    struct problems *problems;
};

/* Opens a table and reads its header.
 *   file         name for messages, borrowed
 *   text, len    the whole file, borrowed until csv_columns_close
 *   columns      at most CSV_COLUMNS_MAX, borrowed
 *   arena        takes what must outlive the table (names and values of extra columns)
 *   problems     gets every error and warning
 * Returns: ERR_OK; ERR_INPUT where the header is wrong or names more than EXTRAS_MAX columns that
 * are not known; ERR_NOMEM. Call csv_columns_close in any case.
 * After ERR_INPUT with `header_is_read` only some columns are wrong: the rows may be read on for
 * what else is wrong in them (csv_columns_has). */
int csv_columns_open(struct csv_columns *table, const char *file, const char *text, size_t len,
                     const struct column *columns, size_t count, struct arena *arena,
                     struct problems *problems);

/* As csv_columns_open, for the table of a device: the separator may be a tab too, and the header
 * may have other names.
 *   headings  what the header calls each column, NULL for its own name; borrowed */
int csv_columns_open_device(struct csv_columns *table, const char *file, const char *text,
                            size_t len, const struct column *columns, const char *const *headings,
                            size_t count, struct arena *arena, struct problems *problems);

/* As csv_columns_open_device, for a table without a header row. What separates fields is seen from
 * each row by itself, a row may have any number of fields from the last one that is named, and a
 * quote that nothing closes ends with its line. Those that are not named are kept as “column 4”.
 *   places  where each column stands, from 1; 0 where it does not
 * Returns: ERR_OK; ERR_NOMEM. */
int csv_columns_open_numbered(struct csv_columns *table, const char *file, const char *text,
                              size_t len, const struct column *columns, const int *places,
                              size_t count, struct arena *arena, struct problems *problems);

/* Reads the next row.
 * Returns: as csv_next; CSV_BAD (with table->csv.wrong) too for a row whose number of fields is
 * not that of the header. A bad row is not reported here: the caller knows how grave it is. */
enum csv_result csv_columns_next(struct csv_columns *table);

/* True where the header names column `i`. */
bool csv_columns_has(const struct csv_columns *table, size_t i);

/* The field of column `i` in the row just read, "" where the file has no such column. Valid until
 * the next row. */
const char *csv_columns_field(const struct csv_columns *table, size_t i);

/* The fields of unknown columns of the row just read, as a list in the arena.
 *   out    NULL where there are none
 * Returns: ERR_OK or ERR_NOMEM. */
int csv_columns_extras(const struct csv_columns *table, struct extra **out);

/* Frees what the table holds; the arena's blocks stay. */
void csv_columns_close(struct csv_columns *table);

#endif
