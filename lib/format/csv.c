/* SPDX-License-Identifier: MIT */
#include "format/csv.h"

#include <stdlib.h>
#include <string.h>

#include "base/array.h"
#include "base/textbuf.h"
#include "base/utf8.h"

/* The end of an open quote is searched for up to the end of the text. In a text with an open quote
 * on each line the work would grow with the square of its length: after this many, a field ends
 * with its line. */
enum { OPEN_QUOTES_MAX = 8 };

/* The separator is the one that is more frequent in the first row, outside quotes. */
static char separator_of(const char *p, const char *end, bool tabs_too) {
    long commas = 0;
    long semicolons = 0;
    long tabs = 0;
    bool quoted = false;
    for (; p < end && (quoted || (*p != '\n' && *p != '\r')); p++) {
        if (*p == '"')
            quoted = !quoted;
        else if (!quoted && *p == ',')
            commas++;
        else if (!quoted && *p == ';')
            semicolons++;
        else if (!quoted && *p == '\t')
            tabs++;
    }
    if (tabs_too && tabs > commas && tabs > semicolons)
        return '\t';
    return semicolons > commas ? ';' : ',';
}

static void find_separator(struct csv *csv, bool tabs_too) {
    const char *head = csv->at;
    while (head < csv->end && (*head == '\n' || *head == '\r'))
        head++;
    csv->stops[(unsigned char)csv->separator] = false;
    csv->separator = separator_of(head, csv->end, tabs_too);
    csv->stops['\n'] = csv->stops['\r'] = csv->stops[(unsigned char)csv->separator] = true;
}

void csv_init(struct csv *csv, const char *text, size_t len) {
    *csv = (struct csv){.at = text, .end = text + len, .next_line = 1};
    if (len >= 3 && memcmp(text, "\xEF\xBB\xBF", 3) == 0)
        csv->at += 3;
    find_separator(csv, false);
}

void csv_allow_tabs(struct csv *csv) {
    find_separator(csv, true);
}

void csv_lines_alone(struct csv *csv) {
    csv->open_quotes = OPEN_QUOTES_MAX;
}

void csv_separate_next(struct csv *csv) {
    long commas = 0;
    long semicolons = 0;
    long tabs = 0;
    const char *p = csv->at;
    while (p < csv->end && (*p == '\n' || *p == '\r'))
        p++;
    for (; p < csv->end && *p != '\n' && *p != '\r'; p++) {
        commas += *p == ',';
        semicolons += *p == ';';
        tabs += *p == '\t';
    }
    csv->stops[(unsigned char)csv->separator] = false;
    csv->separator = ',';
    if (tabs > 0 && tabs >= commas && tabs >= semicolons)
        csv->separator = '\t';
    else if (semicolons > 0 && semicolons >= commas)
        csv->separator = ';';
    csv->stops[(unsigned char)csv->separator] = true;
}

void csv_clear(struct csv *csv) {
    free(csv->bytes);
    free(csv->fields);
    free(csv->starts);
    *csv = (struct csv){0};
}

/* Moves past one line end at `at`: LF, CR or CRLF. */
static void pass_line_end(struct csv *csv) {
    if (*csv->at == '\r' && csv->at + 1 < csv->end && csv->at[1] == '\n')
        csv->at++;
    csv->at++;
    csv->next_line++;
}

static bool at_line_end(const struct csv *csv) {
    return *csv->at == '\n' || *csv->at == '\r';
}

void csv_pass_notes(struct csv *csv) {
    static const size_t note = sizeof CSV_NOTE - 1;
    while (csv->at < csv->end && (at_line_end(csv) || ((size_t)(csv->end - csv->at) >= note &&
                                                       memcmp(csv->at, CSV_NOTE, note) == 0))) {
        while (csv->at < csv->end && *csv->at != '\n' && *csv->at != '\r')
            csv->at++;
        if (csv->at < csv->end)
            pass_line_end(csv);
    }
}

/* Begins a field: notes where its bytes begin. */
static bool begin_field(struct csv *csv, size_t used) {
    if (csv->count == csv->starts_cap) {
        size_t *starts =
            array_reserve(csv->starts, &csv->starts_cap, csv->count + 1, sizeof *csv->starts);
        if (starts == NULL)
            return false;
        csv->starts = starts;
    }
    csv->starts[csv->count++] = used;
    return true;
}

static bool point_fields(struct csv *csv) {
    char **fields =
        array_reserve(csv->fields, &csv->fields_cap, csv->count + 1, sizeof *csv->fields);
    if (fields == NULL)
        return false;
    csv->fields = fields;
    for (size_t i = 0; i < csv->count; i++)
        fields[i] = csv->bytes + csv->starts[i];
    return true;
}

/* A quoted field from its first quote; its text goes to csv->bytes from *used. A quote that is
 * doubled is one quote; line ends inside count as lines and are kept as they are, except after
 * OPEN_QUOTES_MAX open quotes. */
