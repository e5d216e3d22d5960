/* SPDX-License-Identifier: MIT */
/* cure.h - how a number or time should have been written. Spreadsheets and habits of other
 * countries write “12,5”, “1'200”, “8:47” and “10h42”; such a text is refused, and told with what
 * to write. Safe for any number of threads at once.
 *
 * Each function returns what to tell behind the message that a text is refused: “; write 12.5”
 * where it can mean nothing else, and "" where it may. It is held by `room`. */
#ifndef CAIRN_CURE_H
#define CAIRN_CURE_H

/* Longer texts are no slips. */
enum { CURED_MAX = 24 };

/* Room for what is told. */
struct cure {
    char text[sizeof "; write " + CURED_MAX];
};

/* Of a text that decimal_parse refuses: a decimal comma, and marks between thousands. */
const char *cure_number(struct cure *room, const char *text);

/* Of a text that duration_parse refuses: a decimal comma. What stands for hours, minutes or seconds
 * in “1:23” or “1'23” is not for us to say. */
const char *cure_duration(struct cure *room, const char *text);

/* Of a text that time_parse refuses: a decimal comma, one digit of hours, and “10h42” or “10.42”.
 */
const char *cure_time(struct cure *room, const char *text);

#endif
