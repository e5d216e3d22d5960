/* SPDX-License-Identifier: MIT */
#include "office/doubts.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/array.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "office/check.h"

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
    struct doubt *list = array_reserve(d->list, &d->cap, (size_t)d->count + 1, sizeof *list);
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

/* ---- what is looked for ---- */

static bool may_count(const struct event *event, const struct reading *reading) {
    return !reading_is_replaced(event->readings, reading) && !reading->is_void;
}

static void look_differ(struct looking *l, int car, int point, const struct reading *counted) {
    textbuf_printf(&l->text, "Readings differ; %s counts: it was made first.", counted->id);
    (void)add(l, DOUBT_DIFFER, car, point, counted);
}

static void look_out(struct looking *l, int car, int point, const struct reading *counted) {
    textbuf_puts(&l->text, "Read while out of the event; it does not count.");
    (void)add(l, DOUBT_OUT, car, point, counted);
}

static void look_missing(struct looking *l, int car, int point, int last) {
    textbuf_printf(&l->text, "Not read here, but at %s further on.",
                   l->event->rules->points[last].id);
    struct doubt *doubt = add(l, DOUBT_MISSING, car, point, NULL);
    if (doubt != NULL)
        doubt->against = last;
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
    (void)add(l, DOUBT_FLAG, car, point, reading);
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
    if (doubt != NULL)
        doubt->against = before->point;
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
    if (doubt != NULL)
        doubt->against = from->point;
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
    doubt_id_make(doubt->id, parts, count);
    free(parts);
    return ERR_OK;
}

/* Those that wait for a ruling first. */
static int by_urgency(const void *a, const void *b) {
    const struct doubt *x = a;
    const struct doubt *y = b;
    if (doubt_is_open(x) != doubt_is_open(y))
        return doubt_is_open(x) ? -1 : 1;
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
    l.err = d->arena == NULL ? ERR_NOMEM : ERR_OK;
    for (int car = 0; l.err == ERR_OK && car < l.event->entries->count; car++)
        look_car(&l, car);
    for (int i = 0; l.err == ERR_OK && i < d->count; i++)
        l.err = name_doubt(l.event, &d->list[i]);
    if (d->count > 1)
        qsort(d->list, (size_t)d->count, sizeof *d->list, by_urgency);
    textbuf_clear(&l.text);
    if (l.err == ERR_OK)
        *out = d;
    else
        doubts_free(d);
    return l.err;
}

/* ---- what would change ---- */

struct weighing {
    const struct scores *scores;
    const struct event *event;
    struct scorer scorer;
    int values; /* how many of a doubt are tried */
    int tried;
    int err;
};

/* Scores the car of a doubt in another event than its own, and keeps the effect where it moves more
 * than the one that is kept. */
