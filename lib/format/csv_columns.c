/* SPDX-License-Identifier: MIT */
#include "format/csv_columns.h"

#include <stdio.h>
#include <string.h>
#include <strings.h>

#include "base/arena.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"

static const char *heading_of(const struct csv_columns *t, size_t i) {
    return t->headings != NULL && t->headings[i] != NULL ? t->headings[i] : t->columns[i].name;
}

static int column_named(const struct csv_columns *t, const char *name) {
    for (size_t i = 0; i < t->column_count; i++) {
        if (strcmp(heading_of(t, i), name) == 0)
            return (int)i;
    }
    return -1;
}

/* The columns are counted before anything is done for each of them. */
static bool too_many_columns(const struct csv_columns *t) {
    if (t->csv.count > t->column_count + EXTRAS_MAX)
        return true;
    size_t extras = 0;
    for (size_t i = 0; i < t->csv.count; i++)
        extras += column_named(t, t->csv.fields[i]) < 0;
    return extras > EXTRAS_MAX;
}

/* Whether a column's name begins with another, or that with it, whatever the capitals. */
static bool are_near(const char *a, const char *b) {
    enum { NEAR_MIN = 3 };
    b += strspn(b, " ");
    size_t len = strlen(a) < strlen(b) ? strlen(a) : strlen(b);
    return len >= NEAR_MIN && strncasecmp(a, b, len) == 0;
}

/* The column that an unknown name is near to and that the header lacks: “Born”, “coeff”, “group”.
 * NULL where there is none. */
static const char *column_near(const struct csv_columns *t, const char *name) {
    for (size_t i = 0; i < t->column_count; i++) {
        bool there = !are_near(heading_of(t, i), name);
        for (size_t j = 0; j < t->csv.count && !there; j++)
            there = strcmp(t->csv.fields[j], heading_of(t, i)) == 0;
        if (!there)
            return heading_of(t, i);
    }
    return NULL;
}

/* An unknown column is kept under its name; a second one of that name gets a number, so that both
 * can be written again. */
static int name_extra(struct csv_columns *t, size_t i) {
    const char *name = t->header[i];
    int same = 1;
    for (size_t j = 0; j < i; j++)
        same += !t->known[j] && strcmp(t->csv.fields[j], t->csv.fields[i]) == 0;
    const char *near = column_near(t, name);
    problems_add(t->problems, PROBLEM_WARNING, t->file, t->csv.line,
                 "column “%s” is not known; it is kept, and nothing else%s%s%s", name,
                 near != NULL ? ": is “" : "", near != NULL ? near : "",
                 near != NULL ? "” meant?" : "");
    if (same == 1)
        return ERR_OK;
    struct textbuf b = {0};
    textbuf_printf(&b, "%s (%d)", name, same);
    t->header[i] = b.failed ? NULL : arena_text(t->arena, b.bytes, b.len);
    textbuf_clear(&b);
    return t->header[i] == NULL ? ERR_NOMEM : ERR_OK;
}

static int read_header(struct csv_columns *t) {
    size_t errors_before = t->problems->by_level[PROBLEM_ERROR];
    size_t count = t->csv.count;
    if (too_many_columns(t)) {
        problems_add(t->problems, PROBLEM_ERROR, t->file, t->csv.line,
                     "the header has %zu columns: at most %d that are not known are kept", count,
                     EXTRAS_MAX);
        return ERR_INPUT;
    }
    t->header_count = count;
    t->header = arena_array(t->arena, count, sizeof *t->header);
    t->known = arena_array(t->arena, count, sizeof *t->known);
    if (t->header == NULL || t->known == NULL)
        return ERR_NOMEM;
    if (count == 1 && strchr(t->csv.fields[0], '\t') != NULL) {
        problems_add(t->problems, PROBLEM_ERROR, t->file, t->csv.line,
                     "the columns are set apart by tabs: commas or semicolons are needed");
        return ERR_INPUT;
    }
    for (size_t i = 0; i < count; i++) {
        const char *name = t->csv.fields[i];
        t->header[i] = arena_text(t->arena, name, strlen(name));
        if (t->header[i] == NULL)
            return ERR_NOMEM;
        int column = column_named(t, name);
        t->known[i] = column >= 0;
        if (column >= 0 && t->field_of[column] >= 0)
            problems_add(t->problems, PROBLEM_ERROR, t->file, t->csv.line,
                         "column “%s” stands twice", name);
        else if (column >= 0)
            t->field_of[column] = (int)i;
        else if (name_extra(t, i) != ERR_OK)
            return ERR_NOMEM;
    }
    t->header_is_read = true;
    for (size_t i = 0; i < t->column_count; i++) {
        if (t->columns[i].required && t->field_of[i] < 0)
            problems_add(t->problems, PROBLEM_ERROR, t->file, t->csv.line, "column “%s” is missing",
                         heading_of(t, i));
    }
    return t->problems->by_level[PROBLEM_ERROR] > errors_before ? ERR_INPUT : ERR_OK;
}

/* Sets up all but the text. */
static void begin(struct csv_columns *t, const char *file, const struct column *columns,
                  size_t count, struct arena *arena, struct problems *problems) {
    *t = (struct csv_columns){.file = file,
                              .columns = columns,
                              .column_count = count,
                              .arena = arena,
                              .problems = problems};
    for (size_t i = 0; i < CSV_COLUMNS_MAX; i++)
        t->field_of[i] = -1;
}

