/* SPDX-License-Identifier: MIT */
#include "doubts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "arena.h"
#include "check.h"
#include "decimal.h"
#include "err.h"
#include "textbuf.h"

const char *doubt_word(enum doubt_kind kind) {
    static const char *const words[] = {"differ", "out", "order", "fast", "missing", "flag"};
    return words[kind];
}

bool doubt_is_open(const struct doubt *doubt) {
    return (doubt->kind == DOUBT_DIFFER || doubt->kind == DOUBT_OUT) && !doubt->ruled;
}

/* The look through one event. */
struct looking {
    struct doubts *doubts;
    const struct event *event;
    struct scorer scorer;
    struct textbuf text;
    int err;
};

static bool is_ruled(const struct event *event, int car, int point) {
    static const enum decision_kind kinds[] = {DECIDE_NOTIONAL, DECIDE_WAIVE};
    const struct rulings *r = event->rulings;
    int item = event->rules->points[point].item;
    if (r->cancelled_item[item] != NULL || r->cancelled_point[point] != NULL)
        return true;
    for (size_t i = 0; i < sizeof kinds / sizeof kinds[0]; i++) {
        if (rulings_find(r, car, kinds[i], TARGET_ITEM, item) != NULL ||
            rulings_find(r, car, kinds[i], TARGET_POINT, point) != NULL)
            return true;
    }
    return false;
}

/* Adds a doubt with the text in hand. */
static struct doubt *add(struct looking *l, enum doubt_kind kind, int car, int point,
                         const struct reading *reading) {
    struct doubts *d = l->doubts;
    struct doubt *list = array_room(d->list, &d->cap, (size_t)d->count + 1, sizeof *list);
    const char *why =
        l->text.failed ? NULL : arena_text(d->arena, textbuf_text(&l->text), l->text.len);
    textbuf_reset(&l->text);
    if (list != NULL)
        d->list = list;
    if (list == NULL || why == NULL) {
        l->err = ERR_NOMEM;
        return NULL;
    }
    list[d->count] = (struct doubt){.kind = kind,
                                    .car = car,
                                    .point = point,
                                    .against = -1,
                                    .reading = reading,
                                    .why = why,
                                    .ruled = is_ruled(l->event, car, point)};
    return &list[d->count++];
}

/* Scores the car of a doubt in another event than its own, and keeps the effect where it moves more
 * than the one that is kept. */
static void weigh(struct looking *l, struct doubt *doubt, const struct event *other) {
    const struct scores *scores = l->doubts->scores;
    struct scores *after = NULL;
    struct effect effect = {0};
    int err = scores_copy(scores, other, scores->view, &after);
    if (err == ERR_OK) {
        scores_update(after, &l->scorer, &doubt->car, 1);
        scores_rank(after, &l->scorer);
        err = effect_make(scores, after, &effect);
    }
    scores_free(after);
    if (err != ERR_OK)
        l->err = err;
    effect.event = l->event;
    int places = effect_places(&effect);
    bool better = places > doubt->places || (places == doubt->places && doubt->effect.count == 0);
    if (better) {
        effect_clear(&doubt->effect);
        doubt->effect = effect;
        doubt->places = places;
    } else {
        effect_clear(&effect);
    }
}

static void weigh_reading(struct looking *l, struct doubt *doubt, const struct reading *reading) {
    struct instead instead = {doubt->car, doubt->point, reading};
    struct event other = *l->event;
    other.instead = &instead;
    weigh(l, doubt, &other);
}

/* The event were the car's rulings others. */
static void weigh_rulings(struct looking *l, struct doubt *doubt, const struct car_rulings *own) {
    size_t cars = (size_t)l->event->entries->count;
    struct rulings rulings = *l->event->rulings;
    struct event other = *l->event;
    struct car_rulings *all = malloc(cars * sizeof *all);
    if (all == NULL) {
        l->err = ERR_NOMEM;
        return;
    }
    memcpy(all, rulings.cars, cars * sizeof *all);
    all[doubt->car] = *own;
    rulings.cars = all;
    other.rulings = &rulings;
    weigh(l, doubt, &other);
    free(all);
}

