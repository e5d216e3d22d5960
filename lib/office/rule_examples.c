/* SPDX-License-Identifier: MIT */
#include "office/rule_examples.h"

#include <stdio.h>
#include <stdlib.h>

#include "base/err.h"
#include "event/car_route.h"
#include "event/schedule.h"
#include "format/json_write.h"
#include "output/output.h"
#include "scoring/kinds/checks_and_pads.h"
#include "scoring/kinds/special_test.h"
#include "scoring/scoring.h"

/* From leaving a control to the start of a test; and the elapsed time of a lap, or of a special
 * test without a bogey. */
enum { TO_THE_START_MS = 300000, PLAIN_ELAPSED_MS = 60000 };

/* The longest deviation that is shown for a cap. */
enum { CAPPED_MAX_MS = 6 * 3600000 };

/* One example: what the car does at the point that is shown. */
struct example {
    const char *name;
    int64_t deviation; /* ms, early is negative */
    bool fault;        /* with the test's first fault */
    bool missed;
    int64_t before; /* instead: so late at the road point before, and on time at this one */
};

/* What all examples of one car at an item are made with. */
struct example_maker {
    struct model *model;
    struct event *event;     /* the model's */
    const struct item *item; /* with the car's own values */
    struct readings *others; /* readings that are put in place of the one on time */
    struct scores *scores;
    int car;
    int scored;      /* the scored point that is shown */
    int64_t on_time; /* when it would be read on time: a time of day, or elapsed */
    bool elapsed;
    int before;             /* the road point of the day before the item, -1 */
    int64_t on_time_before; /* when it is read there on time */
    bool good;              /* every reading of the example could be written */
    bool no_memory;         /* the examples lack something for want of it */
};

/* Adds one reading to a log. Returns its place, -1 where it was refused. */
static int put(struct example_maker *x, struct readings *log, int point, int64_t ms, bool elapsed,
               const char *faults) {
    struct reading_text text;
    struct textbuf time = {0};
    struct textbuf reason = {0};
    char number[16] = "";
    int index = -1;
    for (int i = 0; i < READING_FIELD_COUNT; i++)
        text.field[i] = "";
    text.extras = NULL;
    (void)snprintf(number, sizeof number, "%d", x->event->entries->list[x->car].number);
    if (ms >= 0)
        time_write(&time, ms, 0);
    text.field[READING_POINT] = x->event->rules->points[point].id;
    text.field[READING_CAR] = number;
    text.field[elapsed ? READING_ELAPSED : READING_TIME] = textbuf_text(&time);
    text.field[READING_FAULTS] = faults;
    /* The same values make the same id: that is the same reading, FACT_DUPLICATE. */
    enum fact_result result = readings_add(log, &text, &reason, &index);
    x->no_memory = x->no_memory || result == FACT_NOMEM || time.failed;
    if ((result != FACT_ADDED && result != FACT_DUPLICATE) || time.failed)
        x->good = false;
    textbuf_clear(&time);
    textbuf_clear(&reason);
    return x->good ? index : -1;
}

/* Reads the car on time at a point of the example. */
static void read_on_time(struct example_maker *x, int point, int64_t ms, bool elapsed) {
    (void)put(x, x->model->readings, point, ms, elapsed, "");
    if (x->event->rules->points[point].scored == x->scored ||
        x->event->rules->scored[x->scored].point == point) {
        x->on_time = ms;
        x->elapsed = elapsed;
    }
}

static void read_measured(struct example_maker *x, int64_t departure) {
    const struct item *item = x->item;
    const struct checks_and_pads *own = checks_and_pads_of(item);
    int64_t start = departure + (own->start_control ? own->start_after : TO_THE_START_MS);
    if (!own->start_control)
        read_on_time(x, item->first_point, start, false);
    for (int n = 1; n <= own->count; n++)
        read_on_time(x, item->first_point + n, start + own->ideals[n], false);
}

/* How much slower the attempts before the last are, so that the last is the best. */
enum { EARLIER_ATTEMPTS_MS = 20000 };

/* Laps, or a special test: an elapsed time, the bogey where there is one. */
static void read_elapsed(struct example_maker *x) {
    const struct item *item = x->item;
    const struct rules *rules = x->event->rules;
    int64_t elapsed = item->kind == KIND_SPECIAL_TEST && special_test_of(item)->bogey != TIME_NONE
                          ? special_test_of(item)->bogey
                          : PLAIN_ELAPSED_MS;
    for (int p = item->first_point; p < item->first_point + item->point_count; p++) {
        bool earlier = rules->points[p].role == POINT_FINISH && rules->points[p].scored < 0;
        if (rules->points[p].role != POINT_START)
            read_on_time(x, p, elapsed + (earlier ? EARLIER_ATTEMPTS_MS : 0), true);
    }
}