static void weigh(struct weighing *w, struct doubt *doubt, const struct event *other) {
    const struct scores *scores = w->scores;
    struct scores *after = NULL;
    struct effect effect = {0};
    w->tried++;
    int err = scores_copy(scores, other, scores->view, &after);
    if (err == ERR_OK) {
        scores_update(after, &w->scorer, &doubt->car, 1);
        scores_rank(after, &w->scorer);
        err = effect_make(scores, after, &effect);
    }
    scores_free(after);
    if (err != ERR_OK)
        w->err = err;
    effect.event = w->event;
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

static void weigh_reading(struct weighing *w, struct doubt *doubt, const struct reading *reading) {
    struct instead instead = {doubt->car, doubt->point, reading};
    struct event other = *w->event;
    other.instead = &instead;
    weigh(w, doubt, &other);
}

/* The event were the car's rulings others. */
static void weigh_rulings(struct weighing *w, struct doubt *doubt, const struct car_rulings *own) {
    size_t cars = (size_t)w->event->entries->count;
    struct rulings rulings = *w->event->rulings;
    struct event other = *w->event;
    struct car_rulings *all = malloc(cars * sizeof *all);
    if (all == NULL) {
        w->err = ERR_NOMEM;
        return;
    }
    memcpy(all, rulings.cars, cars * sizeof *all);
    all[doubt->car] = *own;
    rulings.cars = all;
    other.rulings = &rulings;
    weigh(w, doubt, &other);
    free(all);
}

static void weigh_not_out(struct weighing *w, struct doubt *doubt) {
    struct car_rulings own = w->event->rulings->cars[doubt->car];
    own.retirement_count = 0;
    weigh_rulings(w, doubt, &own);
}

static void weigh_waived(struct weighing *w, struct doubt *doubt) {
    struct car_rulings own = w->event->rulings->cars[doubt->car];
    struct decision waive = {.id = "",
                             .kind = DECIDE_WAIVE,
                             .car = doubt->car,
                             .target = TARGET_POINT,
                             .place = doubt->point};
    const struct decision **list = malloc(((size_t)own.count + 1) * sizeof *list);
    if (list == NULL) {
        w->err = ERR_NOMEM;
        return;
    }
    if (own.count > 0)
        memcpy(list, own.list, (size_t)own.count * sizeof *list);
    list[own.count++] = &waive;
    own.list = list;
    weigh_rulings(w, doubt, &own);
    free(list);
}

/* By what they say; the same value in other words may come twice. */
static int by_value(const void *a, const void *b) {
    const struct reading *x = *(const struct reading *const *)a;
    const struct reading *y = *(const struct reading *const *)b;
    if (x->time != y->time)
        return x->time < y->time ? -1 : 1;
    if (x->elapsed != y->elapsed)
        return x->elapsed < y->elapsed ? -1 : 1;
    return strcmp(x->text.field[READING_FAULTS], y->text.field[READING_FAULTS]);
}

/* The other values that stand beside the one that counts, each once, in their order. */
static int other_values(const struct event *event, const struct doubt *doubt,
                        const struct reading ***out) {
    size_t count = 0;
    size_t kept = 0;
    size_t cap = 0;
    const struct reading **list = NULL;
    for (int i = readings_latest(event->readings, doubt->car, doubt->point); i >= 0;
         i = readings_before(event->readings, i)) {
        const struct reading *other = readings_view_at(event->readings, i);
        if (other != doubt->reading && may_count(event, other)) {
            const struct reading **more = array_reserve(list, &cap, count + 1, sizeof *more);
            if (more == NULL) {
                free(list);
                return -1;
            }
            list = more;
            list[count++] = other;
        }
    }
    if (count > 1)
        qsort(list, count, sizeof *list, by_value);
    for (size_t i = 0; i < count; i++) {
        if (by_value(&list[i], &doubt->reading) != 0 &&
            (kept == 0 || by_value(&list[kept - 1], &list[i]) != 0))
            list[kept++] = list[i];
    }
    *out = list;
    return (int)kept;
}

/* Of very many values some are weighed, from the first to the last: one of the ends moves most. */
static void weigh_others(struct weighing *w, struct doubt *doubt) {
    const struct reading **values = NULL;
    int count = other_values(w->event, doubt, &values);
    int some = count < w->values ? count : w->values;
    if (count < 0)
        w->err = ERR_NOMEM;
    for (int i = 0; i < some && w->err == ERR_OK; i++)
        weigh_reading(w, doubt, values[some == count ? i : i * (count - 1) / (some - 1)]);
    free(values);
}

static void weigh_doubt(struct weighing *w, struct doubt *doubt) {
    switch (doubt->kind) {
    case DOUBT_DIFFER:
        weigh_others(w, doubt);
        break;
    case DOUBT_OUT:
        weigh_not_out(w, doubt);
        break;
    case DOUBT_MISSING:
        if (!doubt->ruled)
            weigh_waived(w, doubt);
        break;
    case DOUBT_ORDER:
    case DOUBT_FAST:
    case DOUBT_FLAG:
        weigh_reading(w, doubt, NULL);
        break;
    }
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

int doubts_weigh(struct doubts *d) {
    struct weighing w = {.scores = d->scores, .event = d->scores->event};
    int kept = 0;
    for (int i = 0; i < d->count; i++) {
        if (!d->list[i].acknowledged || doubt_is_open(&d->list[i]))
            d->list[kept++] = d->list[i];
    }
    d->count = kept;
    d->weighed = kept < DOUBTS_WEIGHED ? kept : DOUBTS_WEIGHED;
    /* Two at least, the first and the last: a trial of a best time scores all cars anew. */
    int share = d->weighed == 0 ? 0 : DOUBTS_TRIALS / d->weighed;
    w.values = share < 2 ? 2 : share < DOUBT_VALUES_WEIGHED ? share : DOUBT_VALUES_WEIGHED;
    w.err = scorer_init(&w.scorer, w.event);
    for (int i = 0; w.err == ERR_OK && i < d->weighed; i++)
        weigh_doubt(&w, &d->list[i]);
    scorer_clear(&w.scorer);
    d->tried = w.tried;
    if (d->weighed > 1)
        qsort(d->list, (size_t)d->weighed, sizeof *d->list, by_weight);
    return w.err;
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
