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

/* A precision, or the unit in which a deviation is counted. */
enum time_unit { UNIT_MINUTE, UNIT_SECOND, UNIT_TENTH, UNIT_HUNDREDTH, UNIT_MILLISECOND };

/* Milliseconds of a unit: 60000, 1000, 100, 10 or 1. */
static inline int64_t unit_ms(enum time_unit unit) {
    static const int64_t ms[] = {60000, 1000, 100, 10, 1};
    return ms[unit];
}

/* Whole units in a number of milliseconds, 0 or more. Each divisor is a constant, so that the
 * compiler makes no division of it: this is the innermost step of scoring. */
static inline int64_t unit_count(int64_t ms, enum time_unit unit) {
    uint64_t size = (uint64_t)ms;
    switch (unit) {
    case UNIT_MINUTE:
        return (int64_t)(size / 60000);
    case UNIT_SECOND:
        return (int64_t)(size / 1000);
    case UNIT_TENTH:
        return (int64_t)(size / 100);
    case UNIT_HUNDREDTH:
        return (int64_t)(size / 10);
    case UNIT_MILLISECOND:
        break;
    }
    return ms;
}

/* The names of units as in event.json, "minute" .. "millisecond": in the order of enum time_unit,
 * and a NULL. */
extern const char *const unit_names[];

/* One of them. */
const char *unit_name(enum time_unit unit);

/* Decimals of a second that the unit shows: 0, 0, 1, 2 or 3. */
int unit_decimals(enum time_unit unit);

/* A time taken down to a whole number of units (towards the past, also below zero).
 *   ms  within 200 years of zero
 * unit_count takes nothing below zero: a whole number of every unit is added first, and taken off
 * again. */
static inline int64_t time_truncate(int64_t ms, enum time_unit unit) {
    const int64_t added = INT64_C(60000) << 27;
    return unit_count(ms + added, unit) * unit_ms(unit) - added;
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
