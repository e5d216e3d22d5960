/* SPDX-License-Identifier: MIT */
/* track_save.h - readings of tracks added to the readings.csv of an event folder. */
#ifndef CAIRN_TRACK_SAVE_H
#define CAIRN_TRACK_SAVE_H

struct event_source;
struct textbuf;

/* Adds those that are not there yet, and says how many. What the event refuses is told.
 *   source  a folder's
 *   csv     a table of readings
 * Returns an exit code; what is wrong is reported on standard error. */
int track_save(struct event_source *source, const struct textbuf *csv);

#endif
