/* SPDX-License-Identifier: MIT */
#include "office/entry_import.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/entries.h"
#include "format/csv.h"
#include "format/csv_rows.h"
#include "format/json_write.h"

static const char file[] = "entries.csv";

/* No row; rows of a table begin at 1, behind the header. */
enum { NO_ROW = 0 };

/* A row of the new list: from the old list, from what was given, or from both. */
struct joined {
    size_t old, given; /* rows of the two tables, or NO_ROW */
    long line;         /* where it begins in the new list */
    int row;           /* its place among the import's rows, -1 where it was not given */
};

struct joining {
    struct entry_import *out;
    struct csv_rows now, given;
    size_t *now_of; /* rows by number */
    size_t *given_of;
    const char **columns; /* of the new list */
    int *column_of_now;   /* and where each stands in the two tables, -1 where it does not */
    int *column_of_given;
    size_t column_count;
    struct joined *rows;
    size_t count;
    bool whole;
};

void entry_import_clear(struct entry_import *import) {
    free(import->rows);
    textbuf_clear(&import->text);
    arena_free(import->arena);
    *import = (struct entry_import){0};
}

static void joining_clear(struct joining *j) {
    csv_rows_clear(&j->now);
    csv_rows_clear(&j->given);
    free(j->now_of);
    free(j->given_of);
    free(j->columns);
    free(j->column_of_now);
    free(j->column_of_given);
    free(j->rows);
}

static const char *kept(struct entry_import *import, const char *text) {
    return arena_text(import->arena, text, strlen(text));
}

static int add_row(struct entry_import *out, const struct import_row *row) {
    struct import_row *rows = array_reserve(out->rows, &out->cap, out->count + 1, sizeof *rows);
    if (rows == NULL || row->number == NULL || row->driver == NULL || row->navigator == NULL ||
        (row->result == IMPORT_REFUSED && row->reason == NULL))
        return ERR_NOMEM;
    out->rows = rows;
    rows[out->count++] = *row;
    out->refused += row->result == IMPORT_REFUSED;
    return ERR_OK;
}

/* Headers of spreadsheets may have capitals; names of columns are in lower case. */
static int fold_header(struct csv_rows *table) {
    for (size_t i = 0; table->rows > 0 && i < table->columns; i++) {
        char *name = arena_text(table->arena, table->cells[i], strlen(table->cells[i]));
        if (name == NULL)
            return ERR_NOMEM;
        for (char *p = name; *p != '\0'; p++) {
            if (*p >= 'A' && *p <= 'Z')
                *p = (char)(*p - 'A' + 'a');
        }
        table->cells[i] = name;
    }
    return ERR_OK;
}

/* The columns of the new list: the old ones in their order, then those that are new. */
static int join_columns(struct joining *j) {
    size_t most = j->now.columns + j->given.columns + 1;
    j->columns = calloc(most, sizeof *j->columns);
    j->column_of_now = calloc(most, sizeof *j->column_of_now);
    j->column_of_given = calloc(most, sizeof *j->column_of_given);
    if (j->columns == NULL || j->column_of_now == NULL || j->column_of_given == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; !j->whole && j->now.rows > 0 && i < j->now.columns; i++)
        j->columns[j->column_count++] = j->now.cells[i];
    for (size_t i = 0; i < j->given.columns; i++) {
        if (j->whole || csv_rows_find(&j->now, j->given.cells[i]) < 0)
            j->columns[j->column_count++] = j->given.cells[i];
    }
    for (size_t i = 0; i < j->column_count; i++) {
        j->column_of_now[i] = csv_rows_find(&j->now, j->columns[i]);
        j->column_of_given[i] = csv_rows_find(&j->given, j->columns[i]);
    }
    return ERR_OK;
}

/* The number of a row, 0 where it is none. */
static size_t number_of(const struct csv_rows *table, size_t row, int column) {
    int64_t number = 0;
    return decimal_parse_whole(csv_rows_cell(table, row, column), 1, NUMBER_MAX, &number) == ERR_OK
               ? (size_t)number
               : 0;
}