static void weigh_not_out(struct looking *l, struct doubt *doubt) {
    struct car_rulings own = l->event->rulings->cars[doubt->car];
    own.retirement_count = 0;
    weigh_rulings(l, doubt, &own);
}

static void weigh_waived(struct looking *l, struct doubt *doubt) {
    struct car_rulings own = l->event->rulings->cars[doubt->car];
    struct decision waive = {.id = "",
                             .kind = DECIDE_WAIVE,
                             .car = doubt->car,
                             .target = TARGET_POINT,
                             .place = doubt->point};
    const struct decision **list = malloc(((size_t)own.count + 1) * sizeof *list);
    if (list == NULL) {
        l->err = ERR_NOMEM;
        return;
    }
    if (own.count > 0)
        memcpy(list, own.list, (size_t)own.count * sizeof *list);
    list[own.count++] = &waive;
    own.list = list;
    weigh_rulings(l, doubt, &own);
    free(list);
}

/* ---- what is looked for ---- */

static bool may_count(const struct event *event, const struct reading *reading) {
    return !reading_is_replaced(event->readings, reading) && !reading->is_void;
}

static void look_differ(struct looking *l, int car, int point, const struct reading *counted) {
    const struct event *event = l->event;
    textbuf_printf(&l->text, "Readings differ; %s counts: it was made first.", counted->id);
    struct doubt *doubt = add(l, DOUBT_DIFFER, car, point, counted);
    for (int i = readings_latest(event->readings, car, point); doubt != NULL && i >= 0;
         i = readings_before(event->readings, i)) {
        const struct reading *other = readings_view_at(event->readings, i);
        if (other != counted && may_count(event, other))
            weigh_reading(l, doubt, other);
    }
}

static void look_out(struct looking *l, int car, int point, const struct reading *counted) {
    textbuf_puts(&l->text, "Read while out of the event; it does not count.");
    struct doubt *doubt = add(l, DOUBT_OUT, car, point, counted);
    if (doubt != NULL)
        weigh_not_out(l, doubt);
}

static void look_missing(struct looking *l, int car, int point, int last) {
    textbuf_printf(&l->text, "Not read here, but at %s further on.",
                   l->event->rules->points[last].id);
    struct doubt *doubt = add(l, DOUBT_MISSING, car, point, NULL);
    if (doubt == NULL)
        return;
    doubt->against = last;
    if (!doubt->ruled)
        weigh_waived(l, doubt);
}

static const char *flags_of(const struct reading *reading) {
    for (const struct extra *e = reading->text.extras; e != NULL; e = e->next) {
        if (strcmp(e->name, "flags") == 0)
            return e->value;
    }
    return "";
}

static void look_flags(struct looking *l, int car, int point, const struct reading *reading) {
    if (*flags_of(reading) == '\0')
        return;
    textbuf_printf(&l->text, "The desk put a flag on it: %s.", flags_of(reading));
    struct doubt *doubt = add(l, DOUBT_FLAG, car, point, reading);
    if (doubt != NULL)
        weigh_reading(l, doubt, NULL);
}

/* Where a distance was measured from, and when the car left there. */
struct mark {
    int point;    /* -1 the day's start */
    int64_t time; /* TIME_NONE where it is not known */
};

static void look_order(struct looking *l, int car, int point, const struct reading *reading,
                       const struct mark *before) {
    if (before->time == TIME_NONE || reading->time >= before->time)
        return;
    time_write(&l->text, reading->time, 0);
    textbuf_puts(&l->text, " is before ");
    time_write(&l->text, before->time, 0);
    textbuf_printf(&l->text, " at %s.", l->event->rules->points[before->point].id);
    struct doubt *doubt = add(l, DOUBT_ORDER, car, point, reading);
    if (doubt == NULL)
        return;
    doubt->against = before->point;
    weigh_reading(l, doubt, NULL);
}

