/* SPDX-License-Identifier: MIT */
#include "remote/column_map.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "format/csv_columns.h"

/* The part of a text without blanks around it. */
static const char *bare(const char *text, size_t *len) {
    while (*len > 0 && (*text == ' ' || *text == '\t')) {
        text++;
        --*len;
    }
    while (*len > 0 && (text[*len - 1] == ' ' || text[*len - 1] == '\t'))
        --*len;
    return text;
}

static int field_named(const char *name, size_t len) {
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        if (strncmp(reading_field_names[i], name, len) == 0 && reading_field_names[i][len] == '\0')
            return i;
    }
    return -1;
}

static int take_pair(struct column_map *map, const char *pair, size_t len, struct textbuf *why) {
    const char *equals = memchr(pair, '=', len);
    size_t ours_len = equals == NULL ? 0 : (size_t)(equals - pair);
    size_t theirs_len = equals == NULL ? 0 : len - ours_len - 1;
    const char *ours = bare(pair, &ours_len);
    const char *theirs = equals == NULL ? pair : bare(equals + 1, &theirs_len);
    if (ours_len == 0 || theirs_len == 0) {
        textbuf_printf(why, "“%.*s” is not written as OURS=THEIRS, such as time=Zeit", (int)len,
                       pair);
        return ERR_INPUT;
    }
    int field = field_named(ours, ours_len);
    if (field < 0) {
        textbuf_printf(why, "“%.*s” is no column of readings; those are", (int)ours_len, ours);
        for (int i = 0; i < READING_FIELD_COUNT; i++)
            textbuf_printf(why, "%s %s", i > 0 ? "," : "", reading_field_names[i]);
        return ERR_INPUT;
    }
    if (map->heading[field] != NULL) {
        textbuf_printf(why, "“%.*s” is named twice", (int)ours_len, ours);
        return ERR_INPUT;
    }
    char *heading = strndup(theirs, theirs_len);
    if (heading == NULL)
        return ERR_NOMEM;
    for (int i = 0; i < READING_FIELD_COUNT; i++) {
        if (map->heading[i] != NULL && strcmp(map->heading[i], heading) == 0) {
            textbuf_printf(why, "the heading “%s” is named twice", heading);
            free(heading);
            return ERR_INPUT;
        }
    }
    map->heading[field] = heading;
    return ERR_OK;
}

int column_map_parse(struct column_map *map, const char *text, struct textbuf *why) {
    for (;;) {
        size_t len = strcspn(text, ",");
        int err = take_pair(map, text, len, why);
        if (err != ERR_OK || text[len] == '\0')
            return err;
        text += len + 1;
    }
}

/* "channel=THEIRS" by itself. */
static int take_channel(struct column_map *map, const char *pair, size_t len, struct textbuf *why) {
    static const size_t name = sizeof "channel=" - 1;
    if (map->channel != NULL || len == name) {
        textbuf_puts(why, "“channel” is named twice, or as nothing");
        return ERR_INPUT;
    }
    map->channel = strndup(pair + name, len - name);
    return map->channel == NULL ? ERR_NOMEM : ERR_OK;
}

/* The column's place in a table without headings; 0 where the text is no number of one. */
static int place_of(const char *heading) {
    int64_t place = 0;
    return heading != NULL && decimal_parse_whole(heading, 1, CSV_COLUMNS_MAX, &place) == ERR_OK
               ? (int)place
               : 0;
}

static int number_places(struct column_map *map, struct textbuf *why) {
    int named = 0;
    int numbered = 0;
    for (int i = 0; i <= READING_FIELD_COUNT; i++) {
        const char *heading = i < READING_FIELD_COUNT ? map->heading[i] : map->channel;
        map->place[i] = place_of(heading);
        named += heading != NULL;
        numbered += map->place[i] > 0;
        for (int j = 0; map->place[i] > 0 && j < i; j++) {
            if (map->place[j] == map->place[i]) {
                textbuf_printf(why, "column %d is named twice", map->place[i]);
                return ERR_INPUT;
            }
        }
    }
    map->numbered = numbered > 0;
    if (numbered == 0 || numbered == named)
        return ERR_OK;
    textbuf_puts(why, "a table has headings, or its columns have numbers: not both");
    return ERR_INPUT;
}

int column_map_parse_places(struct column_map *map, const char *text, struct textbuf *why) {
    for (;;) {
        size_t len = strcspn(text, ",");
        bool channel = strncmp(text, "channel=", sizeof "channel=" - 1) == 0;
        int err = channel ? take_channel(map, text, len, why) : take_pair(map, text, len, why);
        if (err != ERR_OK)
            return err;
        if (text[len] == '\0')
            return number_places(map, why);
        text += len + 1;
    }
}

void column_map_clear(struct column_map *map) {
    for (int i = 0; i < READING_FIELD_COUNT; i++)
        free(map->heading[i]);
    free(map->channel);
    *map = (struct column_map){0};
}
