/* SPDX-License-Identifier: MIT */
#include "remote/reading_file.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "event/fact.h"
#include "event/reading_form.h"
#include "format/json_write.h"

struct reader {
    const struct reading_file_options *options;
    const char *name;
    struct csv_columns table;
    struct strmap by_id; /* place among the rows */
    struct problems *problems;
    struct reading_file *file;
};

/* A column of ours that is kept as an extra, because the map takes its values from elsewhere, must
 * not pass for the mapped one when it is sent. */
static int rename_extras(const struct reader *r) {
    const struct csv_columns *t = &r->table;
    for (size_t i = 0; i < t->header_count; i++) {
        for (int f = 0; !t->known[i] && f < READING_FIELD_COUNT; f++) {
            if (strcmp(t->header[i], reading_field_names[f]) != 0)
                continue;
            struct textbuf b = {0};
            textbuf_printf(&b, "%s (file)", t->header[i]);
            t->header[i] = b.failed ? NULL : arena_text(t->arena, b.bytes, b.len);
            textbuf_clear(&b);
            if (t->header[i] == NULL)
                return ERR_NOMEM;
            break;
        }
    }
    return ERR_OK;
}

/* Where columns are missing: which ones there are, so that a person can name them. */
static void tell_headings(const struct reader *r) {
    const struct csv_columns *t = &r->table;
    struct textbuf b = {0};
    if (r->problems->by_level[PROBLEM_ERROR] == 0 || t->header == NULL)
        return;
    for (size_t i = 0; i < t->header_count && t->header[i] != NULL; i++)
        textbuf_printf(&b, "%s“%s”", i > 0 ? ", " : "", t->header[i]);
    problems_add(r->problems, PROBLEM_ERROR, r->name, t->csv.line,
                 "the columns are %s; name them with --map, such as --map car=Nr,time=Zeit",
                 textbuf_text(&b));
    textbuf_clear(&b);
}

static bool keeps_blanks(int field) {
    return field == READING_BY || field == READING_REASON;
}

static char *copy_field(struct arena *arena, const char *text, bool bare) {
    size_t len = strlen(text);
    while (bare && len > 0 && (*text == ' ' || *text == '\t')) {
        text++;
        len--;
    }
    while (bare && len > 0 && (text[len - 1] == ' ' || text[len - 1] == '\t'))
        len--;
    return arena_text(arena, text, len);
}

/* Turns a decimal comma into a point. False where it may separate thousands. Other texts stay as
 * they are: the parser of times says what is wrong with them. */
static bool take_decimal_comma(char *text, bool commas_separate) {
    char *comma = strchr(text, ',');
    if (comma == NULL || strpbrk(comma + 1, ",.:") != NULL || strchr(text, '.') != NULL)
        return true;
    size_t decimals = strlen(comma + 1);
    bool zero = comma == text + 1 && *text == '0'; /* "0,123" is no number of thousands */
    if (strchr(text, ':') == NULL && commas_separate && decimals == 3 && !zero)
        return false;
    *comma = '.';
    return true;
}

/* The fields of the row just read, with the gaps filled. False with a reason; NULL in a field
 * where memory is out. */
static bool take_fields(const struct reader *r, struct reading_text *text, struct textbuf *reason) {
    const struct csv_columns *t = &r->table;
    bool good = true;
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        char *field = copy_field(t->arena, csv_columns_field(t, (size_t)i), !keeps_blanks(i));
        bool is_time = i == READING_TIME || i == READING_ELAPSED;
        if (field != NULL && is_time && !take_decimal_comma(field, t->csv.separator == ',')) {
            textbuf_printf(reason, "%s “%s” may mean thousands: write it with a point",
                           reading_field_names[i], field);
            good = false;
        }
        text->field[i] = field;
    }
    if (r->options->point != NULL && text->field[READING_POINT] != NULL &&
        *text->field[READING_POINT] == '\0')
        text->field[READING_POINT] = r->options->point;
    if (r->options->by != NULL && text->field[READING_BY] != NULL &&
        *text->field[READING_BY] == '\0')
        text->field[READING_BY] = r->options->by;
    return good;
}

static bool is_whole(const struct reading_text *text) {
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        if (text->field[i] == NULL)
            return false;
    }
    return true;
}

/* Gives the row its id and its digest. */
static int name_row(struct arena *arena, struct reading_row *row) {
    struct textbuf b = {0};
    int err = ERR_OK;
    if (*row->text.field[READING_ID] == '\0') {
        reading_derive_id(&row->text, &b);
        row->text.field[READING_ID] = b.failed ? NULL : arena_text(arena, b.bytes, b.len);
    }
    textbuf_reset(&b);
    if (row->text.field[READING_ID] == NULL) {
        err = ERR_NOMEM;
    } else {
        fact_derive_id(row->text.field, READING_FIELD_COUNT, &b);
        if (b.failed)
            err = ERR_NOMEM;
        else
            memcpy(row->digest, b.bytes, sizeof row->digest);
    }
    textbuf_clear(&b);
    return err;
}

