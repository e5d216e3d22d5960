/* SPDX-License-Identifier: MIT */
/* nmea.h - the time in a sentence of a satellite receiver.
 * Reads ZDA and RMC of any talker, one sentence at a time; all others are passed over. Keeps
 * nothing between sentences and reads no clock. Source of the forms: NMEA 0183, as published by
 * makers of receivers (the sentences of the tests name theirs). */
#ifndef CAIRN_NMEA_H
#define CAIRN_NMEA_H

#include <stdint.h>

/* A sentence with a sum is no longer than this, its "$" and "*hh" counted (the standard says 82
 * with the line end; receivers write more decimals than it foresaw). */
enum { NMEA_LENGTH_MAX = 120 };

/* What a sentence says of the receiver's satellites. */
enum nmea_fix {
    NMEA_FIX_UNTOLD, /* ZDA: the time may be that of the receiver's own battery clock */
    NMEA_FIX_GOOD,   /* RMC with status A */
    NMEA_FIX_NONE    /* RMC with status V: a warning */
};

/* The time of a sentence. */
struct nmea_time {
    int64_t ms; /* since 1970-01-01T00:00:00Z, decimals past the third cut off */
    enum nmea_fix fix;
};

/* Reads one sentence.
 *   line  NUL-terminated, with or without its line end
 *   out   untouched unless ERR_OK is returned
 * A year of two digits (RMC) is 1980 to 2079. A receiver that has counted its 1024 weeks over gives
 * a date of twenty years ago: who has another clock compares.
 * Returns: ERR_OK; ERR_UNKNOWN for another sentence, and for one whose time is still empty;
 * ERR_SYNTAX for what is no sentence or has no sum; ERR_CONFLICT where the sum is wrong; ERR_RANGE
 * for a time or a day that does not exist (a leap second, 60, among them). */
int nmea_read(const char *line, struct nmea_time *out);

#endif
