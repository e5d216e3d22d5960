/* SPDX-License-Identifier: MIT */
#include "office/doubts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/strmap.h"
#include "base/textbuf.h"
#include "event/car_route.h"
#include "event/reading_source.h"
#include "office/check.h"
#include "office/lacking.h"
#include "office/unassigned.h"
#include "scoring/kinds/regularity.h"

const char *doubt_word(enum doubt_kind kind) {
    static const char *const words[] = {"differ",        "out",  "order",       "fast",
                                        "missing",       "flag", "unknown-car", "no-car",
                                        "unknown-fault", "twice"};
    return words[kind];
}

bool doubt_is_open(const struct doubt *doubt) {
    return (doubt->kind == DOUBT_DIFFER || doubt->kind == DOUBT_OUT) && !doubt->ruled;
}

int64_t doubt_number(const struct event *event, const struct doubt *doubt) {
    int64_t number = 0;
    if (doubt->car >= 0)
        return event->entries->list[doubt->car].number;
    (void)decimal_parse_whole(doubt->reading->text.field[READING_CAR], 1, NUMBER_MAX, &number);
    return number;
}

/* The search through one event. */
struct search {
    struct doubts *doubts;
    const struct event *event;
    struct textbuf text;
    struct strmap numbered; /* times without a number that were given one: their places */
    int err;
};

static bool is_ruled(const struct event *event, int car, int point) {
    bool whole;
    return rulings_at(event->rulings, car, event->rules->points[point].item, point, &whole) != NULL;
}

/* Adds a doubt whose text is in s->text. */
static struct doubt *add(struct search *s, enum doubt_kind kind, int car, int point,
                         const struct reading *reading) {
    struct doubts *d = s->doubts;
    struct doubt *list = array_reserve(d->list, &d->cap, (size_t)d->count + 1, sizeof *list);
    const char *why =
        s->text.failed ? NULL : arena_text(d->arena, textbuf_text(&s->text), s->text.len);
    textbuf_reset(&s->text);
    if (list != NULL)
        d->list = list;
    if (list == NULL || why == NULL) {
        s->err = ERR_NOMEM;
        return NULL;
    }
    list[d->count] = (struct doubt){.kind = kind,
                                    .car = car,
                                    .point = point,
                                    .against = -1,
                                    .reading = reading,
                                    .why = why,
                                    .ruled = car >= 0 && is_ruled(s->event, car, point)};
    return &list[d->count++];
}

static bool is_track_clock(const struct search *s, int point) {
    const struct rules *rules = s->event->rules;
    return rules->items[rules->points[point].item].track_clock;
}

/* True where all readings that stand come from where the one that counts comes from. */
static bool is_of_one_source(const struct search *s, const struct reading *counted) {
    struct readings_view view = s->event->readings;
    for (int i = readings_latest(view, counted->car, counted->point); i >= 0;
         i = readings_before(view, i)) {
        const struct reading *one = readings_view_at(view, i);
        if (!one->is_void && !reading_is_replaced(view, one) &&
            one->from_track != counted->from_track)
            return false;
    }
    return true;
}

static void find_difference(struct search *s, int car, int point, const struct reading *counted) {
    textbuf_printf(&s->text, "Readings differ; %s counts: ", counted->id);
    bool track_clock = is_track_clock(s, point);
    if (counted->from_track != track_clock || is_of_one_source(s, counted))
        textbuf_puts(&s->text, "it was made first.");
    else
        textbuf_puts(&s->text, track_clock ? "here the track's clock counts before a marshal's."
                                           : "a marshal's clock counts before a track.");
    (void)add(s, DOUBT_DIFFER, car, point, counted);
}

static void find_out(struct search *s, int car, int point, const struct reading *counted) {
    textbuf_puts(&s->text, car_point_is_on(s->event, car, point)
                               ? "Read while out of the event; it does not count."
                               : "Read at a point that is not on the car's route; it does not "
                                 "count.");
    (void)add(s, DOUBT_OUT, car, point, counted);
}

static void find_missing(struct search *s, int car, int point, int last) {
    textbuf_printf(&s->text, "Not read here, but at %s further on.",
                   s->event->rules->points[last].id);
    struct doubt *doubt = add(s, DOUBT_MISSING, car, point, NULL);
    if (doubt != NULL)
        doubt->against = last;
}