/* Reads the car on time at every road point of the day before the item, and all through the item.
 */
static void drive(struct example_maker *x) {
    int64_t departure = rulings_start(x->event, x->item->day, x->car);
    for (int place = 0; place <= x->item->place; place++) {
        const struct item *i = car_item(x->event, x->car, place);
        if (i == NULL || i->day != x->item->day || !i->road.on || (i == x->item && i->test >= 0))
            continue;
        if (i != x->item) {
            x->before = schedule_point(i);
            x->on_time_before = departure + i->road.target;
        }
        read_on_time(x, schedule_point(i), departure + i->road.target, false);
        departure += i->road.target + i->road.halt;
    }
    switch (x->item->kind) {
    case KIND_TIME_CONTROL:
        break;
    case KIND_PASSAGE_CONTROL:
        read_on_time(x, x->item->first_point, departure + TO_THE_START_MS, false);
        break;
    case KIND_REGULARITY:
    case KIND_SET_TIME:
        read_measured(x, departure);
        break;
    case KIND_SPECIAL_TEST:
    case KIND_CONSISTENCY:
        read_elapsed(x);
        break;
    case KIND_COUNT:
        break;
    }
}

/* The first fault that the item itself names, NULL where there is none. */
static const struct fault_rule *fault_of(const struct item *item) {
    for (int i = 0; i < item->fault_count; i++) {
        if (item->faults[i].worth != FAULT_NOT_NAMED)
            return &item->faults[i];
    }
    return NULL;
}

/* The card's point as the example has it. */
static void write_scored(struct example_maker *x, const struct example *example,
                         struct textbuf *b) {
    struct score_sheet sheet;
    if (scores_sheet(x->scores, x->car, &sheet) == ERR_OK) {
        json_line(b);
        json_open_object(b);
        json_member_text(b, "case", example->name);
        json_member_int(b, "car", x->event->entries->list[x->car].number);
        json_key(b, "scored");
        output_point_json(b, x->scores, &sheet, x->scored);
        json_close_object(b);
    } else {
        x->no_memory = true;
    }
    score_sheet_clear(&sheet);
}

static void write_example(struct example_maker *x, const struct example *example,
                          struct textbuf *b) {
    const struct rules *rules = x->event->rules;
    int point = rules->scored[x->scored].point;
    struct substitute substitute = {.car = x->car, .point = point};
    struct textbuf faults = {0};
    x->good = true;
    if (x->on_time + example->deviation < 0)
        return;
    if (example->fault)
        textbuf_printf(&faults, "%s=1", fault_of(x->item)->name);
    if (!example->missed) {
        bool before = example->before > 0;
        if (before)
            substitute.point = x->before;
        int index =
            put(x, x->others, substitute.point,
                before ? x->on_time_before + example->before : x->on_time + example->deviation,
                x->elapsed && !before, textbuf_text(&faults));
        substitute.reading = index < 0 ? NULL : readings_at(x->others, index);
    }
    x->no_memory = x->no_memory || faults.failed;
    x->event->substitute = &substitute;
    if (x->good && !faults.failed)
        write_scored(x, example, b);
    x->event->substitute = NULL;
    textbuf_clear(&faults);
}

/* A deviation that a rule of this unit charges: some whole units, and at controls to the minute
 * some seconds more, which are cut. */
static int64_t deviation_of(const struct penalty_rule *rule, int units) {
    int64_t unit = rule->per > rule->precision ? rule->per : rule->precision;
    return unit >= 60000 ? (units > 0 ? 2 * unit + 20000 : -2 * unit) : units * unit;
}

/* What a car is charged for that was late at the road point before: to have driven a section too
 * fast, or what it was read at while max_lateness_holds. */
static void write_late_before(struct example_maker *x, struct textbuf *b) {
    const struct scoring *scoring = &x->event->rules->scoring;
    const struct schedule *road = &x->item->road;
    int64_t minutes = 120000;
    if (x->before < 0)
        return;
    if (road->shortest != TIME_NONE && road->shortest < road->target)
        write_example(x,
                      &(struct example){.name = "too-soon",
                                        .before = road->target - road->shortest + minutes},
                      b);
    if (scoring->max_lateness_holds && scoring->max_lateness != TIME_NONE && !road->on)
        write_example(
            x, &(struct example){.name = "beyond", .before = scoring->max_lateness + minutes}, b);
}

