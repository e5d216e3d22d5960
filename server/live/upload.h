/* SPDX-License-Identifier: MIT */
/* upload.h - a posted body parsed into rows of text fields: JSON array, NDJSON or CSV. One owner at
 * a time. */
#ifndef CAIRN_UPLOAD_H
#define CAIRN_UPLOAD_H

#include <stdbool.h>
#include <stddef.h>

#include "base/textbuf.h"
#include "format/csv_columns.h"

struct arena;

enum media { MEDIA_JSON, MEDIA_NDJSON, MEDIA_CSV, MEDIA_UNKNOWN };

/* Tells a media type, parameters aside. NULL and unknown ones are MEDIA_UNKNOWN. */
enum media media_of(const char *content_type);

struct upload_row {
    const char **fields; /* as many as names were given; "" where not given */
    struct extra *extras;
    const char *wrong; /* why the row cannot be taken, and then fields and extras mean nothing; NULL
                          where it can */
    long line;         /* of the body, 0 where that means nothing */
};

/* Rows of a body. A plain value; upload_clear frees what it owns. */
struct upload {
    struct arena *arena;
    struct upload_row *rows;
    size_t count;
    size_t cap;
};

/* Tells whether anybody still waits for the rows; called once in UPLOAD_STRIDE rows. */
enum { UPLOAD_STRIDE = 256 };
struct upload_watch {
    bool (*given_up)(void *context);
    void *context;
};

/* Parses a body.
 *   names, name_count  fields that are known, as in the header of the CSV file
 *   required           how many of the first names the header of a CSV must have
 *   watch              NULL: it is done to the end
 *   why                gets what is wrong with the body as a whole
 * Returns: ERR_OK, rows perhaps marked wrong one by one (an object with more than EXTRAS_MAX
 * members that are not known is); ERR_INPUT, also for a CSV with so many columns and for lines that
 * hold more together than one JSON document may; ERR_RANGE for too many rows; ERR_BUSY where it was
 * given up; ERR_NOMEM. */
int upload_parse(enum media media, const char *body, size_t len, const char *const *names,
                 size_t name_count, size_t required, const struct upload_watch *watch,
                 struct upload *out, struct textbuf *why);

/* How rows are taken where one may have to wait for another. */
struct row_taker {
    bool (*waits)(const void *context, const struct upload_row *row); /* for a row not yet taken */
    int (*take)(void *context, size_t row);                           /* by its place, from 0 */
    void *context;
};

/* Takes each row once, in an order in which no row waits for one that is not taken yet: a revoke
 * may stand before what it names. What waits for nothing in the body is taken last. Returns:
 * ERR_OK; ERR_NOMEM; or what `take` returned in its place, and then the rest is not taken. */
int upload_take_in_turn(const struct upload *upload, const struct row_taker *taker);

/* Frees what the rows own. */
void upload_clear(struct upload *upload);

#endif