static void find_flags(struct search *s, int car, int point, const struct reading *reading) {
    const char *flags = extra_value(reading->text.extras, "flags");
    if (*flags == '\0')
        return;
    if (reading->from_track && !is_track_clock(s, point))
        textbuf_puts(&s->text, "A track alone tells it; no marshal read it.");
    else if (reading->from_track && strcmp(flags, FLAG_TRACK) == 0)
        return;
    if (strcmp(flags, FLAG_TRACK) != 0)
        textbuf_printf(
            &s->text, "%s %s.",
            s->text.len > 0 ? " A flag was put on it:" : "The desk put a flag on it:", flags);
    (void)add(s, DOUBT_FLAG, car, point, reading);
}

static void find_unknown_faults(struct search *s, int car, int point,
                                const struct reading *reading) {
    if (!reading->other_faults)
        return;
    textbuf_printf(&s->text, "It tells a fault that %s does not name, which costs nothing: %s.",
                   s->event->rules->items[s->event->rules->points[point].item].id,
                   reading->text.field[READING_FAULTS]);
    (void)add(s, DOUBT_UNKNOWN_FAULT, car, point, reading);
}

/* What became of a reading that was replaced: the last of its corrections; NULL where it was
 * withdrawn. */
static const struct reading *last_correction(struct readings_view view,
                                             const struct reading *reading) {
    int left = view.count; /* they may replace each other in a circle */
    for (int i; left > 0 && (i = readings_replacing(view, reading)) >= 0; left--)
        reading = readings_view_at(view, i);
    return reading->is_void || left == 0 ? NULL : reading;
}

static void find_twice(struct search *s, int car, int point, const struct reading *reading) {
    const struct readings_view view = s->event->readings;
    int blank = *reading->text.field[READING_REPLACES] == '\0'
                    ? -1
                    : strmap_get(&s->numbered, reading->text.field[READING_REPLACES]);
    const struct reading *first =
        blank < 0 ? NULL : last_correction(view, readings_view_at(view, blank));
    if (first == NULL || first == reading)
        return;
    textbuf_printf(&s->text, "One time without a number was given to this car and to car %s.",
                   first->text.field[READING_CAR]);
    (void)add(s, DOUBT_TWICE, car, point, reading);
}

/* Where the car was last, and when. */
struct passage {
    int point;    /* -1 the day's start */
    int64_t time; /* TIME_NONE where it is not known */
};

static void find_disorder(struct search *s, int car, int point, const struct reading *reading,
                          const struct passage *before) {
    if (before->time == TIME_NONE || reading->time >= before->time)
        return;
    time_write(&s->text, reading->time, 0);
    textbuf_puts(&s->text, " is before ");
    time_write(&s->text, before->time, 0);
    textbuf_printf(&s->text, " at %s.", s->event->rules->points[before->point].id);
    struct doubt *doubt = add(s, DOUBT_ORDER, car, point, reading);
    if (doubt != NULL)
        doubt->against = before->point;
}

/* Where the car is earlier than before, that is another doubt: see find_disorder. */
static void find_speed(struct search *s, int car, int point, const struct reading *reading,
                       const struct passage *from, int64_t distance) {
    __extension__ typedef __int128 wide;
    const struct rules *rules = s->event->rules;
    int limit = rules->miles ? SPEED_LIMIT_MI : SPEED_LIMIT_KM;
    const char *unit = rules->miles ? "mph" : "km/h";
    if (from->time == TIME_NONE || distance <= 0 || reading->time < from->time)
        return;
    int64_t ms = reading->time - from->time;
    if (!check_is_too_fast(rules, distance, ms))
        return;
    decimal_write_short(&s->text, distance);
    textbuf_printf(&s->text, " %s from %s in ", rules_unit(rules),
                   from->point < 0 ? "the start" : rules->points[from->point].id);
    duration_write_words(&s->text, ms);
    if (ms > 0) {
        textbuf_puts(&s->text, ", an average of ");
        decimal_write_short(&s->text, (int64_t)((wide)distance * 3600000 / ms));
        textbuf_printf(&s->text, " %s", unit);
    }
    textbuf_printf(&s->text, ": above the published limit of %d %s.", limit / 1000, unit);
    struct doubt *doubt = add(s, DOUBT_FAST, car, point, reading);
    if (doubt != NULL)
        doubt->against = from->point;
}

/* How far one car has come on the route. */
struct progress {
    int day;
    struct passage last;    /* the last time of day read that day, later attempts aside */
    struct passage attempt; /* the last one at this item */
    /* Leaving the last time control; not known where it was not read there. */
    struct passage control;
    struct passage check; /* the last point of this test that has a distance */
    int64_t check_at;     /* that distance */
    int item;
};

