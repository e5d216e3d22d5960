/* SPDX-License-Identifier: MIT */
#include "remote/column_map.h"

#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"

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

void column_map_clear(struct column_map *map) {
    for (int i = 0; i < READING_FIELD_COUNT; i++)
        free(map->heading[i]);
    *map = (struct column_map){0};
}
