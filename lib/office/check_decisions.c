/* SPDX-License-Identifier: MIT */
#include "office/check_decisions.h"

#include "base/problem.h"

void check_decisions(const struct event *event, struct problems *problems) {
    for (int i = 0; i < event->decisions.count; i++) {
        const struct decision *d = event->decisions.list[i].decision;
        if (!event->decisions.list[i].holds || d->car < 0)
            continue;
        int number = event->entries->list[d->car].number;
        const char *point = d->text.field[DECISION_POINT];
        if (!rulings_has_effect(event, d))
            problems_add(problems, PROBLEM_DOUBT, "decisions.csv", 0,
                         "%s of car %d: %s is not on its route; the decision has no effect",
                         d->text.field[DECISION_KIND], number, point);
        else if (d->kind == DECIDE_FAULTS && rulings_out_at(event, d->car, d->place, -1, NULL))
            problems_add(problems, PROBLEM_DOUBT, "decisions.csv", 0,
                         "faults of car %d: it was out of the event at %s; they do not count",
                         number, point);
    }
}
