/* SPDX-License-Identifier: MIT */
#include "commands/track_save.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "commands/event_source.h"
#include "format/extra.h"
#include "system/files.h"
#include "track/readings_table.h"

/* The text of a row; its columns that are no fields of a reading are extras. */
static void row_text(const struct csv_rows *table, size_t row, struct reading_text *text,
                     struct extra extras[CSV_ROWS_COLUMNS_MAX]) {
    bool known[CSV_ROWS_COLUMNS_MAX] = {false};
    struct extra *last = NULL;
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        int column = csv_rows_find(table, reading_field_names[i]);
        text->field[i] = csv_rows_cell(table, row, column);
        if (column >= 0)
            known[column] = true;
    }
    text->extras = NULL;
    for (size_t i = 0; i < table->columns; i++) {
        const char *value = csv_rows_cell(table, row, (int)i);
        if (known[i] || *value == '\0')
            continue;
        extras[i] = (struct extra){csv_rows_cell(table, 0, (int)i), value, NULL};
        if (last == NULL)
            text->extras = &extras[i];
        else
            last->next = &extras[i];
        last = &extras[i];
    }
}

/* Which rows are new to the event. Returns how many; -1 when memory is out. */
static int find_new(struct event_source *source, const struct csv_rows *rows, bool *wanted) {
    struct extra extras[CSV_ROWS_COLUMNS_MAX];
    struct reading_text text;
    struct textbuf why = {0};
    int count = 0;
    for (size_t row = 1; row < rows->rows && count >= 0; row++) {
        row_text(rows, row, &text, extras);
        enum fact_result result = readings_add(source->model->readings, &text, &why, NULL);
        wanted[row] = result == FACT_ADDED;
        count = result == FACT_NOMEM ? -1 : count + wanted[row];
        if (result == FACT_REFUSED)
            (void)fprintf(stderr, "cairn track: car %s at %s: %s\n", text.field[READING_CAR],
                          text.field[READING_POINT], textbuf_text(&why));
        textbuf_reset(&why);
    }
    textbuf_clear(&why);
    return count;
}

int track_save(struct event_source *source, const struct textbuf *csv) {
    const struct csv_rows none = {0};
    struct csv_rows old = none;
    struct csv_rows more = none;
    struct textbuf out = {0};
    size_t len = source->folder.files.readings.len;
    int err = csv_rows_read(&more, textbuf_text(csv), csv->len, false);
    bool *wanted = calloc(more.rows + 1, sizeof *wanted);
    int count = 0;
    if (err == ERR_OK && source->folder.files.readings.text != NULL && len > 0)
        err = csv_rows_read(&old, source->folder.files.readings.text, len, false);
    if (err == ERR_OK && wanted != NULL)
        count = find_new(source, &more, wanted);
    if (err == ERR_OK && (wanted == NULL || count < 0))
        err = ERR_NOMEM;
    int code = exit_code(err);
    if (code == EXIT_GOOD && (old.fault_count > 0 || old.too_wide)) {
        (void)fprintf(stderr, "cairn track: readings.csv has rows that are not well formed: mend "
                              "them first; nothing was added\n");
        code = EXIT_INPUT;
    }
    if (code == EXIT_GOOD && count > 0) {
        err = readings_table_join(&old, &more, wanted, &out);
        code = exit_code(
            err == ERR_OK ? file_write(source->path, "readings.csv", out.bytes, out.len) : err);
    }
    if (code == EXIT_GOOD)
        (void)printf("%d readings added, %zu there already or refused\n", count,
                     (more.rows > 0 ? more.rows - 1 : 0) - (size_t)count);
    csv_rows_clear(&old);
    csv_rows_clear(&more);
    textbuf_clear(&out);
    free(wanted);
    return code;
}
