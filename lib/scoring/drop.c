/* SPDX-License-Identifier: MIT */
#include "scoring/drop.h"

#include "scoring/totals.h"

static bool is_droppable(const struct scoring *scoring, const struct item *item) {
    return item->test >= 0 && !item->ties_only && (scoring->drop_kinds >> item->kind & 1u) != 0;
}

/* The days from whose tests drop_worst drops. With `when` at `end`, only days whose tests are all
 * closed and all in this view: where one is behind --after, nothing is dropped, so that standings
 * of a moment drop no test that those of the whole event keep. Hidden tests are ignored. */
void drop_find_days(struct scores *s) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    for (int d = 0; d < rules->day_count; d++)
        s->drops[d] = scoring->drop_count > 0;
    if (scoring->drop_count == 0 || scoring->drop_always)
        return;
    for (int i = 0; i < rules->scored_count; i++) {
        int place = rules->scored[i].item;
        const struct item *item = &rules->items[place];
        if (!is_droppable(scoring, item) || s->view->hidden[place] ||
            (s->view->visible[place] && !view_scored_open(s->view, rules, i)))
            continue;
        for (int d = 0; d < rules->day_count; d++)
            s->drops[d] = s->drops[d] && scoring->drop_each_day && d != item->day;
    }
}

/* Marks the costliest tests of a day (-1: of all); of equal ones the earlier on the route. */
static void drop_tests(const struct scores *s, struct car_score *car, enum basis basis,
                       unsigned char flag, int day) {
    const struct rules *rules = s->event->rules;
    const int64_t *values = totals_values(s, car, basis);
    for (int n = 0; n < rules->scoring.drop_count; n++) {
        int worst = -1;
        int64_t most = 0;
        for (int i = 0; i < rules->item_count; i++) {
            const struct item *item = &rules->items[i];
            if (!s->view->visible[i] || !is_droppable(&rules->scoring, item) ||
                (day >= 0 && item->day != day) || car->item_fails[i] > 0 ||
                (car->item_flags[i] & (flag | ITEM_OFF)) != 0)
                continue;
            if (worst < 0 || values[i] > most) {
                most = values[i];
                worst = i;
            }
        }
        if (worst < 0)
            return;
        car->item_flags[worst] |= flag;
    }
}

void drop_worst(const struct scores *s, struct car_score *car, enum basis basis,
                unsigned char flag) {
    const struct rules *rules = s->event->rules;
    if (!rules->scoring.drop_each_day) {
        if (s->drops[0])
            drop_tests(s, car, basis, flag, -1);
        return;
    }
    for (int d = 0; d < rules->day_count; d++) {
        if (s->drops[d])
            drop_tests(s, car, basis, flag, d);
    }
}