/* Deviations at which a rule changes: behind its first step, and before its early limit. */
static void write_limits(struct example_maker *x, const struct penalty_rule *rule,
                         struct textbuf *b) {
    bool early_side = x->item->kind != KIND_SPECIAL_TEST && x->item->kind != KIND_PASSAGE_CONTROL;
    for (int side = early_side ? SIDE_EARLY : SIDE_LATE; side < SIDE_COUNT; side++) {
        if (x->item->kind == KIND_PASSAGE_CONTROL || rule->charge[side] != CHARGE_STEPS ||
            rule->steps[side][0].to == INT64_MAX)
            continue;
        int64_t size = rule->steps[side][0].to + 2 * rule->per + rule->grace;
        write_example(
            x,
            &(struct example){.name = "past-step", .deviation = side == SIDE_EARLY ? -size : size},
            b);
    }
    if (early_side && rule->early_limit != TIME_NONE)
        write_example(x,
                      &(struct example){.name = "too-early",
                                        .deviation = -rule->early_limit - rule->precision},
                      b);
}

static void write_examples(struct example_maker *x, struct textbuf *b) {
    const struct item *item = x->item;
    const struct penalty_rule *rule = &item->rule;
    bool deviates = item->kind != KIND_PASSAGE_CONTROL;
    write_example(x, &(struct example){.name = "on-time"}, b);
    if (deviates)
        write_example(x, &(struct example){.name = "late", .deviation = deviation_of(rule, 7)}, b);
    if (deviates && item->kind != KIND_SPECIAL_TEST)
        write_example(x, &(struct example){.name = "early", .deviation = deviation_of(rule, -3)},
                      b);
    write_limits(x, rule, b);
    int64_t cap = rule->cap[SIDE_LATE];
    int64_t rate = rule->rate[SIDE_LATE];
    if (deviates && rule->charge[SIDE_LATE] == CHARGE_RATE && cap != CAP_NONE && rate > 0 &&
        cap / rate < CAPPED_MAX_MS / rule->per) {
        int64_t deviation = (cap / rate + 1) * rule->per + rule->grace;
        write_example(x, &(struct example){.name = "capped", .deviation = deviation}, b);
    }
    if (fault_of(item) != NULL)
        write_example(x, &(struct example){.name = "fault", .fault = true}, b);
    write_late_before(x, b);
    write_example(x, &(struct example){.name = "missed", .missed = true}, b);
}

/* The scored point that examples are about: the first on the route, or the one on the road. */
static int shown_point(const struct rules *rules, const struct item *item) {
    return schedule_has_finish(item) ? rules->points[schedule_point(item)].scored
                                     : item_first_on_route(rules, item);
}

/* A car of the entry list that has these values of the item, from the middle of the list on; -1
 * where there is none. */
static int car_with(const struct event *event, const struct item *item) {
    int count = event->entries->count;
    for (int n = 0; n < count; n++) {
        int car = (count / 2 + n) % count;
        if (car_item(event, car, item->place) == item)
            return car;
    }
    return -1;
}

/* Drives a car for the item's own values, and one for those of each line of its `for`. Returns how
 * many; `makers` has space for all. */
static int drive_all(struct model *model, const struct item *item, struct example_maker *makers) {
    int count = 0;
    for (int line = -1; line < item->variant_count; line++) {
        const struct item *values = line < 0 ? item : item->variants[line].item;
        int car = values == NULL ? -1 : car_with(&model->event, values);
        if (car < 0)
            continue;
        makers[count] = (struct example_maker){.model = model,
                                               .event = &model->event,
                                               .item = values,
                                               .car = car,
                                               .scored = shown_point(model->rules, values),
                                               .before = -1,
                                               .on_time = TIME_NONE,
                                               .good = true};
        drive(&makers[count]);
        count++;
    }
    return count;
}

int rule_examples_write(struct model *model, int item, struct textbuf *b) {
    struct event *event = &model->event;
    const struct item *shown = &event->rules->items[item];
    struct example_maker *makers = calloc((size_t)shown->variant_count + 1, sizeof *makers);
    struct readings *others = readings_new(model->rules, model->entries);
    struct scores *scores = NULL;
    const struct view_request closed = {.after = -1};
    struct view *view = NULL;
    int count = 0;
    int err = makers == NULL || others == NULL ? ERR_NOMEM : ERR_OK;
    json_open_array(b);
    if (err == ERR_OK) {
        count = drive_all(model, shown, makers);
        err = model_settle(model);
    }
    if (err == ERR_OK)
        err = view_new(event, closed, &view);
    if (err == ERR_OK)
        err = scores_new(event, view, &scores);
    for (int i = 0; err == ERR_OK && i < count; i++) {
        makers[i].others = others;
        makers[i].scores = scores;
        if (makers[i].good && makers[i].on_time != TIME_NONE && shown->scored_count > 0)
            write_examples(&makers[i], b);
        if (makers[i].no_memory)
            err = ERR_NOMEM;
    }
    json_close_array(b);
    scores_free(scores);
    view_free(view);
    readings_free(others);
    free(makers);
    return b->failed ? ERR_NOMEM : err;
}
