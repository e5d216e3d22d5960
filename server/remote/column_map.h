/* SPDX-License-Identifier: MIT */
/* column_map.h - which heading of a device's table stands for which column of readings.csv. */
#ifndef CAIRN_COLUMN_MAP_H
#define CAIRN_COLUMN_MAP_H

#include <stdbool.h>

#include "event/readings.h"

/* A plain value, {0} maps nothing; column_map_clear frees it. */
struct column_map {
    char *heading[READING_FIELD_COUNT]; /* NULL where the column has its own name */
    char *channel;                      /* likewise, of the device's channel */
    bool numbered;                      /* there is no header row: places stand for headings */
    int place[READING_FIELD_COUNT + 1]; /* from 1, 0 where there is none; the last: channel */
};

/* Adds "OURS=THEIRS,…" to a map, such as "time=Zeit,car=Nr". Blanks around a name are no part of
 * it; a heading with a comma in it cannot be named.
 *   why   gets what is wrong
 * Returns: ERR_OK; ERR_INPUT, the map then perhaps changed in part; ERR_NOMEM. */
int column_map_parse(struct column_map *map, const char *text, struct textbuf *why);

/* As column_map_parse, for OURS=THEIRS that may also be channel=THEIRS, and OURS=NUMBER: where all
 * are numbers, the table has no header row. Numbers and headings do not mix. */
int column_map_parse_places(struct column_map *map, const char *text, struct textbuf *why);

/* Frees what the map owns and makes it empty. */
void column_map_clear(struct column_map *map);

#endif
