/* SPDX-License-Identifier: MIT */
#include "scoring/score_sheet.h"

#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "event/schedule.h"
#include "scoring/average.h"
#include "scoring/decided.h"
#include "scoring/told_faults.h"

const char *state_word(enum state state) {
    static const char *const words[] = {"scored",    "clean",    "missed",  "awaiting", "waived",
                                        "cancelled", "notional", "dropped", "absent"};
    return words[state];
}

static bool has_finish(const struct rules *rules) {
    for (int i = 0; i < rules->item_count; i++) {
        if (schedule_has_finish(&rules->items[i]))
            return true;
    }
    return false;
}

int score_sheet_init(struct score_sheet *sheet, const struct event *event) {
    const struct rules *rules = event->rules;
    *sheet = (struct score_sheet){.event = event, .through = -1};
    sheet->scored = calloc((size_t)rules->scored_count + 1, sizeof *sheet->scored);
    sheet->counted = calloc((size_t)rules->point_count + 1, sizeof *sheet->counted);
    sheet->fault_sums = calloc((size_t)rules->item_count, sizeof *sheet->fault_sums);
    sheet->fault_fails = calloc((size_t)rules->item_count, sizeof *sheet->fault_fails);
    sheet->point_sums = calloc((size_t)rules->item_count, sizeof *sheet->point_sums);
    sheet->passings = calloc((size_t)rules->item_count, sizeof *sheet->passings);
    sheet->starts = calloc((size_t)rules->item_count, sizeof *sheet->starts);
    bool finish = has_finish(rules);
    if (finish)
        sheet->ends = calloc((size_t)rules->item_count, sizeof *sheet->ends);
    return sheet->scored == NULL || sheet->counted == NULL || sheet->fault_sums == NULL ||
                   sheet->fault_fails == NULL || sheet->point_sums == NULL ||
                   sheet->passings == NULL || sheet->starts == NULL ||
                   (finish && sheet->ends == NULL)
               ? ERR_NOMEM
               : ERR_OK;
}

void score_sheet_use(struct score_sheet *sheet, const struct event *event, const struct view *view,
                     const struct bests *bests) {
    sheet->event = event;
    sheet->view = view;
    sheet->bests = bests;
}

void score_sheet_clear(struct score_sheet *sheet) {
    free(sheet->scored);
    free(sheet->counted);
    free(sheet->fault_sums);
    free(sheet->fault_fails);
    free(sheet->point_sums);
    free(sheet->passings);
    free(sheet->starts);
    free(sheet->ends);
    *sheet = (struct score_sheet){0};
}

const struct reading *score_sheet_read(const struct score_sheet *sheet, int car, int point,
                                       bool *doubtful) {
    bool conflict = false;
    const struct substitute *substitute = sheet->event->substitute;
    const struct reading *reading = readings_counted(sheet->event->readings, car, point, &conflict);
    if (substitute != NULL && substitute->car == car && substitute->point == point)
        reading = substitute->reading;
    *doubtful = conflict;
    if (reading != NULL && score_sheet_absent(sheet, car, point)) {
        *doubtful = true;
        return NULL;
    }
    return reading;
}

void scored_point_clear(struct scored_point *sp) {
    *sp = (struct scored_point){.outcome = OUTCOME_PRICED,
                                .scheduled = TIME_NONE,
                                .due = TIME_NONE,
                                .actual = TIME_NONE,
                                .deviation = TIME_NONE,
                                .base_point = -1,
                                .left_item = -1,
                                .left = {.time = TIME_NONE, .arrival = TIME_NONE},
                                .base_read = TIME_NONE,
                                .base = TIME_NONE,
                                .ideal = TIME_NONE,
                                .raw = TIME_NONE,
                                .best = TIME_NONE,
                                .best_car = -1,
                                .maximum_fault = -1};
}

struct scored_point *score_sheet_scored(struct score_sheet *sheet, const struct item *item, int n) {
    struct scored_point *sp = &sheet->scored[item->first_scored + n];
    scored_point_clear(sp);
    return sp;
}

/* False for most points: no decision is about the car, and none about the point or its item. */
static bool may_be_ruled(const struct score_sheet *sheet, int item, int point) {
    const struct rulings *r = sheet->event->rulings;
    return sheet->rulings->count > 0 || r->cancelled_item[item] != NULL ||
           r->cancelled_point[point] != NULL;
}

const struct decision *score_sheet_ruling(const struct score_sheet *sheet, int item, int point,
                                          bool *whole) {
    return rulings_at(sheet->event->rulings, sheet->car, item, point, whole);
}

bool score_sheet_point_ruled(const struct score_sheet *sheet, int point) {
    bool whole;
    return score_sheet_ruling(sheet, sheet->event->rules->points[point].item, point, &whole) !=
           NULL;
}

