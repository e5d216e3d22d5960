/* SPDX-License-Identifier: MIT */
/* reading_file.h - a file of readings as a person or a timing device wrote it, made ready to be
 * sent: columns found, rows checked, ids given. Knows no server.
 *
 * Columns are those of readings.csv in any order, set apart by commas, semicolons or tabs. Blanks
 * around a field are dropped, except in `by` and `reason`. A comma stands for the decimal point
 *   - in a time with colons (10:42:07,5), in any file;
 *   - in plain seconds (83,45) of a file whose columns commas do not set apart, or where it is not
 *     followed by just three digits: "1,234" in a file with commas may mean thousands.
 * Times are taken in the forms of devices (device_time.h). A line that begins with CSV_NOTE is
 * passed over. The id of a row without one is the contract's, of the fields as they are sent. */
#ifndef CAIRN_READING_FILE_H
#define CAIRN_READING_FILE_H

#include "event/readings.h"
#include "remote/device_form.h"

struct arena;
struct problems;

enum { ROW_DIGEST_LEN = 32 };

/* How far a row has come. */
enum row_state {
    ROW_WAITING, /* to be sent */
    ROW_SENT,    /* the server has it */
    ROW_REFUSED  /* the server will not have it */
};

struct reading_row {
    long line;           /* of the file, from 1 */
    long behind;         /* the line behind its last */
    const char *refusal; /* ROW_REFUSED: why; the file's arena or a constant */
    enum row_state state;
    struct reading_text text;        /* with its id */
    char digest[ROW_DIGEST_LEN + 1]; /* of all fields, the id too */
};

/* A row that cannot be sent as it is. */
struct reading_reject {
    long line;
    long behind;
    const char *reason; /* the file's arena */
};

/* A plain value; reading_file_clear frees it. */
struct reading_file {
    struct arena *arena;
    struct reading_row *rows; /* those that can be sent, in the order of the file */
    size_t count;
    size_t cap;
    struct reading_reject *rejects; /* `wrong` of them */
    size_t rejects_cap;
    size_t wrong;    /* rows left out, each reported */
    long behind;     /* the line behind the last */
    size_t repeated; /* rows left out because an earlier one says the same */
};

/* What fills the gaps of a file. */
struct reading_file_options {
    const struct device_form *form;
    const char *point; /* for rows that name none; NULL */
    const char *by;    /* likewise */
    long first_line;   /* of a part of a file: the number of the line behind the header; 0: the
                          text is whole. A quote that nothing closes then ends with its line, and
                          of the header nothing is told again but errors */
};

/* Reads a file.
 *   name       for messages, borrowed
 *   text, len  the whole file, NUL-terminated behind `len`; borrowed
 *   problems   gets a line for each row that is left out (an error) and for each unknown column
 *              (a warning)
 *   out        set up in any case; call reading_file_clear
 * Returns: ERR_OK, rows perhaps left out; ERR_INPUT where the header is wrong; ERR_NOMEM. */
int reading_file_read(const char *name, const char *text, size_t len,
                      const struct reading_file_options *options, struct problems *problems,
                      struct reading_file *out);

/* Frees what the file owns. */
void reading_file_clear(struct reading_file *file);

/* Appends a row as a JSON object. */
void reading_row_write_json(const struct reading_row *row, struct textbuf *b);

#endif