static int open_header(struct csv_columns *t) {
    if (t->is_device)
        csv_pass_notes(&t->csv);
    switch (csv_next(&t->csv)) {
    case CSV_ROW:
        return read_header(t);
    case CSV_END:
        problems_add(t->problems, PROBLEM_ERROR, t->file, 1,
                     "the file is empty: it needs a header row");
        return ERR_INPUT;
    case CSV_BAD:
        problems_add(t->problems, PROBLEM_ERROR, t->file, t->csv.line, "%s", t->csv.wrong);
        return ERR_INPUT;
    case CSV_NOMEM:
        break;
    }
    return ERR_NOMEM;
}

int csv_columns_open(struct csv_columns *t, const char *file, const char *text, size_t len,
                     const struct column *columns, size_t count, struct arena *arena,
                     struct problems *problems) {
    begin(t, file, columns, count, arena, problems);
    csv_init(&t->csv, text, len);
    return open_header(t);
}

int csv_columns_open_device(struct csv_columns *t, const char *file, const char *text, size_t len,
                            const struct column *columns, const char *const *headings, size_t count,
                            struct arena *arena, struct problems *problems) {
    begin(t, file, columns, count, arena, problems);
    t->headings = headings;
    csv_init(&t->csv, text, len);
    csv_allow_tabs(&t->csv);
    t->is_device = true;
    return open_header(t);
}

int csv_columns_open_numbered(struct csv_columns *t, const char *file, const char *text, size_t len,
                              const struct column *columns, const int *places, size_t count,
                              struct arena *arena, struct problems *problems) {
    begin(t, file, columns, count, arena, problems);
    csv_init(&t->csv, text, len);
    csv_lines_alone(&t->csv);
    t->is_device = true;
    t->is_numbered = true;
    t->header_count = CSV_COLUMNS_MAX + EXTRAS_MAX;
    t->header = arena_array(arena, t->header_count, sizeof *t->header);
    t->known = arena_array(arena, t->header_count, sizeof *t->known);
    if (t->header == NULL || t->known == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < t->header_count; i++) {
        char name[sizeof "column 96"];
        (void)snprintf(name, sizeof name, "column %u", (unsigned)(i + 1) % 100);
        t->header[i] = arena_text(arena, name, strlen(name));
        t->known[i] = false;
        if (t->header[i] == NULL)
            return ERR_NOMEM;
    }
    for (size_t i = 0; i < count; i++) {
        t->field_of[i] = places[i] - 1;
        if (places[i] > 0)
            t->known[places[i] - 1] = true;
        if ((size_t)places[i] > t->least)
            t->least = (size_t)places[i];
    }
    t->header_is_read = true;
    return ERR_OK;
}

static enum csv_result next_numbered(struct csv_columns *t) {
    csv_separate_next(&t->csv);
    enum csv_result result = csv_next(&t->csv);
    if (result != CSV_ROW || (t->csv.count >= t->least && t->csv.count <= t->header_count))
        return result;
    t->csv.wrong = t->csv.count < t->least ? "fewer fields than there are columns named"
                                           : "more fields than a row may have";
    return CSV_BAD;
}

enum csv_result csv_columns_next(struct csv_columns *t) {
    if (t->is_device)
        csv_pass_notes(&t->csv);
    if (t->is_numbered)
        return next_numbered(t);
    enum csv_result result = csv_next(&t->csv);
    if (result == CSV_ROW && t->csv.count != t->header_count) {
        t->csv.wrong = t->csv.count < t->header_count ? "fewer fields than the header has"
                       : t->csv.separator == ','
                           ? "more fields than the header has: a comma parts fields; write numbers "
                             "with a point, and put a text with commas in quotes"
                           : "more fields than the header has: a semicolon parts fields; put a "
                             "text with semicolons in quotes";
        return CSV_BAD;
    }
    return result;
}

bool csv_columns_has(const struct csv_columns *t, size_t i) {
    return t->field_of[i] >= 0;
}

const char *csv_columns_field(const struct csv_columns *t, size_t i) {
    return t->field_of[i] < 0 ? "" : t->csv.fields[t->field_of[i]];
}

int csv_columns_extras(const struct csv_columns *t, struct extra **out) {
    struct extra *first = NULL;
    struct extra **last = &first;
    for (size_t i = 0; i < t->header_count && i < t->csv.count; i++) {
        /* A spreadsheet's empty columns at the end hold nothing to keep. */
        if (t->known[i] || *t->csv.fields[i] == '\0')
            continue;
        struct extra *extra = arena_alloc(t->arena, sizeof *extra);
        char *value = arena_text(t->arena, t->csv.fields[i], strlen(t->csv.fields[i]));
        if (extra == NULL || value == NULL)
            return ERR_NOMEM;
        *extra = (struct extra){t->header[i], value, NULL};
        *last = extra;
        last = &extra->next;
    }
    *out = first;
    return ERR_OK;
}

void csv_columns_close(struct csv_columns *t) {
    csv_clear(&t->csv);
}