static void apply_ruling(struct scored_point *sp, bool first) {
    switch (sp->ruling->kind) {
    case DECIDE_CANCEL:
        sp->state = STATE_CANCELLED;
        break;
    case DECIDE_NOTIONAL:
        sp->state = STATE_NOTIONAL;
        /* The result of a whole test is charged once, at its first scored point. */
        sp->penalty = sp->ruling_whole && !first ? 0 : sp->ruling->value;
        break;
    default:
        sp->state = STATE_WAIVED;
        break;
    }
}

/* A car that rejoined is charged for what it left out at once; one that is still out, when the
 * point is closed. */
static bool has_rejoined(const struct score_sheet *sheet, int point) {
    int day = sheet->event->rules->items[sheet->event->rules->points[point].item].day;
    for (int i = 0; i < sheet->rulings->rejoin_count; i++) {
        if (sheet->rulings->rejoin_days[i] > day)
            return true;
    }
    return false;
}

bool score_sheet_absence_is_charged(const struct score_sheet *sheet, int point) {
    return !sheet->view->open[point] || has_rejoined(sheet, point);
}

static void charge_missed(const struct item *item, int scored, struct scored_point *sp) {
    const struct penalty_rule *rule = item_rule(item, scored);
    sp->penalty = sp->own_missed ? sp->price.penalty : rule->missed;
    sp->fails = sp->own_missed ? sp->price.fails : rule->missed_fails;
}

/* What is read while max_lateness_holds is missed, whatever else was found. */
static void hold_lateness(struct scored_point *sp) {
    if (sp->reading == NULL)
        return;
    sp->outcome = OUTCOME_MISSED;
    sp->undone = true;
    if (sp->cause == CAUSE_NONE)
        sp->cause = CAUSE_LATENESS_HOLDS;
}

/* What the outcome costs. */
static void charge(const struct score_sheet *sheet, const struct item *item, int scored,
                   struct scored_point *sp) {
    switch (sp->outcome) {
    case OUTCOME_AWAITING:
        sp->state = STATE_AWAITING;
        if (sp->so_far) {
            sp->penalty = sp->price.penalty;
            sp->fails = sp->price.fails;
        }
        break;
    case OUTCOME_MISSED:
        sp->state = STATE_MISSED;
        charge_missed(item, scored, sp);
        break;
    case OUTCOME_PRICED:
        sp->penalty = sp->price.penalty;
        sp->fails = sp->price.fails;
        sp->state = STATE_SCORED;
        if (sp->penalty == 0 && sp->fails == 0 && !sp->faulted &&
            (sheet->rulings->at_points == 0 || !decided_names(sheet, scored)))
            sp->state = STATE_CLEAN;
        break;
    }
}

/* The same, and the faults that are charged at the point; they may make it missed, whatever was
 * read. */
static void charge_with_faults(const struct score_sheet *sheet, const struct item *item, int scored,
                               struct scored_point *sp) {
    const struct fault_sum faults =
        told_faults_at(sheet, item, sheet->event->rules->scored[scored].point);
    if (faults.any) {
        sp->faulted = true;
        sp->fault_penalty = faults.penalty;
    }
    if (faults.missed >= 0) {
        sp->outcome = OUTCOME_MISSED;
        sp->undone = true;
        /* What the kind lacked stays: its sentence is written from it. */
        if (sp->cause == CAUSE_NONE)
            sp->cause = CAUSE_FAULT;
    }
    charge(sheet, item, scored, sp);
    sp->penalty = decimal_add(sp->penalty, faults.penalty);
    sp->fails = fails_add(sp->fails, faults.fails);
}

void score_sheet_assess(struct score_sheet *sheet, const struct item *item,
                        struct scored_point *sp) {
    int scored = (int)(sp - sheet->scored);
    int point = sheet->event->rules->scored[scored].point;
    sp->penalty = 0;
    sp->fails = 0;
    sp->ruling = may_be_ruled(sheet, item->place, point)
                     ? score_sheet_ruling(sheet, item->place, point, &sp->ruling_whole)
                     : NULL;
    if (sp->ruling != NULL) {
        apply_ruling(sp, scored == item_first_on_route(sheet->event->rules, item));
        return;
    }
    /* Who is out at the first attempt of a test is out at all of them. */
    if (score_sheet_absent(sheet, sheet->car, point - 2 * (item->attempts - 1))) {
        sp->state = STATE_ABSENT;
        sp->charged = sp->so_far || has_rejoined(sheet, point) ||
                      !view_scored_open(sheet->view, sheet->event->rules, scored);
        if (sp->charged)
            charge_missed(item, scored, sp);
        return;
    }
    /* An attempt at a test is held by its kind, which knows which of them were read. */
    if (sheet->held && kind_of(item->kind)->faults != FAULTS_OF_ATTEMPT)
        hold_lateness(sp);
    if (item->fault_count == 0)
        charge(sheet, item, scored, sp);
    else
        charge_with_faults(sheet, item, scored, sp);
}

