/* SPDX-License-Identifier: MIT */
/* passages.h - when a track passed lines across the road, on the ellipsoid (WGS 84).
 *
 * Between two fixes the car is taken to drive the geodesic at one speed. It passes a line where
 * that geodesic crosses the one at right angles to the line's heading within the line's width. A
 * car that stands on the line is seen on either side of it by turns: crossings without being
 * further than the receiver's error from the line are one passage, in the middle of them.
 *
 * The uncertainty is for 95 of 100: the receiver's error and what hard braking or accelerating
 * between two fixes moves the car, each over its speed across the line, and half the time that it
 * stood there. Floating point, and so not in lib/: what comes of it is a reading, with its
 * uncertainty, like one of any clock. One owner at a time. */
#ifndef CAIRN_PASSAGES_H
#define CAIRN_PASSAGES_H

#include "track/gpx.h"

/* Most passages of one line that are kept; the others are counted. */
enum { PASSAGES_KEPT = 100, GAPS_KEPT = 20 };

struct passage_line {
    double lat, lon; /* degrees */
    double heading;  /* degrees clockwise from north */
    double half;     /* metres to each side */
};

enum passage_way { PASSAGE_RIGHT, PASSAGE_WRONG_WAY, PASSAGE_TURNED_BACK };

struct passage {
    enum passage_way way;
    int64_t ms;          /* since 1970-01-01T00:00:00Z */
    int64_t uncertainty; /* ms either way */
    int64_t stood;       /* ms between its first and last crossing */
    double speed;        /* metres a second, across the line */
    double beside;       /* metres from the line's middle, right of it positive */
    double driven;       /* metres on the track since its beginning */
    long line;           /* of the file: the fix behind it */
    int file;            /* the caller's */
};

/* No fixes between two moments. */
struct track_gap {
    int64_t from, to;
};

/* What was found of a line. */
struct line_passages {
    struct passage *list; /* in the order of the track; see passages_finish */
    size_t kept, count, cap;
    double nearest; /* metres, of fixes within 500 m; negative where there is none */
    int64_t nearest_ms;
    bool in_gap; /* the track may have passed it unseen, first in this gap */
    struct track_gap gap;
};

struct passage_options {
    double error;   /* metres that a fix may be out by (95 of 100) */
    int64_t gap_ms; /* a longer time between two fixes is a gap, in which nothing is interpolated */
};

struct passages {
    struct line_passages *of; /* by line */
    struct track_gap gaps[GAPS_KEPT];
    size_t gap_count;
    size_t fixes;
    int64_t first, last; /* moments of the fixes */
    double driven;       /* metres */
};

struct passage_search;

/* Begins a search.
 *   lines  `count` of them, borrowed until passages_free
 *   why    gets what library is missing
 * Returns: ERR_OK; ERR_IO with `why`; ERR_NOMEM. */
int passages_new(const struct passage_line *lines, size_t count,
                 const struct passage_options *options, struct passage_search **out,
                 struct textbuf *why);
void passages_free(struct passage_search *search);

/* Takes the next fix. `file` goes into passages. Returns ERR_OK or ERR_NOMEM. */
int passages_take(struct passage_search *search, const struct track_fix *fix, int file);

/* Ends what is open, and puts each line's passages in the order of time.
 * Returns: what was found, borrowed from the search; NULL when memory is out. */
const struct passages *passages_finish(struct passage_search *search);

#endif
