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
#include "format/csv_columns.h"
#include "format/extra.h"
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

/* The words of a reason, kept with the file; NULL when memory is out. */
static const char *keep_text(struct reading_file *file, const struct textbuf *text) {
    return text->failed ? NULL : arena_text(file->arena, textbuf_text(text), text->len);
}

static int reject_row(struct reader *r, const struct textbuf *reason) {
    struct reading_file *file = r->file;
    struct reading_reject *rejects =
        array_reserve(file->rejects, &file->rejects_cap, file->wrong + 1, sizeof *rejects);
    const char *kept = keep_text(file, reason);
    if (rejects != NULL)
        file->rejects = rejects;
    if (rejects == NULL || kept == NULL)
        return ERR_NOMEM;
    const struct csv *csv = &r->table.csv;
    rejects[file->wrong++] = (struct reading_reject){csv->line, csv->next_line, kept};
    problems_add(r->problems, PROBLEM_ERROR, r->name, csv->line, "%s", kept);
    return ERR_OK;
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

static int apply_form(const struct reader *r, struct reading_text *text, struct textbuf *reason) {
    const struct csv_columns *t = &r->table;
    const char *channel = "";
    if (r->options->form->channel_count > 0)
        channel = csv_columns_field(t, READING_FIELD_COUNT);
    char *bare = copy_field(t->arena, channel, true);
    if (bare == NULL)
        return ERR_NOMEM;
    int err = device_form_apply(r->options->form, t->arena, bare, text, reason);
    bool names_none = err == ERR_OK && *text->field[READING_POINT] == '\0';
    if (names_none && r->options->point != NULL)
        text->field[READING_POINT] = r->options->point;
    return err;
}

/* A pulse of a device that names itself (desk) needs no car; its time then is what it is. */
static bool form_is_good(const struct reading_text *text, struct textbuf *reason) {
    struct reading_text with_car = *text;
    if (*text->field[READING_CAR] != '\0' || *extra_value(text->extras, "desk") == '\0')
        return reading_form_is_good(text, reason);
    if (*text->field[READING_TIME] == '\0' && *text->field[READING_ELAPSED] == '\0') {
        textbuf_puts(reason, "it names neither a car nor a time");
        return false;
    }
    with_car.field[READING_CAR] = "1";
    return reading_form_is_good(&with_car, reason);
}

static int take_row(struct reader *r, struct textbuf *reason) {
    struct reading_row row = {.line = r->table.csv.line, .behind = r->table.csv.next_line};
    bool good = take_fields(r, &row.text, reason);
    int err = is_whole(&row.text) ? csv_columns_extras(&r->table, &row.text.extras) : ERR_NOMEM;
    if (err == ERR_OK && !good)
        err = ERR_INPUT;
    if (err == ERR_OK)
        err = apply_form(r, &row.text, reason);
    if (err == ERR_OK && !form_is_good(&row.text, reason))
        err = ERR_INPUT;
    return err == ERR_OK ? keep_row(r, &row, reason) : err;
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
        if (err == ERR_INPUT)
            err = reject_row(r, &reason);
    }
    textbuf_clear(&reason);
    return err;
}

enum { COLUMNS = READING_FIELD_COUNT + 1 };

static int open_table(struct reader *r, const char *text, size_t len, struct problems *problems) {
    struct column columns[COLUMNS];
    const char *headings[COLUMNS];
    const struct device_form *form = r->options->form;
    const struct column_map *map = &form->map;
    bool has_channels = form->channel_count > 0;
    bool has_point = r->options->point != NULL || has_channels;
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        headings[i] = map->heading[i];
        bool required = headings[i] != NULL || (i == READING_CAR && form->desk == NULL) ||
                        (i == READING_POINT && !has_point);
        columns[i] = (struct column){reading_field_names[i], required};
    }
    headings[READING_FIELD_COUNT] = map->channel;
    columns[READING_FIELD_COUNT] = (struct column){"channel", true};
    size_t count = has_channels ? COLUMNS : READING_FIELD_COUNT;
    struct arena *arena = r->file->arena;
    if (!map->numbered)
        return csv_columns_open_device(&r->table, r->name, text, len, columns, headings, count,
                                       arena, problems);
    for (size_t i = 0; i < count; i++) {
        if (!columns[i].required || map->place[i] > 0)
            continue;
        problems_add(problems, PROBLEM_ERROR, r->name, 0, "--columns names no column for “%s”",
                     columns[i].name);
        return ERR_INPUT;
    }
    return csv_columns_open_numbered(&r->table, r->name, text, len, columns, map->place, count,
                                     arena, problems);
}

/* Of a part of a file: warnings of the header were told with the first. */
static int open_part(struct reader *r, const char *text, size_t len) {
    struct problems again = {0};
    int err = open_table(r, text, len, &again);
    if (problems_out_of_memory(&again))
        err = ERR_NOMEM;
    problems_clear(&again);
    r->table.problems = r->problems;
    r->table.csv.next_line = r->options->first_line;
    csv_lines_alone(&r->table.csv);
    return err;
}

int reading_file_read(const char *name, const char *text, size_t len,
                      const struct reading_file_options *options, struct problems *problems,
                      struct reading_file *out) {
    *out = (struct reading_file){.arena = arena_new()};
    struct reader r = {.options = options, .name = name, .problems = problems, .file = out};
    if (out->arena == NULL)
        return ERR_NOMEM;
    bool is_part = options->first_line > 0;
    int err = is_part ? open_part(&r, text, len) : open_table(&r, text, len, problems);
    if (err == ERR_INPUT && !is_part && !options->form->map.numbered)
        tell_headings(&r);
    if (err == ERR_OK)
        err = rename_extras(&r);
    if (err == ERR_OK)
        err = read_rows(&r);
    out->behind = r.table.csv.next_line;
    if (problems_out_of_memory(problems))
        err = ERR_NOMEM;
    csv_columns_close(&r.table);
    strmap_clear(&r.by_id);
    return err;
}

void reading_file_clear(struct reading_file *file) {
    free(file->rows);
    free(file->rejects);
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
