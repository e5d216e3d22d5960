/* SPDX-License-Identifier: MIT */
#include "scoring/road.h"

#include "scoring/score_sheet.h"

void road_begin(struct road *road, int64_t start) {
    *road = (struct road){.preceding = -1,
                          .preceding_read = true,
                          .last_read = -1,
                          .departure = {start, TIME_NONE, 0}};
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
    int64_t allowance = rulings_allowance(sheet->event->rulings, sheet->car, item->first_point);
    bool scheduled = sheet->event->rules->scoring.scheduled;
    road->targets += item->road.target;
    road->day_targets += item->road.target;
    road_allow(road, allowance);
    sp->scheduled = sheet->day_start + road->day_targets + road->day_halts + road->day_allowances;
    sp->base_point = road->last_read;
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
    sp->reading = sheet->counted[item->first_point];
    if (sp->reading != NULL)
        sp->actual = counted_arrival(sp->reading->time, scheduled ? sp->scheduled : sp->due,
                                     item->rule.precision);
}

void road_leave(struct road *road, const struct item *item, const struct scored_point *sp,
                const struct reading *out) {
    int64_t halt = item->road.halt;
    road->preceding = item->place;
    road->preceding_read = sp->reading != NULL || out != NULL;
    if (road->preceding_read) {
        road->departure = out != NULL ? (struct departure){out->time, TIME_NONE, 0}
                                      : (struct departure){sp->actual + halt, sp->actual, halt};
        road->last_read = item->place;
        road->targets = road->halts = road->allowances = 0;
    } else {
        road->halts += halt;
    }
    if (sp->reading != NULL)
        road->carried = sp->actual > sp->scheduled ? sp->actual - sp->scheduled : 0;
    if (item->road.main)
        road->carried = 0;
    road->day_halts += halt;
}
