/* SPDX-License-Identifier: MIT */
#include "scoring/finisher.h"

/* A control that counts for `finisher`: read and within its time limits, or waived or notional. */
static bool is_reached(const struct scored_point *sp) {
    return sp->state == STATE_WAIVED || sp->state == STATE_NOTIONAL ||
           (sp->reading != NULL && sp->cause == CAUSE_NONE);
}

/* Whether enough controls were reached to be classified. */
bool finisher_is(const struct scores *s, const struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    int64_t controls = 0;
    int64_t reached = 0;
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test >= 0 || !s->view->visible[i])
            continue;
        const struct scored_point *sp = &sheet->scored[item->first_scored];
        if (sp->state == STATE_CANCELLED || sp->state == STATE_OFF)
            continue;
        controls++;
        reached += is_reached(sp);
    }
    if (reached * scoring->share_den < controls * scoring->share_num)
        return false;
    int last = view_last_control(s->view, s->event, sheet->car, true);
    return !scoring->last_point || last < 0 ||
           is_reached(&sheet->scored[rules->items[last].first_scored]);
}
