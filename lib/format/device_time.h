/* SPDX-License-Identifier: MIT */
/* device_time.h - times as timing devices write them, turned into a reading's time of day.
 * Takes text alone and reads no clock. The forms are recognised, or one is told; what could be two
 * things is refused and never guessed. */
#ifndef CAIRN_DEVICE_TIME_H
#define CAIRN_DEVICE_TIME_H

#include <stdint.h>

struct textbuf;

enum device_time_kind {
    DEVICE_TIME_ANY,     /* recognised, each time by itself */
    DEVICE_TIME_CLOCK,   /* H:MM, H:MM:SS, H:MM:SS.fff; hours 0 to 47 */
    DEVICE_TIME_COMPACT, /* HHMMSS, HHMMSS.fff */
    DEVICE_TIME_SECONDS, /* seconds of the day, 75440.5; never recognised: told only */
    DEVICE_TIME_DATED,   /* RFC 3339, also with a blank for T and without an offset */
    DEVICE_TIME_HALVES   /* 9:07:20 PM, 9:07:20.5 pm */
};

/* The kinds by name in that order, for a command line; NULL ends them. */
extern const char *const device_time_kinds[];

struct device_time_form {
    enum device_time_kind kind;
    int64_t day;    /* of the readings, days since 1970; TIME_NONE: dated times are refused */
    int64_t offset; /* of the event's clock from UTC in ms; TIME_NONE: as each time says */
};

/* Reads a time of day. A point stands for the decimal comma; no more than three decimals.
 *   ms    gets milliseconds from midnight of the day, up to 48 hours; untouched on error
 *   unit  gets what the time was written to, in ms: 60000, 1000, 100, 10 or 1
 *   why   gets what is wrong after ERR_INPUT, a sentence that begins with the text
 * Returns: ERR_OK; ERR_INPUT, with `why`: a form that is known and a time that is not to be had of
 * it (another day, seconds that may be hours); ERR_SYNTAX for none of the forms, ERR_RANGE,
 * ERR_PRECISION. */
int device_time_read(const char *text, const struct device_time_form *form, int64_t *ms,
                     int64_t *unit, struct textbuf *why);

/* Reads a duration as devices write it: as a reading's own (00:01:23.45, 83.45), H:MM:SS.fff, and
 * M:SS.fff, which its decimals tell from hours and minutes.
 *   ms   untouched on error
 *   why  as above, for M:SS without decimals and with one digit in front
 * Returns: as device_time_read. */
int device_duration_read(const char *text, int64_t *ms, struct textbuf *why);

/* Reads +HH:MM, -HH:MM or Z.
 * Returns: ERR_OK; ERR_SYNTAX; ERR_RANGE. */
int device_offset_read(const char *text, int64_t *ms);

#endif
