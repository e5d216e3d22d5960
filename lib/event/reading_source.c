/* SPDX-License-Identifier: MIT */
#include "event/reading_source.h"

#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/times.h"
#include "event/readings.h"
#include "format/extra.h"

/* True where `flags`, words with blanks between, holds that word. */
static bool is_among(const char *flags, const char *word) {
    size_t len = strlen(word);
    while (*flags != '\0') {
        flags += strspn(flags, " ");
        size_t own = strcspn(flags, " ");
        if (own == len && memcmp(flags, word, len) == 0)
            return true;
        flags += own;
    }
    return false;
}

void reading_source_read(const struct reading_text *text, struct reading *out) {
    int64_t thousandths = 0;
    out->from_track = is_among(extra_value(text->extras, "flags"), FLAG_TRACK);
    out->uncertainty = 0;
    if (!out->from_track)
        return;
    const char *told = extra_value(text->extras, "uncertainty_ms");
    if (decimal_parse(told, &thousandths) == ERR_OK && thousandths > 0)
        out->uncertainty = (thousandths + 999) / 1000;
}

static int count_of(const struct reading *r, int fault) {
    for (int i = 0; i < r->fault_count; i++) {
        if (r->faults[i].fault == fault)
            return r->faults[i].count;
    }
    return 0;
}

static bool faults_cover(const struct reading *a, const struct reading *b) {
    for (int i = 0; i < a->fault_count; i++) {
        if (a->faults[i].count != count_of(b, a->faults[i].fault))
            return false;
    }
    return true;
}

static bool same_value(const struct reading *a, const struct reading *b) {
    return a->time == b->time && a->elapsed == b->elapsed && faults_cover(a, b) &&
           faults_cover(b, a);
}

/* The unit in which a time of day was written: HH:MM, HH:MM:SS, then a tenth and so on. */
static int64_t unit_written(const char *time) {
    const char *point = strchr(time, '.');
    if (point == NULL)
        return strlen(time) <= strlen("HH:MM") ? UNIT_MINUTE : UNIT_SECOND;
    switch (strlen(point + 1)) {
    case 1:
        return UNIT_TENTH;
    case 2:
        return UNIT_HUNDREDTH;
    default:
        return UNIT_MILLISECOND;
    }
}

bool reading_agrees(const struct reading *counted, const struct reading *other) {
    if (counted->from_track == other->from_track)
        return same_value(counted, other);
    const struct reading *track = counted->from_track ? counted : other;
    const struct reading *marshal = counted->from_track ? other : counted;
    bool told = counted->from_track; /* what only the marshal can tell would be lost */
    if (told && !faults_cover(marshal, track))
        return false;
    if (marshal->time == TIME_NONE || track->time == TIME_NONE)
        return !told || marshal->elapsed == TIME_NONE;
    /* The marshal's moment lies in [time, time + unit). */
    int64_t unit = unit_written(marshal->text.field[READING_TIME]);
    return track->time >= marshal->time - track->uncertainty &&
           track->time < marshal->time + unit + track->uncertainty;
}