static const char *joined_cell(const struct joining *j, const struct joined *row, size_t i) {
    if (row->given != NO_ROW && j->column_of_given[i] >= 0)
        return csv_rows_cell(&j->given, row->given, j->column_of_given[i]);
    return j->whole || row->old == NO_ROW ? ""
                                          : csv_rows_cell(&j->now, row->old, j->column_of_now[i]);
}

static const char *named_cell(const struct joining *j, const struct joined *row, const char *name) {
    for (size_t i = 0; i < j->column_count; i++) {
        if (strcmp(j->columns[i], name) == 0)
            return joined_cell(j, row, i);
    }
    return "";
}

static int add_change(struct joining *j, struct import_change ***end, const char *column,
                      const char *before, const char *now) {
    if (strcmp(before, now) == 0)
        return ERR_OK;
    struct import_change *change = arena_alloc(j->out->arena, sizeof *change);
    if (change == NULL)
        return ERR_NOMEM;
    *change =
        (struct import_change){kept(j->out, column), kept(j->out, before), kept(j->out, now), NULL};
    if (change->column == NULL || change->before == NULL || change->now == NULL)
        return ERR_NOMEM;
    **end = change;
    *end = &change->next;
    return ERR_OK;
}

/* What differs between a row of the old list and what it becomes. */
static int compare(struct joining *j, const struct joined *joined, struct import_row *row) {
    struct import_change **end = &row->changes;
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < j->column_count; i++) {
        if (strcmp(j->columns[i], "number") != 0)
            err = add_change(j, &end, j->columns[i],
                             csv_rows_cell(&j->now, joined->old, j->column_of_now[i]),
                             joined_cell(j, joined, i));
    }
    for (size_t i = 0; err == ERR_OK && j->whole && i < j->now.columns; i++) {
        if (csv_rows_find(&j->given, j->now.cells[i]) < 0)
            err = add_change(j, &end, j->now.cells[i], csv_rows_cell(&j->now, joined->old, (int)i),
                             "");
    }
    row->result = row->changes == NULL ? IMPORT_SAME : IMPORT_CHANGED;
    return err;
}

/* Adds a given row to the import's rows and, unless a row before it has the same number, to the new
 * list. */
static int join_given(struct joining *j, size_t given, int number_column) {
    size_t number = number_of(&j->given, given, number_column);
    struct joined joined = {
        .given = given, .old = number == 0 ? NO_ROW : j->now_of[number], .row = (int)j->out->count};
    struct import_row row = {.line = j->given.lines[given],
                             .number = kept(j->out, csv_rows_cell(&j->given, given, number_column)),
                             .driver = kept(j->out, named_cell(j, &joined, "driver")),
                             .navigator = kept(j->out, named_cell(j, &joined, "navigator")),
                             .result = IMPORT_ADDED};
    if (number != 0 && j->given_of[number] != NO_ROW) {
        struct textbuf why = {0};
        textbuf_printf(&why, "number %zu stands twice, first in line %ld", number,
                       j->given.lines[j->given_of[number]]);
        row.result = IMPORT_REFUSED;
        row.reason = why.failed ? NULL : kept(j->out, textbuf_text(&why));
        textbuf_clear(&why);
        return add_row(j->out, &row);
    }
    if (number != 0)
        j->given_of[number] = given;
    int err = joined.old != NO_ROW ? compare(j, &joined, &row) : ERR_OK;
    if (err == ERR_OK)
        err = add_row(j->out, &row);
    j->rows[j->count++] = joined;
    return err;
}

/* Orders the new list: cars of the old list stay in their places, with the given row where there is
 * one, and new cars follow. */