/* Too fast where distance / time > limit; compared without dividing. A clock that runs backwards is
 * another doubt. */
static void look_speed(struct looking *l, int car, int point, const struct reading *reading,
                       const struct mark *from, int64_t distance) {
    __extension__ typedef __int128 wide;
    const struct rules *rules = l->event->rules;
    int64_t limit = rules->miles ? SPEED_LIMIT_MI : SPEED_LIMIT_KM;
    const char *unit = rules->miles ? "mph" : "km/h";
    if (from->time == TIME_NONE || distance <= 0 || reading->time < from->time)
        return;
    int64_t ms = reading->time - from->time;
    if ((wide)distance * 3600000 <= (wide)limit * ms)
        return;
    decimal_write_short(&l->text, distance);
    textbuf_printf(&l->text, " %s from %s in ", rules->miles ? "mi" : "km",
                   from->point < 0 ? "the start" : rules->points[from->point].id);
    duration_write_words(&l->text, ms);
    if (ms > 0) {
        textbuf_puts(&l->text, ", an average of ");
        decimal_write_short(&l->text, (int64_t)((wide)distance * 3600000 / ms));
        textbuf_printf(&l->text, " %s", unit);
    }
    textbuf_printf(&l->text, ": above the published limit of %d %s.", (int)(limit / 1000), unit);
    struct doubt *doubt = add(l, DOUBT_FAST, car, point, reading);
    if (doubt == NULL)
        return;
    doubt->against = from->point;
    weigh_reading(l, doubt, NULL);
}

/* One car's way through the event. */
struct way {
    int day;
    struct mark last; /* the last time of day read that day */
    struct mark
        control;       /* when the car left the last time control; unknown where it was not read */
    struct mark check; /* the last point of this test that has a distance */
    int64_t check_at;
    int item;
};

static void enter(const struct looking *l, struct way *way, int car, int item) {
    const struct rules *rules = l->event->rules;
    way->item = item;
    way->check = (struct mark){-1, TIME_NONE};
    if (rules->items[item].day == way->day)
        return;
    way->day = rules->items[item].day;
    way->last = (struct mark){-1, TIME_NONE};
    way->control = (struct mark){-1, rulings_start(l->event, way->day, car)};
}

static void look_speeds(struct looking *l, struct way *way, int car, int p,
                        const struct reading *reading) {
    const struct point *point = &l->event->rules->points[p];
    const struct item *item = &l->event->rules->items[point->item];
    bool timed = reading != NULL && reading->time != TIME_NONE;
    if (timed && p == item->first_point)
        look_speed(l, car, p, reading, &way->control, item->distance);
    if (item->kind == KIND_TIME_CONTROL) {
        if (point->role == ROLE_ARRIVAL)
            way->control = (struct mark){p, timed ? reading->time + item->halt : TIME_NONE};
        else if (timed)
            way->control = (struct mark){p, reading->time};
        return;
    }
    if (item->kind != KIND_REGULARITY || !timed)
        return;
    int64_t at = point->role == ROLE_START ? 0 : item->checks[point->number - 1].at;
    if (at < 0)
        return;
    look_speed(l, car, p, reading, &way->check, at - way->check_at);
    way->check = (struct mark){p, reading->time};
    way->check_at = at;
}

