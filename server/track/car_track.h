/* SPDX-License-Identifier: MIT */
/* car_track.h - what a car's track says of the points of an event: the readings that it makes, and
 * what a person should know of them. Passages are taken on the point's own day alone: from two
 * hours before the day's first start to two hours before the next day's. Where several points of a
 * day stand on one line (laps), they get its passages in their order. */
#ifndef CAIRN_CAR_TRACK_H
#define CAIRN_CAR_TRACK_H

#include "event/event.h"
#include "track/passages.h"

struct textbuf;

/* The lines of an event, each once. A plain value; track_lines_clear frees it. */
struct track_lines {
    struct passage_line *list;
    size_t count;
    int *of_point; /* by point; -1 where it has no place */
};

/* Returns: ERR_OK or ERR_NOMEM. */
int track_lines_make(const struct rules *rules, struct track_lines *out);
void track_lines_clear(struct track_lines *lines);

/* What is known of a car at a point. */
struct point_track {
    const struct passage *passage; /* that is read there; NULL for none */
    const struct passage *wrong;   /* one the wrong way; NULL */
    const struct passage *turned;  /* came to the line and turned back; NULL */
    size_t others;                 /* more passages than points on that line: how many */
    const struct passage *other;   /* the first of them; NULL */
};

struct car_track {
    const struct event *event;
    const struct track_lines *lines;
    const struct passages *found;
    int car;                  /* its place among the entries */
    const char *const *files; /* names, for the evidence */
    struct point_track *at;   /* by point */
    size_t on_days;           /* passages that fall into days of the event */
    size_t passages;          /* all */
};

/* Finds out which passage is read at which point. The members before `at` are set. Times of day are
 * those of the process's time zone (TZ), which must be the event's.
 * Returns: ERR_OK or ERR_NOMEM; `at` is the caller's to free. */
int car_track_assign(struct car_track *track);

/* True where a point has a place and is on the car's route. */
bool car_track_is_passed(const struct car_track *track, int point);

/* The header of the readings, and the rows of a car. */
void car_track_csv_head(struct textbuf *b);
void car_track_csv(const struct car_track *track, struct textbuf *b);

/* What the clerk reads: each point with its time, uncertainty and speed, or why it has none; gaps;
 * averages from point to point, with a mark where one is above the published limit. */
void car_track_report(const struct car_track *track, struct textbuf *b);

#endif