static int join_rows(struct joining *j) {
    int old_column = csv_rows_find(&j->now, "number");
    int number_column = csv_rows_find(&j->given, "number");
    struct joined *order = calloc(j->now.rows + j->given.rows + 1, sizeof *order);
    size_t *place = calloc(j->now.rows + 1, sizeof *place);
    size_t count = 0;
    int err = order == NULL || place == NULL ? ERR_NOMEM : ERR_OK;
    for (size_t row = 1; row < j->now.rows; row++)
        j->now_of[number_of(&j->now, row, old_column)] = row;
    j->now_of[0] = NO_ROW;
    for (size_t row = 1; err == ERR_OK && row < j->given.rows; row++)
        err = join_given(j, row, number_column);
    for (size_t i = 0; err == ERR_OK && i < j->count; i++) {
        if (j->rows[i].old != NO_ROW)
            place[j->rows[i].old] = i + 1;
    }
    for (size_t row = 1; err == ERR_OK && !j->whole && row < j->now.rows; row++)
        order[count++] =
            place[row] > 0 ? j->rows[place[row] - 1] : (struct joined){.old = row, .row = -1};
    for (size_t i = 0; err == ERR_OK && i < j->count; i++) {
        if (j->whole || j->rows[i].old == NO_ROW)
            order[count++] = j->rows[i];
    }
    free(place);
    if (err != ERR_OK) {
        free(order);
        return err;
    }
    free(j->rows);
    j->rows = order;
    j->count = count;
    return ERR_OK;
}

/* Writes the new list, and where each row begins in it. */
static int write_list(struct joining *j) {
    struct textbuf *b = &j->out->text;
    for (size_t i = 0; i < j->column_count; i++) {
        textbuf_puts(b, i > 0 ? "," : "");
        csv_write_field(b, j->columns[i]);
    }
    textbuf_putc(b, '\n');
    long line = 1;
    size_t seen = 0;
    for (size_t row = 0; row < j->count; row++) {
        for (; seen < b->len; seen++)
            line += b->bytes[seen] == '\n';
        j->rows[row].line = line;
        for (size_t i = 0; i < j->column_count; i++) {
            textbuf_puts(b, i > 0 ? "," : "");
            csv_write_field(b, joined_cell(j, &j->rows[row], i));
        }
        textbuf_putc(b, '\n');
    }
    return b->failed ? ERR_NOMEM : ERR_OK;
}

/* Refuses a row, or adds one more thing that is wrong with it. */
static int refuse(struct entry_import *out, struct import_row *row, const char *text) {
    struct textbuf why = {0};
    if (row->result == IMPORT_REFUSED)
        textbuf_printf(&why, "%s; %s", row->reason, text);
    else
        textbuf_puts(&why, text);
    const char *reason = why.failed ? NULL : kept(out, textbuf_text(&why));
    textbuf_clear(&why);
    if (reason == NULL)
        return ERR_NOMEM;
    out->refused += row->result != IMPORT_REFUSED;
    row->result = IMPORT_REFUSED;
    row->reason = reason;
    return ERR_OK;
}

static int by_line(const void *a, const void *b) {
    long one = ((const struct joined *)a)->line;
    long other = ((const struct joined *)b)->line;
    return (one > other) - (one < other);
}

/* Refuses the given rows that problems of the new list are about. */
static int refuse_rows(struct joining *j, const struct problems *found, struct problems *problems) {
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < found->count; i++) {
        const struct problem *problem = &found->list[i];
        const char *colon = strrchr(problem->place, ':');
        const struct joined wanted = {.line = colon == NULL ? 0 : strtol(colon + 1, NULL, 10)};
        if (problem->level != PROBLEM_ERROR)
            continue;
        const struct joined *row = bsearch(&wanted, j->rows, j->count, sizeof *j->rows, by_line);
        if (row != NULL && row->row >= 0)
            err = refuse(j->out, &j->out->rows[row->row], problem->text);
        else
            problems_add_at(problems, PROBLEM_ERROR, problem->place, problem->text);
    }
    return err;
}

static int check_list(struct joining *j, const struct rules *rules, struct problems *problems) {
    struct problems found = {0};
    struct entries *entries = NULL;
    int err = entries_read(rules, j->out->text.bytes, j->out->text.len, NULL, 0, &found, &entries);
    if (err == ERR_OK || err == ERR_INPUT)
        err = refuse_rows(j, &found, problems);
    entries_free(entries);
    if (problems_out_of_memory(&found) || problems_out_of_memory(problems))
        err = ERR_NOMEM;
    problems_clear(&found);
    return err == ERR_OK && problems_fatal(problems) ? ERR_INPUT : err;
}