static void begin_day(struct score_sheet *sheet, int day) {
    sheet->day_start = rulings_start(sheet->event, day, sheet->car);
    road_begin(&sheet->road, sheet->day_start);
}

static bool read_at(const struct score_sheet *sheet, int point) {
    bool ignored;
    return readings_latest(sheet->event->readings, sheet->car, point) >= 0 &&
           score_sheet_read(sheet, sheet->car, point, &ignored) != NULL;
}

/* True where the car was read behind --after. */
static bool read_later(const struct score_sheet *sheet) {
    const struct rules *rules = sheet->event->rules;
    const struct view *view = sheet->view;
    for (int p = 0; view->request.after >= 0 && p < rules->point_count; p++) {
        int item = rules->points[p].item;
        if (item > view->request.after && !view->hidden[item] && read_at(sheet, p))
            return true;
    }
    return false;
}

static void lay_out_readings(struct score_sheet *sheet) {
    const struct rules *rules = sheet->event->rules;
    sheet->doubtful = 0;
    sheet->through = -1;
    for (int p = 0; p < rules->point_count; p++) {
        bool doubtful = false;
        sheet->counted[p] = NULL;
        if (!sheet->view->visible[rules->points[p].item])
            continue;
        if (readings_latest(sheet->event->readings, sheet->car, p) < 0)
            continue;
        sheet->counted[p] = score_sheet_read(sheet, sheet->car, p, &doubtful);
        sheet->doubtful += doubtful;
        if (sheet->counted[p] != NULL)
            sheet->through = p;
    }
    int last = view_last_control(sheet->view, sheet->event, sheet->car, false);
    sheet->read_anywhere = sheet->through >= 0 || read_later(sheet);
    sheet->at_last_control = last >= 0 && read_at(sheet, rules->items[last].first_point);
}

/* Scored points that are not on the car's route, of an item that is not or in part. */
static void leave_out(struct score_sheet *sheet, const struct item *item) {
    const struct rules *rules = sheet->event->rules;
    for (int n = 0; n < item->scored_count; n++) {
        if (!car_point_is_on(sheet->event, sheet->car, rules->scored[item->first_scored + n].point))
            score_sheet_scored(sheet, item, n)->state = STATE_OFF;
    }
}

static void score_item(struct score_sheet *sheet, const struct item *item) {
    struct road ahead;
    bool finish = schedule_has_finish(item);
    if (finish)
        road_pass_test(sheet, item, &ahead);
    if (sheet->event->rules->scoring.max_lateness_holds)
        road_judge(sheet, item, finish ? &ahead : &sheet->road);
    kind_of(item->kind)->score(sheet, item);
    if (item->off_points != NULL)
        leave_out(sheet, item);
    if (item->fault_count > 0)
        told_faults_sum(sheet, item);
    if (finish)
        sheet->road = ahead;
    if (item->road.on || sheet->rulings->count == 0)
        return;
    /* An allowance on the road also moves the controls behind it. */
    for (int p = item->first_point; p < item->first_point + item->point_count; p++)
        road_allow(&sheet->road, rulings_allowance(sheet->event->rulings, sheet->car, p));
}

void score_sheet_score(struct score_sheet *sheet, int car) {
    const struct rules *rules = sheet->event->rules;
    size_t items = (size_t)rules->item_count;
    int day = -1;
    sheet->car = car;
    sheet->route = sheet->event->entries->list[car].route;
    sheet->rulings = &sheet->event->rulings->cars[car];
    memset(sheet->fault_sums, 0, items * sizeof *sheet->fault_sums);
    memset(sheet->fault_fails, 0, items * sizeof *sheet->fault_fails);
    for (size_t i = 0; i < items; i++)
        sheet->starts[i] = TIME_NONE;
    lay_out_readings(sheet);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = sheet->route->items[i];
        bool visible = sheet->view->visible[i];
        if (!visible && (!sheet->view->hidden[i] || item == NULL || !schedule_has_finish(item)))
            continue;
        if (rules->items[i].day != day) {
            day = rules->items[i].day;
            begin_day(sheet, day);
        }
        if (item == NULL) {
            leave_out(sheet, &rules->items[i]);
            continue;
        }
        if (visible)
            score_item(sheet, item);
        else
            road_pass_hidden(&sheet->road, item);
    }
    if (sheet->rulings->count > 0)
        average_fill(sheet);
}