static void enter(const struct search *s, struct progress *progress, int car, int item) {
    const struct rules *rules = s->event->rules;
    progress->item = item;
    progress->check = progress->attempt = (struct passage){-1, TIME_NONE};
    if (rules->items[item].day == progress->day)
        return;
    progress->day = rules->items[item].day;
    progress->last = (struct passage){-1, TIME_NONE};
    progress->control = (struct passage){-1, rulings_start(s->event, progress->day, car)};
}

static void find_speeds(struct search *s, struct progress *progress, int car, int p,
                        const struct reading *reading) {
    const struct point *point = &s->event->rules->points[p];
    const struct item *item = car_item(s->event, car, point->item);
    bool timed = reading != NULL && reading->time != TIME_NONE;
    if (timed && p == item->first_point)
        find_speed(s, car, p, reading, &progress->control, item->distance);
    if (item->kind == KIND_TIME_CONTROL) {
        if (point->role == POINT_ARRIVAL)
            progress->control =
                (struct passage){p, timed ? reading->time + item->road.halt : TIME_NONE};
        else if (timed)
            progress->control = (struct passage){p, reading->time};
        return;
    }
    if (item->kind != KIND_REGULARITY || !timed)
        return;
    int64_t at = point->role == POINT_START ? 0 : regularity_of(item)->checks[point->number - 1].at;
    if (at < 0)
        return;
    find_speed(s, car, p, reading, &progress->check, at - progress->check_at);
    progress->check = (struct passage){p, reading->time};
    progress->check_at = at;
}

static void search_car(struct search *s, int car) {
    const struct event *event = s->event;
    const struct rules *rules = event->rules;
    const bool *visible = s->doubts->scores->view->visible;
    int last = -1;    /* reading */
    int last_on = -1; /* that is on its route */
    for (int p = 0; p < rules->point_count; p++) {
        if (!visible[rules->points[p].item] ||
            readings_counted(event->readings, car, p, NULL) == NULL)
            continue;
        last = p;
        if (car_point_is_on(event, car, p))
            last_on = p;
    }
    struct progress progress = {.day = -1, .item = -1};
    for (int p = 0; p <= last && s->err == ERR_OK; p++) {
        bool conflict = false;
        if (!visible[rules->points[p].item])
            continue;
        const struct reading *reading = readings_counted(event->readings, car, p, &conflict);
        bool on = car_point_is_on(event, car, p);
        bool out = !on || rulings_out_at(event, car, p, -1, NULL);
        if (rules->points[p].item != progress.item)
            enter(s, &progress, car, rules->points[p].item);
        if (reading != NULL && out) {
            find_out(s, car, p, reading);
            continue;
        }
        if (reading != NULL && conflict)
            find_difference(s, car, p, reading);
        if (!on)
            continue;
        if (reading == NULL && !out && lacking_at(event, car, p, last_on))
            find_missing(s, car, p, last_on);
        find_speeds(s, &progress, car, p, reading);
        if (reading == NULL)
            continue;
        find_flags(s, car, p, reading);
        find_unknown_faults(s, car, p, reading);
        find_twice(s, car, p, reading);
        if (reading->time == TIME_NONE)
            continue;
        bool repeat = lacking_is_repeat(rules, p);
        find_disorder(s, car, p, reading, repeat ? &progress.attempt : &progress.last);
        progress.attempt = (struct passage){p, reading->time};
        if (!repeat)
            progress.last = progress.attempt;
    }
}

static void find_waiting(struct search *s, const struct reading *reading) {
    const char *car = reading->text.field[READING_CAR];
    int64_t number = 0;
    if (reading->aside == ASIDE_NO_CAR)
        textbuf_puts(&s->text, "A time without a number; it counts for nobody until it has one.");
    else if (decimal_parse_whole(car, 1, NUMBER_MAX, &number) == ERR_OK &&
             entries_find(s->event->entries, number) >= 0)
        textbuf_printf(&s->text, "The point takes no such reading of car %s; it counts for nobody.",
                       car);
    else
        textbuf_printf(&s->text,
                       "Car %s is not in the entry list; it counts for nobody until it is.", car);
    (void)add(s, reading->aside == ASIDE_NO_CAR ? DOUBT_NO_CAR : DOUBT_UNKNOWN_CAR, -1,
              reading->point, reading);
}

