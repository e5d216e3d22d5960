/* SPDX-License-Identifier: MIT */
#include "scoring/told_faults.h"

#include "base/decimal.h"
#include "event/kind.h"

void told_faults_add(struct fault_sum *sum, const struct score_sheet *sheet, int car,
                     const struct item *item, int point, const struct reading *counted) {
    if (counted != NULL)
        faults_add(sum, item, counted->faults, counted->fault_count);
    /* Told where the car is out, a fault counts no more than a reading there. */
    if (sheet->event->rulings->cars[car].at_points > 0 && !score_sheet_absent(sheet, car, point))
        rulings_add_faults(sheet->event->rulings, car, point, item, sum);
}

struct fault_sum told_faults(const struct score_sheet *sheet, int car, const struct item *item,
                             int point, const struct reading *counted) {
    struct fault_sum sum = FAULT_SUM_NONE;
    if (item->fault_count > 0)
        told_faults_add(&sum, sheet, car, item, point, counted);
    return sum;
}

static struct fault_sum of_sheet(const struct score_sheet *sheet, const struct item *item,
                                 int point) {
    return told_faults(sheet, sheet->car, item, point, sheet->counted[point]);
}

struct fault_sum told_faults_at(const struct score_sheet *sheet, const struct item *item,
                                int point) {
    enum fault_home home = item->fault_count > 0 ? kind_of(item->kind)->faults : FAULTS_OF_ATTEMPT;
    if (home == FAULTS_OF_ATTEMPT)
        return FAULT_SUM_NONE;
    struct fault_sum sum = of_sheet(sheet, item, point);
    if (home == FAULTS_BESIDE_LAPS)
        return (struct fault_sum){.missed = sum.missed, .maximum = -1};
    if (sheet->event->rules->points[point].role == POINT_ARRIVAL &&
        !score_sheet_point_ruled(sheet, point + 1)) {
        const struct fault_sum out = of_sheet(sheet, item, point + 1);
        faults_join(&sum, &out);
    }
    return sum;
}

bool told_faults_beside(const struct rules *rules, const struct item *item, int point) {
    const struct point *p = &rules->points[point];
    switch (kind_of(item->kind)->faults) {
    case FAULTS_AT_POINT:
        return p->scored < 0 && p->role != POINT_DEPARTURE;
    case FAULTS_BESIDE_LAPS:
        return true;
    default:
        return false;
    }
}

void told_faults_sum(struct score_sheet *sheet, const struct item *item) {
    const struct rules *rules = sheet->event->rules;
    int64_t *penalty = &sheet->fault_sums[item->place];
    int *fails = &sheet->fault_fails[item->place];
    for (int p = item->first_point; p < item->first_point + item->point_count; p++) {
        if (!told_faults_beside(rules, item, p))
            continue;
        const struct fault_sum sum = of_sheet(sheet, item, p);
        if (!sum.any || score_sheet_point_ruled(sheet, p))
            continue;
        *penalty = decimal_add(*penalty, sum.penalty);
        *fails = fails_add(*fails, sum.fails);
        /* A lap that is scored is missed itself; no other point can be. */
        if (sum.missed >= 0 && rules->points[p].scored < 0) {
            *penalty = decimal_add(*penalty, item->rule.missed);
            *fails = fails_add(*fails, item->rule.missed_fails);
        }
    }
}
