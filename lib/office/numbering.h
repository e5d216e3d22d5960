/* SPDX-License-Identifier: MIT */
/* numbering.h - gives the cars of an entry list their numbers by age: the oldest first; of equal
 * years the smaller engine, one that is not known last; then the order of entry, which is the order
 * of the rows. Some numbers can be set by hand; the others leave those out. Changes nothing but the
 * text that it makes. */
#ifndef CAIRN_NUMBERING_H
#define CAIRN_NUMBERING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

#include "base/textbuf.h"
#include "event/entries.h"

struct arena;
struct problems;

/* What is set by hand. {0}: nothing. */
struct numbering_wishes {
    int16_t given[NUMBER_MAX + 1]; /* the new number of the car that has this one now, 0: by age */
    bool skipped[NUMBER_MAX + 1];  /* numbers that nobody gets */
    int first;                     /* the first number, 0: 1 */
};

/* Sets one wish, from text.
 *   key    keep (numbers that cars keep: “1, 22”), give (now=new: “22=1, 7=3”), skip (numbers:
 *          “13”), first (a number)
 *   value  commas or blanks between; "" says nothing
 *   why    gets what is wrong
 * Returns: ERR_OK; ERR_INPUT. */
int numbering_set(struct numbering_wishes *wishes, const char *key, const char *value,
                  struct textbuf *why);

/* A car with the number that it gets. Texts are owned by the numbering. */
struct numbered_car {
    const char *was; /* its number in the list, "" where it had none yet */
    const char *driver;
    int year;
    int64_t engine_cc; /* -1 where it is not known */
    int number;
    bool by_hand;
};

struct numbering {
    struct arena *arena;
    struct numbered_car *cars; /* in the order of their new numbers */
    size_t count;
    struct textbuf text; /* the whole list, rows and columns as they were, but for the numbers */
};

/* Numbers a list.
 *   text, len  entries.csv; a row's number may be empty
 *   wishes     not NULL
 *   problems   gets what is wrong, with its line
 *   out        {0}
 * Returns: ERR_OK; ERR_INPUT; ERR_NOMEM. numbering_clear in any case. */
int numbering_make(const char *text, size_t len, const struct numbering_wishes *wishes,
                   struct problems *problems, struct numbering *out);
void numbering_clear(struct numbering *numbering);

/* Appends the cars as a JSON array; as a table for people, a line each. */
void numbering_write_json(struct textbuf *b, const struct numbering *numbering);
void numbering_write_text(struct textbuf *b, const struct numbering *numbering);

#endif
