/* SPDX-License-Identifier: MIT */
/* reading_source.h - where a reading comes from, a marshal's clock or the track of a car's
 * receiver, and whether two readings of one passage say the same. Pure; any thread. Source:
 * schema/README.md, "Tracks". */
#ifndef CAIRN_READING_SOURCE_H
#define CAIRN_READING_SOURCE_H

#include <stdbool.h>

struct reading;
struct reading_text;

/* The flag, one word of the column `flags`, of a reading that `cairn track` made. */
#define FLAG_TRACK "track"

/* Sets from_track and uncertainty of `out` from the columns `flags` and `uncertainty_ms`. An
 * uncertainty that cannot be read is 0, so that a difference is asked about. */
void reading_source_read(const struct reading_text *text, struct reading *out);

/* Whether another reading of the same car at the same point bears out the one that counts. Of one
 * source they are the same value. A track and a marshal's clock agree where their times of day are
 * no further apart than the track's uncertainty and the unit in which the marshal wrote: 10:05 is
 * any moment from 10:05:00 to 10:06. What a track cannot tell (faults, an elapsed time) is asked
 * about only where the track counts and a marshal told it. */
bool reading_agrees(const struct reading *counted, const struct reading *other);

#endif
