/* SPDX-License-Identifier: MIT */
/* entry_import.h - an entry list that somebody pasted, compared row by row with the one in force:
 * what is added, changed, the same or refused, and the list that would follow. Changes nothing. */
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
    /* The new list, as entries.csv; not to be used where a row is refused. */
    struct textbuf text;
};

/* Compares a list with the one in force, and makes the new list.
 *   rules     of the event, borrowed for the call
 *   now       entries.csv in force, `now_len` bytes
 *   given     the list, `given_len` bytes: with commas, semicolons or tabs, and a header; upper and
 *             lower case in it are the same
 *   whole     true: it is the whole list, and cars that are not in it are removed; false: those
 *             stay, and of the cars in it only the columns given change
 *   problems  gets what does not concern a single row
 *   out       {0}
 * Returns: ERR_OK, also with rows refused; ERR_INPUT; ERR_NOMEM. entry_import_clear in any case. */
int entry_import_make(const struct rules *rules, const char *now, size_t now_len, const char *given,
                      size_t given_len, bool whole, struct problems *problems,
                      struct entry_import *out);
void entry_import_clear(struct entry_import *import);

/* Appends the rows as a JSON array. */
void entry_import_write_json(struct textbuf *b, const struct entry_import *import);

#endif