/* The readings that stand aside: those that wait for a car, and those without a number that were
 * given one. */
static void search_aside(struct search *s) {
    const struct readings_view view = s->event->readings;
    const bool *visible = s->doubts->scores->view->visible;
    for (int i = readings_latest_aside(view); i >= 0 && s->err == ERR_OK;
         i = readings_before(view, i)) {
        const struct reading *reading = readings_view_at(view, i);
        if (unassigned_waits(view, reading)) {
            if (visible[s->event->rules->points[reading->point].item])
                find_waiting(s, reading);
        } else if (reading->aside == ASIDE_NO_CAR && !reading->is_void) {
            s->err = strmap_put(&s->numbered, reading->id, i);
        }
    }
}

static int by_text(const void *a, const void *b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Makes a doubt's id from what a person would decide it by: its text and the readings of its point.
 * The text of a missing reading is left out: it changes while the car goes on. */
static int name_doubt(const struct event *event, struct doubt *doubt) {
    enum { OWN = 6 }; /* parts before the readings */
    char car[24];
    size_t count = OWN;
    int latest = doubt->car < 0 ? -1 : readings_latest(event->readings, doubt->car, doubt->point);
    for (int i = latest; i >= 0; i = readings_before(event->readings, i))
        count++;
    const char **parts = calloc(count + 1, sizeof *parts);
    if (parts == NULL)
        return ERR_NOMEM;
    (void)snprintf(car, sizeof car, "%lld", (long long)doubt_number(event, doubt));
    parts[0] = "doubt";
    parts[1] = doubt_word(doubt->kind);
    parts[2] = car;
    parts[3] = event->rules->points[doubt->point].id;
    parts[4] = doubt->kind == DOUBT_MISSING ? "" : doubt->why;
    parts[5] = doubt->ruled ? "ruled" : "";
    count = OWN;
    if (doubt->car < 0)
        parts[count++] = doubt->reading->id;
    for (int i = latest; i >= 0; i = readings_before(event->readings, i)) {
        const struct reading *reading = readings_view_at(event->readings, i);
        if (!reading->is_void && !reading_is_replaced(event->readings, reading))
            parts[count++] = reading->id;
    }
    qsort(parts + OWN, count - OWN, sizeof *parts, by_text);
    doubt_id_make(doubt->id, parts, count);
    free(parts);
    return ERR_OK;
}

int doubts_compare(const struct doubt *a, const struct doubt *b) {
    if ((a->car < 0) != (b->car < 0))
        return a->car < 0 ? -1 : 1;
    if (a->kind != b->kind)
        return (int)a->kind - (int)b->kind;
    if (a->point != b->point || a->car != b->car)
        return a->point != b->point ? a->point - b->point : a->car - b->car;
    return a->car < 0 ? strcmp(a->id, b->id) : 0;
}

/* Those that need a ruling first. */
static int by_urgency(const void *a, const void *b) {
    const struct doubt *x = a;
    const struct doubt *y = b;
    if (doubt_is_open(x) != doubt_is_open(y))
        return doubt_is_open(x) ? -1 : 1;
    return doubts_compare(x, y);
}

int doubts_new(const struct scores *scores, struct doubts **out) {
    struct doubts *d = calloc(1, sizeof *d);
    struct search s = {.doubts = d, .event = scores->event};
    *out = NULL;
    if (d == NULL)
        return ERR_NOMEM;
    d->scores = scores;
    d->arena = arena_new();
    s.err = d->arena == NULL ? ERR_NOMEM : ERR_OK;
    if (s.err == ERR_OK)
        search_aside(&s);
    for (int car = 0; s.err == ERR_OK && car < s.event->entries->count; car++)
        search_car(&s, car);
    for (int i = 0; s.err == ERR_OK && i < d->count; i++)
        s.err = name_doubt(s.event, &d->list[i]);
    if (d->count > 1)
        qsort(d->list, (size_t)d->count, sizeof *d->list, by_urgency);
    textbuf_clear(&s.text);
    strmap_clear(&s.numbered);
    if (s.err == ERR_OK)
        *out = d;
    else
        doubts_free(d);
    return s.err;
}

void doubts_free(struct doubts *d) {
    if (d == NULL)
        return;
    for (int i = 0; i < d->count; i++)
        effect_clear(&d->list[i].effect);
    free(d->list);
    arena_free(d->arena);
    free(d);
}