/* Rows that could not be read at all. */
static int add_faults(struct joining *j) {
    int err = ERR_OK;
    for (size_t i = 0; err == ERR_OK && i < j->given.fault_count; i++) {
        const struct csv_rows_fault *fault = &j->given.faults[i];
        const struct import_row row = {.line = fault->line,
                                       .number = "",
                                       .driver = "",
                                       .navigator = "",
                                       .result = IMPORT_REFUSED,
                                       .reason = fault->why};
        err = add_row(j->out, &row);
    }
    return err;
}

static int row_by_line(const void *a, const void *b) {
    long one = ((const struct import_row *)a)->line;
    long other = ((const struct import_row *)b)->line;
    return (one > other) - (one < other);
}

int entry_import_make(const struct rules *rules, const char *now, size_t now_len, const char *given,
                      size_t given_len, bool whole, struct problems *problems,
                      struct entry_import *out) {
    struct joining j = {.out = out, .whole = whole};
    out->arena = arena_new();
    j.now_of = calloc(NUMBER_MAX + 1, sizeof *j.now_of);
    j.given_of = calloc(NUMBER_MAX + 1, sizeof *j.given_of);
    int err = out->arena == NULL || j.now_of == NULL || j.given_of == NULL ? ERR_NOMEM : ERR_OK;
    if (err == ERR_OK)
        err = csv_rows_read(&j.now, now, now_len, false);
    if (err == ERR_OK)
        err = csv_rows_read(&j.given, given, given_len, true);
    if (err == ERR_OK)
        err = fold_header(&j.given);
    if (err == ERR_OK && (j.given.too_wide || j.now.too_wide)) {
        problems_add(problems, PROBLEM_ERROR, file, 0, "has more than %d columns",
                     CSV_ROWS_COLUMNS_MAX);
        err = ERR_INPUT;
    }
    if (err == ERR_OK && csv_rows_find(&j.given, "number") < 0) {
        problems_add(problems, PROBLEM_ERROR, file, j.given.rows > 0 ? j.given.lines[0] : 0,
                     "there is no column “number” in the first row");
        err = ERR_INPUT;
    }
    j.rows = calloc(j.given.rows + 1, sizeof *j.rows);
    if (j.rows == NULL)
        err = ERR_NOMEM;
    if (err == ERR_OK)
        err = join_columns(&j);
    if (err == ERR_OK)
        err = join_rows(&j);
    if (err == ERR_OK)
        err = write_list(&j);
    if (err == ERR_OK)
        err = check_list(&j, rules, problems);
    if (err == ERR_OK || err == ERR_INPUT)
        err = add_faults(&j) == ERR_OK ? err : ERR_NOMEM;
    if (out->count > 0)
        qsort(out->rows, out->count, sizeof *out->rows, row_by_line);
    joining_clear(&j);
    return problems_out_of_memory(problems) ? ERR_NOMEM : err;
}

static void write_changes(struct textbuf *b, const struct import_row *row) {
    json_member_array(b, "changes");
    for (const struct import_change *c = row->changes; c != NULL; c = c->next) {
        json_open_object(b);
        json_member_text(b, "column", c->column);
        json_member_text(b, "before", c->before);
        json_member_text(b, "now", c->now);
        json_close_object(b);
    }
    json_close_array(b);
}

void entry_import_write_json(struct textbuf *b, const struct entry_import *import) {
    static const char *const words[] = {"added", "changed", "same", "refused"};
    json_open_array(b);
    for (size_t i = 0; i < import->count; i++) {
        const struct import_row *row = &import->rows[i];
        json_line(b);
        json_open_object(b);
        json_member_int(b, "line", row->line);
        json_member_text(b, "result", words[row->result]);
        json_member_text(b, "number", row->number);
        json_member_text(b, "driver", row->driver);
        json_member_text(b, "navigator", row->navigator);
        if (row->result == IMPORT_CHANGED)
            write_changes(b, row);
        if (row->result == IMPORT_REFUSED)
            json_member_text(b, "reason", row->reason);
        json_close_object(b);
    }
    json_close_array(b);
}