static void look_car(struct looking *l, int car) {
    const struct event *event = l->event;
    const struct rules *rules = event->rules;
    const bool *visible = l->doubts->scores->view->visible;
    int last = -1;
    for (int p = 0; p < rules->point_count; p++) {
        if (visible[rules->points[p].item] &&
            readings_counted(event->readings, car, p, NULL) != NULL)
            last = p;
    }
    struct way way = {.day = -1, .item = -1};
    for (int p = 0; p <= last && l->err == ERR_OK; p++) {
        bool conflict = false;
        if (!visible[rules->points[p].item])
            continue;
        const struct reading *reading = readings_counted(event->readings, car, p, &conflict);
        bool out = rulings_out_at(event, car, p, -1, NULL);
        if (rules->points[p].item != way.item)
            enter(l, &way, car, rules->points[p].item);
        if (reading != NULL && out) {
            look_out(l, car, p, reading);
            continue;
        }
        if (reading != NULL && conflict)
            look_differ(l, car, p, reading);
        if (reading == NULL && rules->points[p].scored >= 0 && !out)
            look_missing(l, car, p, last);
        look_speeds(l, &way, car, p, reading);
        if (reading == NULL)
            continue;
        look_flags(l, car, p, reading);
        if (reading->time == TIME_NONE)
            continue;
        look_order(l, car, p, reading, &way.last);
        way.last = (struct mark){p, reading->time};
    }
}

static int by_text(const void *a, const void *b) {
    return strcmp(*(const char *const *)a, *(const char *const *)b);
}

/* Names a doubt after what a person would look at: the readings of its point, and what it says but
 * for how far a car has come since a reading went missing. */
static int name_doubt(const struct event *event, struct doubt *doubt) {
    enum { OWN = 6 };
    char car[16];
    size_t count = OWN;
    for (int i = readings_latest(event->readings, doubt->car, doubt->point); i >= 0;
         i = readings_before(event->readings, i))
        count++;
    const char **parts = calloc(count, sizeof *parts);
    if (parts == NULL)
        return ERR_NOMEM;
    (void)snprintf(car, sizeof car, "%d", event->entries->list[doubt->car].number);
    parts[0] = "doubt";
    parts[1] = doubt_word(doubt->kind);
    parts[2] = car;
    parts[3] = event->rules->points[doubt->point].id;
    parts[4] = doubt->kind == DOUBT_MISSING ? "" : doubt->why;
    parts[5] = doubt->ruled ? "ruled" : "";
    count = OWN;
    for (int i = readings_latest(event->readings, doubt->car, doubt->point); i >= 0;
         i = readings_before(event->readings, i)) {
        const struct reading *reading = readings_view_at(event->readings, i);
        if (may_count(event, reading))
            parts[count++] = reading->id;
    }
    qsort(parts + OWN, count - OWN, sizeof *parts, by_text);
    case_id_make(doubt->id, parts, count);
    free(parts);
    return ERR_OK;
}

static int by_weight(const void *a, const void *b) {
    const struct doubt *x = a;
    const struct doubt *y = b;
    if (x->places != y->places)
        return y->places - x->places;
    if (x->kind != y->kind)
        return (int)x->kind - (int)y->kind;
    return x->point != y->point ? x->point - y->point : x->car - y->car;
}

int doubts_new(const struct scores *scores, struct doubts **out) {
    struct doubts *d = calloc(1, sizeof *d);
    struct looking l = {.doubts = d, .event = scores->event};
    *out = NULL;
    if (d == NULL)
        return ERR_NOMEM;
    d->scores = scores;
    d->arena = arena_new();
    l.err = d->arena == NULL ? ERR_NOMEM : scorer_init(&l.scorer, l.event);
    for (int car = 0; l.err == ERR_OK && car < l.event->entries->count; car++)
        look_car(&l, car);
    for (int i = 0; l.err == ERR_OK && i < d->count; i++)
        l.err = name_doubt(l.event, &d->list[i]);
    if (d->count > 1)
        qsort(d->list, (size_t)d->count, sizeof *d->list, by_weight);
    scorer_clear(&l.scorer);
    textbuf_clear(&l.text);
    if (l.err == ERR_OK)
        *out = d;
    else
        doubts_free(d);
    return l.err;
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
