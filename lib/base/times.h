/* SPDX-License-Identifier: MIT */
/* times.h - times of day, durations, instants and dates, as whole numbers.
 * Turns text into numbers and back; reads no clock. Times of day and durations are
 * int64_t milliseconds. Source of the forms: the contract, section 1; RFC 3339 for instants. */
#ifndef CAIRN_TIMES_H
#define CAIRN_TIMES_H

#include <stdint.h>

struct textbuf;

/* "No time": what a time that is not there holds. */
#define TIME_NONE INT64_MIN

enum { DAY_MS = 86400000 };

/* A unit of time is a precision, or what a deviation is counted in: a number of milliseconds that
 * divides a day. These have names. */
enum {
    UNIT_MILLISECOND = 1,
    UNIT_HUNDREDTH = 10,
    UNIT_TENTH = 100,
    UNIT_SECOND = 1000,
    UNIT_MINUTE = 60000
};

/* Whole units in a number of milliseconds, 0 or more. The divisors of the usual units are
 * constants, so that the compiler makes no division of them: this is the innermost step of
 * scoring. */
static inline int64_t unit_count(int64_t ms, int64_t unit) {
    uint64_t size = (uint64_t)ms;
    switch (unit) {
    case UNIT_SECOND:
        return (int64_t)(size / UNIT_SECOND);
    case UNIT_MINUTE:
        return (int64_t)(size / UNIT_MINUTE);
    case UNIT_TENTH:
        return (int64_t)(size / UNIT_TENTH);
    case UNIT_HUNDREDTH:
        return (int64_t)(size / UNIT_HUNDREDTH);
    case UNIT_MILLISECOND:
        return ms;
    default:
        return (int64_t)(size / (uint64_t)unit);
    }
}

/* The unit of a name in event.json, "minute" .. "millisecond"; 0 where it is none. */
int64_t unit_of_name(const char *name);

/* The name of a unit, as in event.json; NULL where it has none. */
const char *unit_name(int64_t unit);

/* The name of the coarsest unit with a name that divides this one: what it takes to write it. */
const char *unit_name_within(int64_t unit);

/* Decimals of a second that it takes to write whole units: minutes and seconds none, tenths (and
 * 0.6 s) one, up to 3. */
int unit_decimals(int64_t unit);

/* A time taken down to a whole number of units (towards the past, also below zero).
 *   ms  within 200 years of zero
 * unit_count takes nothing below zero: whole days are added first, which are whole units too, and
 * taken off again. */
static inline int64_t time_truncate(int64_t ms, int64_t unit) {
    const int64_t added = INT64_C(86400000) << 17;
    return unit_count(ms + added, unit) * unit - added;
}

/* Reads HH:MM, HH:MM:SS or HH:MM:SS.f to .fff, hours 00 to 47, two digits each.
 *   out    milliseconds from midnight of the point's day; untouched on error
 * Returns: ERR_OK; ERR_SYNTAX; ERR_RANGE; ERR_PRECISION. */
int time_parse(const char *text, int64_t *out);

/* Reads a duration: as time_parse, or plain seconds such as "83.45".
 *   out    milliseconds, 0 .. 48 hours; untouched on error
 * Returns: as time_parse. */
int duration_parse(const char *text, int64_t *out);

/* Appends HH:MM:SS with `decimals` (0 .. 3) decimals, or more where the value needs them to be
 * whole. A negative value gets a leading "-". */
void time_write(struct textbuf *b, int64_t ms, int decimals);

/* Appends a time for people: HH:MM where it is a whole minute, else as time_write with no more
 * decimals than needed. */
void time_write_short(struct textbuf *b, int64_t ms);

/* Appends a duration for people: "83.45 s", "2 min", "1 min 23.4 s", "1 h 30 min". The sign is
 * left out. */
void duration_write_words(struct textbuf *b, int64_t ms);

/* A moment in the world's time, nanoseconds exact. */
struct instant {
    int64_t seconds; /* since 1970-01-01T00:00:00Z */
    int32_t nanos;   /* 0 .. 999999999 */
};

/* Reads an RFC 3339 date-time with offset; decimals past the ninth are cut off.
 * Returns: ERR_OK; ERR_SYNTAX; ERR_RANGE. `out` is untouched on error. */
int instant_parse(const char *text, struct instant *out);

/* Less than, equal to or greater than 0 as `a` is before, at or after `b`. */
int instant_compare(struct instant a, struct instant b);

/* Reads a calendar date YYYY-MM-DD (years 1885 to 9999).
 *   out    days since 1970-01-01
 * Returns: ERR_OK; ERR_SYNTAX; ERR_RANGE for a day that does not exist. */
int date_parse(const char *text, int64_t *out);

/* Appends a calendar date YYYY-MM-DD.
 *   days  since 1970-01-01, of a date that date_parse could read
 * Returns: ERR_OK; ERR_RANGE for any other day, and then nothing is appended. */
int date_write(struct textbuf *b, int64_t days);

#endif
