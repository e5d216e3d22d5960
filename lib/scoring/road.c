/* SPDX-License-Identifier: MIT */
#include "scoring/road.h"

#include "event/schedule.h"
#include "scoring/score_sheet.h"

void road_begin(struct road *road, int64_t start) {
    *road = (struct road){.preceding_read = true,
                          .last_read = -1,
                          .carried_from = -1,
                          .departure = {.time = start, .arrival = TIME_NONE},
                          .late_since = -1,
                          .over_since = -1};
}

void road_allow(struct road *road, int64_t allowance) {
    road->allowances += allowance;
    road->day_allowances += allowance;
}

/* The arrival, counted in whole units from `from`, the time at which the car is due. */
static int64_t counted_arrival(int64_t reading, int64_t from, int64_t unit) {
    return from + time_truncate(reading - from, unit);
}

void road_arrive(const struct score_sheet *sheet, struct road *road, const struct item *item,
                 struct scored_point *sp) {
    const struct scoring *scoring = &sheet->event->rules->scoring;
    int point = schedule_point(item);
    bool scheduled = scoring->scheduled;
    road->targets += item->road.target;
    road->day_targets += item->road.target;
    road_allow(road, rulings_allowance(sheet->event->rulings, sheet->car, point));
    sp->scheduled = sheet->day_start + road->day_targets + road->day_halts + road->day_allowances;
    sp->base_point = road->carried_from;
    sp->base = scheduled ? sheet->day_start : road->departure.time;
    sp->left_item = road->last_read;
    sp->left = road->departure;
    sp->day_start = sheet->day_start;
    sp->day_targets = road->day_targets;
    sp->day_halts = road->day_halts;
    sp->day_allowances = road->day_allowances;
    sp->targets = scheduled ? road->day_targets : road->targets;
    sp->halts = scheduled ? road->day_halts : road->halts;
    sp->allowance = scheduled ? road->day_allowances : road->allowances;
    sp->carried = road->carried;
    sp->due = scheduled ? sp->scheduled + road->carried
                        : road->departure.time + road->targets + road->halts + road->allowances;
    sp->reading = sheet->counted[point];
    if (sp->reading != NULL && sp->reading->time == TIME_NONE)
        sp->reading = NULL; /* an elapsed time says nothing of the road */
    if (sp->reading != NULL)
        sp->actual = counted_arrival(
            sp->reading->time, scheduled ? sp->scheduled : sp->due,
            item->test < 0 ? item->rule.precision : scoring->defaults[KIND_TIME_CONTROL].precision);
}

int64_t road_due(const struct score_sheet *sheet, const struct item *item) {
    return item->test >= 0 ? sheet->ends[item->place].due : sheet->scored[item->first_scored].due;
}

int64_t road_lateness(const struct scored_point *sp) {
    return sp->reading != NULL && sp->actual > sp->due ? sp->actual - sp->due : 0;
}

bool road_is_beyond(const struct score_sheet *sheet, const struct road *road,
                    const struct scored_point *sp) {
    const struct scoring *scoring = &sheet->event->rules->scoring;
    if (scoring->max_lateness == TIME_NONE)
        return false;
    if (scoring->lateness_cumulative && !scoring->scheduled)
        return road->late_sum + road_lateness(sp) > scoring->max_lateness;
    return sp->actual > sp->scheduled + scoring->max_lateness;
}

/* Lateness that holds or adds up; few rule books ask for either. */
static void note_lateness(const struct score_sheet *sheet, struct road *road,
                          const struct item *item, const struct scored_point *sp) {
    if (sp->reading != NULL && !road_is_beyond(sheet, road, sp))
        road->over_since = -1;
    else if (sp->reading != NULL && road->over_since < 0)
        road->over_since = item->place; /* it stays the first of several */
    road->late_sum += road_lateness(sp);
    if (item->road.main) {
        road->late_sum = 0;
        road->late_since = item->place;
        road->over_since = -1;
    }
}

void road_leave(const struct score_sheet *sheet, struct road *road, const struct item *item,
                const struct scored_point *sp, const struct reading *out) {
    const struct scoring *scoring = &sheet->event->rules->scoring;
    int64_t halt = item->road.halt;
    if (scoring->max_lateness_holds || scoring->lateness_cumulative)
        note_lateness(sheet, road, item, sp);
    road->preceding_read = sp->reading != NULL || out != NULL;
    if (road->preceding_read) {
        road->departure = out != NULL ? (struct departure){.time = out->time, .arrival = TIME_NONE}
                                      : (struct departure){.time = sp->actual + halt,
                                                           .arrival = sp->actual,
                                                           .halt = halt};
        road->last_read = item->place;
        road->targets = road->halts = road->allowances = 0;
    } else {
        road->preceding_may_come = sheet->view->open[schedule_point(item)];
        road->halts += halt;
    }
    if (sp->reading != NULL) {
        road->carried = sp->actual > sp->scheduled ? sp->actual - sp->scheduled : 0;
        road->carried_from = schedule_point(item);
    }
    if (item->road.main)
        road->carried = 0;
    road->day_halts += halt;
}

void road_judge(struct score_sheet *sheet, const struct item *item, const struct road *road) {
    /* A control is judged by its own reading. */
    sheet->held = item->kind != KIND_TIME_CONTROL && road->over_since >= 0;
    sheet->passings[item->place].held_since = sheet->held ? road->over_since : -1;
}

void road_pass_test(struct score_sheet *sheet, const struct item *item, struct road *ahead) {
    struct scored_point *end = &sheet->ends[item->place];
    *ahead = sheet->road;
    *end = (struct scored_point){.actual = TIME_NONE};
    for (int p = item->first_point; p < schedule_point(item); p++)
        road_allow(ahead, rulings_allowance(sheet->event->rulings, sheet->car, p));
    road_arrive(sheet, ahead, item, end);
    road_leave(sheet, ahead, item, end, NULL);
}

void road_pass_hidden(struct road *road, const struct item *item) {
    road->targets += item->road.target;
    road->day_targets += item->road.target;
    road->preceding_read = false;
    road->preceding_may_come = true;
}
