/* SPDX-License-Identifier: MIT */
/* Doubts as JSON. */
#include "office/doubts.h"

#include "event/car_route.h"
#include "event/entry_words.h"
#include "format/json_write.h"
#include "office/unassigned.h"

static void write_reading(struct textbuf *b, const struct doubt *doubt,
                          const struct reading *reading) {
    static const enum reading_field fields[] = {READING_TIME, READING_ELAPSED, READING_FAULTS,
                                                READING_AT, READING_BY};
    json_open_object(b);
    json_member_text(b, "id", reading->id);
    json_member_bool(b, "counts",
                     reading == doubt->reading && doubt->kind != DOUBT_OUT && doubt->car >= 0);
    for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++) {
        const char *text = reading->text.field[fields[i]];
        if (*text != '\0')
            json_member_text(b, reading_field_names[fields[i]], text);
    }
    extra_write_json(b, reading->text.extras);
    json_close_object(b);
}

/* The readings of the point that nothing replaces, the latest first; the one that counts is always
 * among those that are listed. Returns how many there are, listed or not. */
static int write_evidence(struct textbuf *b, const struct event *event, const struct doubt *doubt) {
    const struct readings_view readings = event->readings;
    int count = 0;
    int others = 0;
    if (doubt->car < 0) {
        write_reading(b, doubt, doubt->reading);
        return 1;
    }
    for (int i = readings_latest(readings, doubt->car, doubt->point); i >= 0;
         i = readings_before(readings, i)) {
        const struct reading *reading = readings_view_at(readings, i);
        if (reading->is_void || reading_is_replaced(readings, reading))
            continue;
        count++;
        if (reading == doubt->reading || others++ < DOUBT_READINGS_LISTED - 1)
            write_reading(b, doubt, reading);
    }
    return count;
}

static void write_doubt(struct textbuf *b, const struct event *event, const struct doubt *doubt) {
    const struct point *points = event->rules->points;
    json_open_object(b);
    json_member_text(b, "id", doubt->id);
    json_member_text(b, "kind", doubt_word(doubt->kind));
    json_member_positive(b, "car", doubt_number(event, doubt));
    if (doubt->car >= 0) {
        entry_crew_json(b, &event->entries->list[doubt->car]);
    } else {
        json_member_array(b, "crew");
        json_close_array(b);
    }
    json_member_text(b, "point", points[doubt->point].id);
    json_member_text_or_null(b, "against", doubt->against < 0 ? NULL : points[doubt->against].id);
    json_member_text(b, "why", doubt->why);
    if (doubt->car >= 0 && !car_point_is_on(event, doubt->car, doubt->point))
        json_member_bool(b, "off_route", true);
    json_member_bool(b, "open", doubt_is_open(doubt));
    json_member_bool(b, "ruled", doubt->ruled);
    json_member_array(b, "readings");
    int count = write_evidence(b, event, doubt);
    json_close_array(b);
    json_member_int(b, "readings_count", count);
    json_member_int(b, "said",
                    doubt->car < 0
                        ? unassigned_said(event->readings, doubt->reading)
                        : readings_evidence_count(event->readings, doubt->car, doubt->point));
    json_member_int(b, "places", doubt->places);
    json_key(b, "moves");
    effect_write_json(b, &doubt->effect);
    json_close_object(b);
}

void doubts_write_json(struct textbuf *b, const struct doubts *doubts) {
    json_open_array(b);
    for (int i = 0; i < doubts->evaluated; i++) {
        json_line(b);
        write_doubt(b, doubts->scores->event, &doubts->list[i]);
    }
    json_close_array(b);
}
