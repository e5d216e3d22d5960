/* SPDX-License-Identifier: MIT */
#include "office/check_places.h"

#include <string.h>

#include "base/problem.h"
#include "base/textbuf.h"
#include "event/gate.h"
#include "office/event_doubt.h"

/* Adds a doubt about the gate of a point; `key` is one of its own, or "". */
static void doubt_gate(const struct rules *rules, const struct point *point, const char *key,
                       const char *text, struct problems *problems) {
    struct textbuf part = {0};
    const char *suffix = point->id + strlen(rules->items[point->item].id);
    textbuf_printf(&part, "%s%s%s", *suffix == '\0' ? ".place" : ".places.", suffix, key);
    event_doubt_at(problems, (struct value_place){point->item, -1}, textbuf_text(&part), text);
    problems->out_of_memory = problems->out_of_memory || part.failed;
    textbuf_clear(&part);
}

static bool is_far(int64_t a, int64_t b) {
    return a - b > PLACE_FAR * GATE_DEGREE || b - a > PLACE_FAR * GATE_DEGREE;
}

/* Around 180 degrees east, which is 180 west. */
static bool is_far_east(int64_t a, int64_t b) {
    return is_far(a, b) && is_far(a, b + 360 * GATE_DEGREE) && is_far(a, b - 360 * GATE_DEGREE);
}

static void check_gate(const struct rules *rules, const struct point *point,
                       const struct point *before, struct problems *problems) {
    const struct gate *gate = point->gate;
    if (gate->width < PLACE_NARROW)
        doubt_gate(rules, point, ".width",
                   "is narrower than what a car's receiver may be out by: cars that passed are "
                   "missed; 40 is usual",
                   problems);
    if (gate->width > PLACE_WIDE)
        doubt_gate(
            rules, point, ".width",
            "is wide enough to lie across other roads: cars that did not pass here are read; "
            "40 is usual",
            problems);
    if (before == NULL || rules->items[before->item].day != rules->items[point->item].day)
        return;
    if (!is_far(gate->lat, before->gate->lat) && !is_far_east(gate->lon, before->gate->lon))
        return;
    struct textbuf text = {0};
    textbuf_printf(&text, "is more than %d degrees from %s, on one day: are lat and lon swapped?",
                   PLACE_FAR, before->id);
    doubt_gate(rules, point, "", textbuf_text(&text), problems);
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* A track's clock where no track can be read. A nominated time is told and not passed, a departure
 * is where the arrival is. */
static void check_clock(const struct rules *rules, const struct item *item,
                        struct problems *problems) {
    struct textbuf text = {0};
    const struct point *lacking = NULL;
    int count = 0;
    for (int i = 0; i < item->point_count; i++) {
        const struct point *point = &rules->points[item->first_point + i];
        if (point->gate != NULL || point->role == POINT_NOMINATED || point->role == POINT_DEPARTURE)
            continue;
        lacking = lacking == NULL ? point : lacking;
        count++;
    }
    if (!item->track_clock || lacking == NULL)
        return;
    textbuf_printf(&text, "is the track's, but %s", lacking->id);
    if (count > 1)
        textbuf_printf(&text, " and %d other%s have", count - 1, count > 2 ? "s" : "");
    else
        textbuf_puts(&text, " has");
    textbuf_printf(&text, " no place, so that no track is read there: say it in “%s”",
                   item->point_count > 1 ? "places" : "place");
    event_doubt_at(problems, (struct value_place){item->place, -1}, ".clock", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

void check_places(const struct rules *rules, struct problems *problems) {
    const struct point *before = NULL;
    for (int i = 0; i < rules->item_count; i++)
        check_clock(rules, &rules->items[i], problems);
    for (int i = 0; i < rules->point_count; i++) {
        const struct point *point = &rules->points[i];
        if (point->gate == NULL)
            continue;
        check_gate(rules, point, before, problems);
        before = point;
    }
}