static void quoted_field(struct csv *csv, size_t *used) {
    csv->at++;
    for (;;) {
        if (csv->at == csv->end || (csv->open_quotes == OPEN_QUOTES_MAX && at_line_end(csv))) {
            csv->wrong = "a quoted field is not closed";
            csv->open_quote = true;
            return;
        }
        if (*csv->at == '"') {
            if (csv->at + 1 < csv->end && csv->at[1] == '"') {
                csv->at++;
            } else {
                csv->at++;
                return;
            }
        } else if (*csv->at == '\n' ||
                   (*csv->at == '\r' && (csv->at + 1 == csv->end || csv->at[1] != '\n'))) {
            csv->next_line++;
        }
        csv->bytes[(*used)++] = *csv->at++;
    }
}

/* The field at csv->at, up to its separator or line end; its text and a NUL go to csv->bytes from
 * *used. */
static void read_field(struct csv *csv, size_t *used) {
    if (csv->at < csv->end && *csv->at == '"') {
        quoted_field(csv, used);
        if (csv->wrong == NULL && csv->at < csv->end && *csv->at != csv->separator &&
            !at_line_end(csv))
            csv->wrong = "text stands behind a closing quote";
    }
    const char *from = csv->at;
    const char *to = from;
    while (to < csv->end && !csv->stops[(unsigned char)*to])
        to++;
    if (to > from)
        memcpy(csv->bytes + *used, from, (size_t)(to - from));
    *used += (size_t)(to - from);
    csv->at = to;
    csv->bytes[(*used)++] = '\0';
}

/* All fields up to the end of the row. */
static bool read_fields(struct csv *csv) {
    size_t used = 0;
    for (;;) {
        if (!begin_field(csv, used))
            return false;
        read_field(csv, &used);
        if (csv->at == csv->end || at_line_end(csv))
            return true;
        csv->at++;
    }
}

enum csv_result csv_next(struct csv *csv) {
    while (csv->at < csv->end && at_line_end(csv))
        pass_line_end(csv);
    csv->line = csv->next_line;
    csv->count = 0;
    csv->wrong = NULL;
    csv->open_quote = false;
    if (csv->at == csv->end)
        return CSV_END;
    /* All that is left can be one row, and the fields of a row take no more bytes than its text and
     * one more: with that much memory no later step has to check for it. */
    char *bytes = array_reserve(csv->bytes, &csv->bytes_cap, (size_t)(csv->end - csv->at) + 2, 1);
    if (bytes == NULL)
        return CSV_NOMEM;
    csv->bytes = bytes;
    const char *row = csv->at;
    if (!read_fields(csv))
        return CSV_NOMEM;
    size_t row_len = (size_t)(csv->at - row);
    if (csv->wrong == NULL && !utf8_valid(row, row_len))
        csv->wrong = "the text is not UTF-8";
    if (csv->wrong == NULL && memchr(row, '\0', row_len) != NULL)
        csv->wrong = "a NUL byte is not text";
    /* One quote too many must not cost the rest of the file: the next row is the next line. */
    if (csv->open_quote && csv->open_quotes < OPEN_QUOTES_MAX) {
        csv->open_quotes++;
        csv->at = row;
        while (csv->at < csv->end && !at_line_end(csv))
            csv->at++;
        csv->next_line = csv->line;
    }
    if (csv->at < csv->end)
        pass_line_end(csv);
    if (csv->wrong != NULL)
        return CSV_BAD;
    return point_fields(csv) ? CSV_ROW : CSV_NOMEM;
}

static void write_quoted(struct textbuf *b, const char *field) {
    textbuf_putc(b, '"');
    for (; *field != '\0'; field++) {
        if (*field == '"')
            textbuf_putc(b, '"');
        textbuf_putc(b, *field);
    }
    textbuf_putc(b, '"');
}

void csv_write_field(struct textbuf *b, const char *field) {
    size_t len = strlen(field);
    if (strpbrk(field, ",;\"\r\n") != NULL ||
        (len > 0 && (field[0] == ' ' || field[len - 1] == ' ')))
        write_quoted(b, field);
    else
        textbuf_add(b, field, len);
}

bool csv_is_formula(const char *text) {
    return text[0] != '\0' && text[1] != '\0' && strchr("=+-@\t\r\n", text[0]) != NULL;
}

void csv_write_text(struct textbuf *b, const char *text) {
    struct textbuf safe = {0};
    if (csv_is_formula(text))
        textbuf_putc(&safe, '\'');
    textbuf_puts(&safe, text);
    if (strchr(text, '\t') != NULL)
        write_quoted(b, textbuf_text(&safe));
    else
        csv_write_field(b, textbuf_text(&safe));
    b->failed = b->failed || safe.failed;
    textbuf_clear(&safe);
}
