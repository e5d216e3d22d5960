/* SPDX-License-Identifier: MIT */
#include "scoring/finisher.h"

/* A scored point that counts for `finisher`: read and within its time limits, or waived or
 * notional. That there is nothing to measure a reading from does not undo it. */
static bool is_reached(const struct scored_point *sp) {
    if (sp->state == STATE_WAIVED || sp->state == STATE_NOTIONAL)
        return true;
    return sp->reading != NULL && (sp->cause == CAUSE_NONE || sp->cause == CAUSE_NO_START ||
                                   sp->cause == CAUSE_NO_NEIGHBOUR ||
                                   sp->cause == CAUSE_NO_REFERENCE || sp->cause == CAUSE_NO_BEST);
}

static bool is_asked(const struct scoring *scoring, const struct item *item) {
    if (item->ties_only)
        return false;
    return scoring->share_of == FINISHER_OF_ALL ||
           (item->test >= 0) == (scoring->share_of == FINISHER_OF_TESTS);
}

bool finisher_is(const struct scores *s, const struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    int64_t asked = 0;
    int64_t reached = 0;
    for (int i = 0; i < rules->scored_count; i++) {
        const struct scored_point *sp = &sheet->scored[i];
        int place = rules->scored[i].item;
        if (!s->view->visible[place] || !is_asked(scoring, &rules->items[place]) ||
            sp->state == STATE_CANCELLED || sp->state == STATE_OFF)
            continue;
        asked++;
        reached += is_reached(sp);
    }
    if (reached * scoring->share_den < asked * scoring->share_num)
        return false;
    int last = view_last_control(s->view, s->event, sheet->car, true);
    return !scoring->last_point || last < 0 ||
           is_reached(&sheet->scored[rules->items[last].first_scored]);
}
