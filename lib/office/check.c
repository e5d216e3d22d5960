/* SPDX-License-Identifier: MIT */
#include "office/check.h"

#include <stdlib.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "office/check_decisions.h"
#include "office/check_groups.h"
#include "office/check_places.h"
#include "office/check_rules.h"
#include "office/check_schedule.h"
#include "office/check_totals.h"
#include "office/check_variants.h"
#include "office/event_doubt.h"
#include "office/lacking.h"
#include "scoring/kinds/regularity.h"
#include "scoring/kinds/special_test.h"

bool check_is_too_fast(const struct rules *rules, int64_t distance, int64_t ms) {
    int64_t limit = rules->miles ? SPEED_LIMIT_MI : SPEED_LIMIT_KM;
    __extension__ typedef __int128 wide;
    return (wide)distance * 3600000 > (wide)limit * ms; /* distance / time > limit */
}

static void doubt_speed(const struct rules *rules, struct problems *problems, struct value_place at,
                        const char *part, int64_t speed) {
    struct textbuf text = {0};
    const char *unit = rules->miles ? "mph" : "km/h";
    textbuf_puts(&text, "average of ");
    decimal_write_short(&text, speed);
    textbuf_printf(&text,
                   " %s is above the published limit of %d %s (%s); local law and permits decide, "
                   "and speed limits come first",
                   unit, (rules->miles ? SPEED_LIMIT_MI : SPEED_LIMIT_KM) / 1000, unit,
                   rules->miles ? "UK rules" : "FIVA");
    event_doubt_at(problems, at, part, textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

static void check_regularity(const struct rules *rules, const struct item *item,
                             struct value_place at, struct problems *problems) {
    const struct regularity *own = regularity_of(item);
    struct textbuf part = {0};
    for (int i = 0; i < own->speed_count; i++) {
        if (!check_is_too_fast(rules, own->speeds[i].speed, 3600000))
            continue;
        textbuf_reset(&part);
        textbuf_printf(&part, ".speeds[%d].speed", i);
        doubt_speed(rules, problems, at, textbuf_text(&part), own->speeds[i].speed);
    }
    int64_t before = 0;
    for (int i = 0; i < own->timed.count; i++) {
        int64_t ideal = own->timed.ideals[i + 1];
        if (item->off_points != NULL && item->off_points[i + 1])
            continue;
        textbuf_reset(&part);
        textbuf_printf(&part, ".checks[%d]", i);
        if (own->checks[i].ideal != TIME_NONE && own->checks[i].at > 0 && ideal > 0 &&
            check_is_too_fast(rules, own->checks[i].at, ideal))
            doubt_speed(rules, problems, at, textbuf_text(&part),
                        own->checks[i].at * 3600000 / ideal);
        if (i == 0 && ideal < CHECK_TOO_NEAR_MS)
            event_doubt_at(problems, at, textbuf_text(&part),
                           "is less than a minute from the start: nearer than it could be timed");
        if (i > 0 && ideal <= before)
            event_doubt_at(problems, at, textbuf_text(&part),
                           "its ideal time is not after that of the check before");
        before = ideal;
    }
    problems->out_of_memory = problems->out_of_memory || part.failed;
    textbuf_clear(&part);
}

/* The shortest time that an item can take, as far as its rules say. */
static int64_t time_within(const struct item *item) {
    const struct checks_and_pads *timed = checks_and_pads_of(item);
    const struct special_test *special = special_test_of(item);
    switch (item->kind) {
    case KIND_REGULARITY:
    case KIND_SET_TIME:
        return timed->ideals[timed->count];
    case KIND_SPECIAL_TEST:
        return special->bogey != TIME_NONE ? special->bogey : 0;
    case KIND_TIME_CONTROL:
    case KIND_PASSAGE_CONTROL:
    case KIND_CONSISTENCY:
    case KIND_COUNT:
        break;
    }
    return 0;
}

/* Keys of a special test that change nothing as the others stand. */
static void check_special_test(const struct rules *rules, const struct item *item,
                               struct value_place at, struct problems *problems) {
    const struct special_test *own = special_test_of(item);
    if (item->attempts == 1 && own->counts != COUNTS_BEST && at.line < 0)
        event_doubt_at(problems, at, ".counts",
                       "changes nothing, since there is one attempt: say how many in “attempts”");
    if (own->ground != BEST_TIME && !item->seeks_best && at.line < 0)
        event_doubt_at(
            problems, at, ".best",
            "changes nothing, since no best is looked for: say “behind-best” as method, or a "
            "maximum by the best");
    else if (own->ground == BEST_FAULTLESS && item->fault_count == 0 && at.line < 0)
        event_doubt_at(problems, at, ".best",
                       "changes nothing, since the test names no faults: name them in “faults”");
    if (own->maximum_by_best && own->maximum_scope == SCOPE_CATEGORY && rules->category_count == 0)
        event_doubt_at(problems, at, ".maximum.best",
                       "is that of all cars, since there are no categories: name them in "
                       "“classes.categories”, or say “overall”");
}

/* Such a fault still spoils `finisher`, but most events want it to cost something. */
static void check_faults(const struct item *item, struct value_place at,
                         struct problems *problems) {
    struct textbuf part = {0};
    if (item->kind == KIND_SPECIAL_TEST || item->rule.missed > 0 || item->rule.missed_fails > 0)
        return;
    for (int i = 0; i < item->fault_count; i++) {
        if (item->faults[i].worth != FAULT_MISSED)
            continue;
        textbuf_reset(&part);
        textbuf_printf(&part, ".faults.%s", item->faults[i].name);
        event_doubt_at(
            problems, at, textbuf_text(&part),
            "makes its point missed, which costs nothing here: say “missed” in the penalty");
    }
    problems->out_of_memory = problems->out_of_memory || part.failed;
    textbuf_clear(&part);
}

/* What can be doubted of an item by itself. */
static void check_item(const struct rules *rules, const struct item *item, struct value_place at,
                       struct problems *problems) {
    check_faults(item, at, problems);
    if (item->kind == KIND_REGULARITY)
        check_regularity(rules, item, at, problems);
    if (item->kind == KIND_SPECIAL_TEST)
        check_special_test(rules, item, at, problems);
    if (item->kind != KIND_TIME_CONTROL || item->distance <= 0)
        return;
    int64_t target = item->road.target;
    if (target == 0)
        event_doubt_at(problems, at, ".target", "no time is allowed for a distance");
    else if (check_is_too_fast(rules, item->distance, target))
        doubt_speed(rules, problems, at, ".target", item->distance * 3600000 / target);
}

/* From road point to road point: whether the tests fit in the target. */
static void check_target(const struct item *item, int64_t inside, struct problems *problems) {
    int64_t target = item->road.target;
    struct textbuf text = {0};
    if (inside <= target)
        return;
    textbuf_puts(&text, "the target of ");
    duration_write_words(&text, target);
    textbuf_puts(&text, " is shorter than the tests inside it, ");
    duration_write_words(&text, inside);
    event_doubt_at(problems, (struct value_place){item->place, -1}, ".target", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

static void check_road(const struct rules *rules, struct problems *problems) {
    int64_t inside = 0;
    int day = -1;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->day != day) {
            day = item->day;
            inside = 0;
        }
        check_item(rules, item, (struct value_place){i, -1}, problems);
        for (int line = 0; line < item->variant_count; line++) {
            if (item->variants[line].item != NULL)
                check_item(rules, item->variants[line].item, (struct value_place){i, line},
                           problems);
        }
        inside += time_within(item);
        if (!item->road.on)
            continue;
        if (item->test < 0 || item->road.targeted)
            check_target(item, inside, problems);
        inside = 0;
    }
}

static void check_classes(const struct event *event, struct problems *problems) {
    const struct rules *rules = event->rules;
    for (int c = 0; c < rules_class_count(rules); c++) {
        int cars = 0;
        const struct entry *only = NULL;
        for (int i = 0; i < event->entries->count; i++) {
            if (event->entries->list[i].class_index == c) {
                cars++;
                only = &event->entries->list[i];
            }
        }
        if (cars != 1)
            continue;
        struct textbuf id = {0};
        rules_class_id(rules, c, &id);
        problems_add(problems, PROBLEM_DOUBT, "entries.csv", only->line,
                     "car %d is alone in class %s", only->number, textbuf_text(&id));
        problems->out_of_memory = problems->out_of_memory || id.failed;
        textbuf_clear(&id);
    }
    for (int i = 0; i < event->entries->count; i++) {
        const struct entry *e = &event->entries->list[i];
        if (rules->category_count > 0 && e->category < 0)
            problems_add(problems, PROBLEM_DOUBT, "entries.csv", e->line,
                         "car %d names no category and stands in none", e->number);
    }
}

/* A time of day before the one that was read last.
 *   last  NULL for none */
static void check_order(const struct event *event, const struct reading *reading,
                        const struct reading *last, struct problems *problems) {
    struct textbuf text = {0};
    if (last == NULL || reading->time >= last->time)
        return;
    textbuf_printf(&text, "car %d at %s: ", event->entries->list[reading->car].number,
                   event->rules->points[reading->point].id);
    time_write(&text, reading->time, 0);
    textbuf_printf(&text, " is before %s at ", event->rules->points[last->point].id);
    time_write(&text, last->time, 0);
    problems_add(problems, PROBLEM_DOUBT, "readings.csv", 0, "%s", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* Where no reading is missed: the car is out there, or the point is cancelled, waived or notional.
 */
static bool is_settled(const struct event *event, int car, int point) {
    bool whole;
    int item = event->rules->points[point].item;
    return rulings_out_at(event, car, point, -1, NULL) ||
           rulings_at(event->rulings, car, item, point, &whole) != NULL;
}

/* One car's readings along the road: in conflict, out of order, missing between others. */
static void check_car(const struct event *event, int car, struct problems *problems) {
    const struct rules *rules = event->rules;
    int number = event->entries->list[car].number;
    int last_read = -1;
    int last_on = -1; /* of its route */
    for (int p = 0; p < rules->point_count; p++) {
        if (readings_counted(event->readings, car, p, NULL) == NULL)
            continue;
        last_read = p;
        if (car_point_is_on(event, car, p))
            last_on = p;
    }
    const struct reading *road = NULL;    /* the last time of day on it that day */
    const struct reading *attempt = NULL; /* the last one at this item */
    int day = -1;
    for (int p = 0; p <= last_read; p++) {
        const struct item *item = &rules->items[rules->points[p].item];
        bool conflict = false;
        const struct reading *reading = readings_counted(event->readings, car, p, &conflict);
        if (p == item->first_point)
            attempt = NULL;
        if (item->day != day) {
            day = item->day;
            road = NULL;
        }
        if (conflict)
            problems_add(problems, PROBLEM_DOUBT, "readings.csv", 0,
                         "car %d at %s: readings differ; %s counts", number, rules->points[p].id,
                         reading->id);
        if (!car_point_is_on(event, car, p)) {
            if (reading != NULL)
                problems_add(problems, PROBLEM_DOUBT, "readings.csv", 0,
                             "car %d at %s: the point is not on its route; the reading does not "
                             "count",
                             number, rules->points[p].id);
            continue;
        }
        if (reading != NULL && rulings_out_at(event, car, p, -1, NULL))
            problems_add(problems, PROBLEM_DOUBT, "readings.csv", 0,
                         "car %d at %s: read while out of the event; it does not count", number,
                         rules->points[p].id);
        if (reading == NULL && lacking_at(event, car, p, last_on) && !is_settled(event, car, p))
            problems_add(problems, PROBLEM_DOUBT, "readings.csv", 0,
                         "car %d at %s: no reading, but the car was read further on", number,
                         rules->points[p].id);
        if (reading == NULL || reading->time == TIME_NONE)
            continue;
        bool repeat = lacking_is_repeat(rules, p);
        check_order(event, reading, repeat ? attempt : road, problems);
        attempt = reading;
        if (!repeat)
            road = reading;
    }
}

/* The reading that this one replaces or withdraws, -1 where it is not in the log, or there is none.
 */
static int replaced_of(const struct model *model, int index) {
    const char *id = readings_at(model->readings, index)->text.field[READING_REPLACES];
    return *id == '\0' ? -1 : readings_find(model->readings, id);
}

static void doubt_circle(const struct model *model, int first, struct problems *problems) {
    const struct reading *reading = readings_at(model->readings, first);
    const char *const *field = reading->text.field;
    struct textbuf ids = {0};
    textbuf_puts(&ids, reading->id);
    for (int i = replaced_of(model, first); i != first; i = replaced_of(model, i))
        textbuf_printf(&ids, ", %s", readings_at(model->readings, i)->id);
    problems_add(problems, PROBLEM_DOUBT, "readings.csv", 0,
                 "car %s at %s: readings replace each other in a circle, so that none of them "
                 "counts: %s",
                 *field[READING_CAR] == '\0' ? "?" : field[READING_CAR], field[READING_POINT],
                 textbuf_text(&ids));
    problems->out_of_memory = problems->out_of_memory || ids.failed;
    textbuf_clear(&ids);
}

/* Follows what each reading replaces. A walk that returns to a reading of its own has found a
 * circle; one that comes to a reading of an earlier walk has nothing new to find. */
static int check_circles(const struct model *model, struct problems *problems) {
    int count = readings_count(model->readings);
    int *walks = calloc((size_t)count + 1, sizeof *walks); /* which walk was here, 0 none */
    if (walks == NULL)
        return ERR_NOMEM;
    for (int i = 0; i < count; i++) {
        int at = i;
        while (at >= 0 && walks[at] == 0) {
            walks[at] = i + 1;
            at = replaced_of(model, at);
        }
        if (at >= 0 && walks[at] == i + 1)
            doubt_circle(model, at, problems);
    }
    free(walks);
    return ERR_OK;
}

int check_event(const struct model *model, struct problems *problems) {
    const struct event *event = &model->event;
    check_road(event->rules, problems);
    check_rules(event->rules, problems);
    check_schedule(event->rules, problems);
    check_places(event->rules, problems);
    check_variants(event, problems);
    check_totals(event, problems);
    check_classes(event, problems);
    check_groups(event, problems);
    for (int car = 0; car < event->entries->count; car++)
        check_car(event, car, problems);
    check_decisions(event, problems);
    if (check_circles(model, problems) != ERR_OK)
        return ERR_NOMEM;
    return problems_out_of_memory(problems) ? ERR_NOMEM : ERR_OK;
}
