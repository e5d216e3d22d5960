/* SPDX-License-Identifier: MIT */
/* cure.h - how a number or time should have been written. Spreadsheets and habits of other
 * countries write “12,5”, “1'200”, “8:47” and “10h42”; such a text is refused, and told with what
 * to write. Safe for any number of threads at once. */
#ifndef CAIRN_CURE_H
#define CAIRN_CURE_H

#include <stdint.h>

/* Longer texts are no slips. */
enum { CURED_MAX = 24 };

/* Room for what is told. */
struct cure {
    char text[sizeof "; write " + CURED_MAX];
};

/* What to tell behind the message that a text is refused: “; write 12.5” where the parser would
 * take it if it were written as is usual here, "" where it would not. room   holds what is returned
 *   text   as it was written
 *   parse  what refused it, such as decimal_parse or time_parse */
const char *cure_of(struct cure *room, const char *text, int (*parse)(const char *, int64_t *));

#endif
