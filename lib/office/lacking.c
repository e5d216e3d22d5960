/* SPDX-License-Identifier: MIT */
#include "office/lacking.h"

#include "event/car_route.h"
#include "scoring/kinds/special_test.h"

bool lacking_is_repeat(const struct rules *rules, int point) {
    const struct point *p = &rules->points[point];
    return rules->items[p->item].attempts > 1 && p->number > 1;
}

static bool read_between(const struct event *event, int car, int from, int to) {
    for (int p = from; p < to; p++) {
        if (readings_counted(event->readings, car, p, NULL) != NULL)
            return true;
    }
    return false;
}

bool lacking_at(const struct event *event, int car, int point, int last) {
    const struct rules *rules = event->rules;
    const struct item *item = &rules->items[rules->points[point].item];
    if (point >= last)
        return false;
    if (item->attempts == 1)
        return rules->points[point].scored >= 0;
    if (rules->points[point].role != POINT_FINISH)
        return false;
    int end = item->first_point + item->point_count;
    if (read_between(event, car, point - 1, point) || read_between(event, car, point + 1, end))
        return true;
    if (lacking_is_repeat(rules, point))
        return special_test_of(item)->counts == COUNTS_SUM && event->rulings->closed[point];
    return true;
}
