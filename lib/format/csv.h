/* SPDX-License-Identifier: MIT */
/* csv.h - reads and writes RFC 4180 text.
 * Reads from memory, row by row, and knows the line on which each row begins. Accepts a UTF-8
 * byte-order mark, LF or CRLF or CR line ends, and comma or semicolon (found from the first row).
 * Blank lines are passed over. Nothing is trimmed: blanks are part of a field. */
#ifndef CAIRN_CSV_H
#define CAIRN_CSV_H

#include <stdbool.h>
#include <stddef.h>

struct textbuf;

/* What a line of a file of rejected rows begins with that tells why the next was rejected. */
#define CSV_NOTE "# cairn: "

/* What reading a row came to. */
enum csv_result {
    CSV_ROW = 1,  /* a row was read */
    CSV_END = 0,  /* there is no more */
    CSV_BAD = -1, /* this row is not well formed; the next call goes on behind it */
    CSV_NOMEM = -2
};

/* A reader. Set up by csv_init, cleared by csv_clear; read `line`, `fields`, `count`, `wrong`. */
struct csv {
    const char *at;
    const char *end;
    char separator;
    bool stops[256]; /* bytes that end an unquoted field */
    long next_line;
    long line;         /* where the row just read begins, from 1 */
    char **fields;     /* its fields, NUL-terminated; valid until the next row */
    size_t *starts;    /* where each field begins in `bytes` */
    size_t count;      /* how many */
    bool open_quote;   /* the row just read had a quote that nothing closes */
    int open_quotes;   /* how many rows had one so far, counted up to a bound */
    const char *wrong; /* after CSV_BAD: what is wrong, a constant */
    char *bytes;
    size_t bytes_cap;
    size_t fields_cap;
    size_t starts_cap;
};

/* Sets up a reader over `len` bytes, which are borrowed until csv_clear. Cannot fail. */
void csv_init(struct csv *csv, const char *text, size_t len);

/* Makes the tab the separator where the first row has more tabs than commas and more than
 * semicolons. To be called before the first row is read. */
void csv_allow_tabs(struct csv *csv);

/* From now on a quote that nothing closes ends with its line and takes no other line with it: for
 * lines that a device sends, of which any may be nonsense. */
void csv_lines_alone(struct csv *csv);

/* Chooses the separator anew, by the next row alone, for rows without a header. Commas that are no
 * more than semicolons are decimals. */
void csv_separate_next(struct csv *csv);

/* Moves past lines that begin with a note of this program's own, CSV_NOTE; only before a row. */
void csv_pass_notes(struct csv *csv);

/* Frees what the reader holds. */
void csv_clear(struct csv *csv);

/* Reads the next row. Returns one of enum csv_result. A row with a NUL byte, text that is not
 * UTF-8, an open quote, or text behind a closing quote is CSV_BAD. After the eighth open quote of a
 * text a quoted field ends with its line: finding that a quote is open takes the rest of the text.
 */
enum csv_result csv_next(struct csv *csv);

/* Appends one field, quoted where RFC 4180 needs it (or it has blanks at an end). */
void csv_write_field(struct textbuf *b, const char *field);

/* True for a text that a spreadsheet may take for a formula, or for the beginning of one: it begins
 * with = + - @, a tab or a line end (OWASP ASVS 5.0, 1.2.10; CWE-1236). A sign alone, as in "-" for
 * no navigator, is none. */
bool csv_is_formula(const char *text);

/* As csv_write_field, for text that people wrote and tables that people open: a quote before what
 * looks like a formula keeps it text, and what holds a tab is quoted, since a spreadsheet may be
 * set to begin a new cell there. Never for files that are read again. */
void csv_write_text(struct textbuf *b, const char *text);

#endif
