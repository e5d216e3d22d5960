/* SPDX-License-Identifier: MIT */
#include "office/check_decisions.h"

#include "base/problem.h"
#include "event/car_route.h"

/* A retirement off the route is one after the last point before it. */
static bool is_off_route(const struct event *event, const struct decision *d) {
    if (d->kind == DECIDE_RETIRE)
        return false;
    if (d->target == TARGET_ITEM)
        return car_item(event, d->car, d->place) == NULL;
    return d->target == TARGET_POINT && !car_point_is_on(event, d->car, d->place);
}

void check_decisions(const struct event *event, struct problems *problems) {
    for (int i = 0; i < event->decisions.count; i++) {
        const struct decision *d = event->decisions.list[i].decision;
        if (!event->decisions.list[i].holds || d->car < 0)
            continue;
        const char *why = NULL;
        if (is_off_route(event, d))
            why = "is not on its route: the decision has no effect";
        else if (d->kind == DECIDE_FAULTS && rulings_out_at(event, d->car, d->place, -1, NULL))
            why = "is where it was out of the event: the faults do not count";
        if (why != NULL)
            problems_add(problems, PROBLEM_DOUBT, "decisions.csv", d->line, "car %d: %s %s",
                         event->entries->list[d->car].number, d->text.field[DECISION_POINT], why);
    }
}
