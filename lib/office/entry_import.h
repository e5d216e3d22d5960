/* SPDX-License-Identifier: MIT */
/* entry_import.h - an entry list that somebody pasted, row by row against the one in force: what is
 * added, changed, the same or refused, and the list that would come of it. Changes nothing. */
#ifndef CAIRN_ENTRY_IMPORT_H
#define CAIRN_ENTRY_IMPORT_H

#include <stdbool.h>
#include <stddef.h>

#include "base/textbuf.h"

struct arena;
struct problems;
struct rules;

/* What becomes of a row of a pasted list. */
enum import_result { IMPORT_ADDED, IMPORT_CHANGED, IMPORT_SAME, IMPORT_REFUSED };

/* A cell that differs. Texts are owned by the import. */
struct import_change {
    const char *column;
    const char *before;
    const char *now;
    struct import_change *next;
};

/* A row as it was given. */
struct import_row {
    long line;          /* where it begins in what was given, from 1 */
    const char *number; /* as given, "" where it is not known */
    const char *driver; /* as they would be in the list */
    const char *navigator;
    enum import_result result;
    struct import_change *changes; /* IMPORT_CHANGED: each cell that differs */
    const char *reason;            /* IMPORT_REFUSED: what is wrong */
};

struct entry_import {
    struct arena *arena;
    struct import_row *rows;
    size_t count, cap;
    size_t refused;
    struct textbuf
        text; /* the whole list, ready for entries.csv; not to be used with a row refused */
};

/* Lays a list over the one in force.
 *   rules     of the event, borrowed for the call
 *   now       entries.csv in force, `now_len` bytes
 *   given     the list, `given_len` bytes: commas, semicolons or tabs, with a header; names of
 *             columns in small or large letters
 *   whole     it is the whole list, and cars that are not in it go; else cars that are not in it
 *             stay, and of cars that are only the columns given change
 *   problems  gets what concerns no single row
 *   out       {0}
 * Returns: ERR_OK, also with rows refused; ERR_INPUT; ERR_NOMEM. entry_import_clear in any case. */
int entry_import_make(const struct rules *rules, const char *now, size_t now_len, const char *given,
                      size_t given_len, bool whole, struct problems *problems,
                      struct entry_import *out);
void entry_import_clear(struct entry_import *import);

/* Appends the rows as a JSON array. */
void entry_import_write_json(struct textbuf *b, const struct entry_import *import);

#endif
