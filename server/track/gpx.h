/* SPDX-License-Identifier: MIT */
/* gpx.h - reads the track points of a GPX file (GPX 1.1, topografix.com/GPX/1/1) as a stream, one
 * at a time: a file of any length takes the same memory. A document type, with which entities would
 * be defined, is refused, as is a mark of more than a megabyte. One owner at a time. */
#ifndef CAIRN_GPX_H
#define CAIRN_GPX_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct textbuf;

/* A place and a moment: what a receiver wrote. */
struct track_fix {
    double lat, lon; /* degrees, WGS 84 */
    int64_t ms;      /* since 1970-01-01T00:00:00Z */
    long line;       /* of the file, from 1 */
    bool follows;    /* the fix before it was earlier, in this file */
};

/* Points of one sort, and the line of the first. */
struct gpx_count {
    size_t count;
    long line;
};

struct gpx_report {
    size_t points;              /* all track points */
    struct gpx_count untimed;   /* without a time: left out */
    struct gpx_count mistimed;  /* whose time cannot be read: left out */
    struct gpx_count misplaced; /* without a good latitude and longitude: left out */
    struct gpx_count repeated;  /* of the same moment as the one before: left out */
    struct gpx_count backwards; /* earlier than the one before: taken, the track begins anew */
    struct gpx_count zoneless;  /* whose time names no zone: taken as UTC, as GPX has it */
};

/* Reads an open file to its end.
 *   take    gets each good point; returns ERR_OK to go on
 *   report  gets what was found, also where it fails
 *   why     gets what is wrong with the file, beginning with its line
 * Returns: ERR_OK; ERR_INPUT with `why`: what stood before it was given; ERR_IO with errno or,
 * where the library is missing, `why`; what `take` returned. */
int gpx_read(int fd, int (*take)(void *owner, const struct track_fix *fix), void *owner,
             struct gpx_report *report, struct textbuf *why);

#endif