static int keep_row(struct reader *r, struct reading_row *row, struct textbuf *reason) {
    struct reading_file *file = r->file;
    int err = name_row(file->arena, row);
    if (err != ERR_OK)
        return err;
    int32_t same = strmap_get(&r->by_id, row->text.field[READING_ID]);
    if (same >= 0 && strcmp(file->rows[same].digest, row->digest) == 0) {
        file->repeated++;
        return ERR_OK;
    }
    if (same >= 0) {
        textbuf_printf(reason, "id “%s” stands on line %ld with other content",
                       row->text.field[READING_ID], file->rows[same].line);
        return ERR_INPUT;
    }
    struct reading_row *rows = array_reserve(file->rows, &file->cap, file->count + 1, sizeof *rows);
    if (rows == NULL)
        return ERR_NOMEM;
    file->rows = rows;
    err = strmap_put(&r->by_id, row->text.field[READING_ID], (int32_t)file->count);
    if (err == ERR_OK)
        rows[file->count++] = *row;
    return err;
}

static int take_row(struct reader *r, struct textbuf *reason) {
    struct reading_row row = {.line = r->table.csv.line};
    bool good = take_fields(r, &row.text, reason);
    int err = is_whole(&row.text) ? csv_columns_extras(&r->table, &row.text.extras) : ERR_NOMEM;
    if (err != ERR_OK)
        return err;
    return good && reading_form_is_good(&row.text, reason) ? keep_row(r, &row, reason) : ERR_INPUT;
}

static int read_rows(struct reader *r) {
    struct textbuf reason = {0};
    int err = ERR_OK;
    while (err == ERR_OK) {
        enum csv_result result = csv_columns_next(&r->table);
        if (result == CSV_END)
            break;
        textbuf_reset(&reason);
        if (result == CSV_BAD)
            textbuf_puts(&reason, r->table.csv.wrong);
        err = result == CSV_NOMEM ? ERR_NOMEM
              : result == CSV_BAD ? ERR_INPUT
                                  : take_row(r, &reason);
        if (reason.failed)
            err = ERR_NOMEM;
        if (err == ERR_INPUT) {
            problems_add(r->problems, PROBLEM_ERROR, r->name, r->table.csv.line, "%s",
                         textbuf_text(&reason));
            r->file->wrong++;
            err = ERR_OK;
        }
    }
    textbuf_clear(&reason);
    return err;
}

/* Spreadsheets like to save "Unicode text" two bytes a letter. */
static bool is_utf16(const char *text, size_t len) {
    return len >= 2 && (memcmp(text, "\xFF\xFE", 2) == 0 || memcmp(text, "\xFE\xFF", 2) == 0);
}

int reading_file_read(const char *name, const char *text, size_t len,
                      const struct reading_file_options *options, struct problems *problems,
                      struct reading_file *out) {
    struct column columns[READING_FIELD_COUNT];
    const char *headings[READING_FIELD_COUNT];
    *out = (struct reading_file){.arena = arena_new()};
    struct reader r = {.options = options, .name = name, .problems = problems, .file = out};
    if (out->arena == NULL)
        return ERR_NOMEM;
    if (is_utf16(text, len)) {
        problems_add(problems, PROBLEM_ERROR, name, 0, "the text is UTF-16: save it as UTF-8");
        return ERR_INPUT;
    }
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        headings[i] = options->map == NULL ? NULL : options->map->heading[i];
        bool required = headings[i] != NULL || i == READING_CAR ||
                        (i == READING_POINT && options->point == NULL);
        columns[i] = (struct column){reading_field_names[i], required};
    }
    int err = csv_columns_open_device(&r.table, name, text, len, columns, headings,
                                      READING_FIELD_COUNT, out->arena, problems);
    if (err == ERR_INPUT)
        tell_headings(&r);
    if (err == ERR_OK)
        err = rename_extras(&r);
    if (err == ERR_OK)
        err = read_rows(&r);
    if (problems_out_of_memory(problems))
        err = ERR_NOMEM;
    csv_columns_close(&r.table);
    strmap_clear(&r.by_id);
    return err;
}

void reading_file_clear(struct reading_file *file) {
    free(file->rows);
    arena_free(file->arena);
    *file = (struct reading_file){0};
}

static void write_member(struct textbuf *b, const char *name, const char *value) {
    if (*value != '\0')
        json_member_text(b, name, value);
}

void reading_row_write_json(const struct reading_row *row, struct textbuf *b) {
    json_open_object(b);
    for (int i = 0; i < READING_FIELD_COUNT; i++)
        write_member(b, reading_field_names[i], row->text.field[i]);
    for (const struct extra *e = row->text.extras; e != NULL; e = e->next)
        write_member(b, e->name, e->value);
    json_close_object(b);
}
