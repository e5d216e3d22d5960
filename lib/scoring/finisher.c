/* SPDX-License-Identifier: MIT */
#include "scoring/finisher.h"

/* A scored point that counts for `finisher`: read and within its time limits, or waived or
 * notional. That there is nothing to measure a reading from does not undo it. */
static bool is_reached(const struct scored_point *sp) {
    if (sp->state == STATE_WAIVED || sp->state == STATE_NOTIONAL)
        return true;
    return sp->reading != NULL && !sp->undone &&
           (sp->cause == CAUSE_NONE || sp->cause == CAUSE_NO_START ||
            sp->cause == CAUSE_NO_NEIGHBOUR || sp->cause == CAUSE_NO_REFERENCE ||
            sp->cause == CAUSE_NO_BEST || sp->cause == CAUSE_LOST_BEFORE);
}

static bool is_asked(const struct scoring *scoring, const struct item *item) {
    if (item->ties_only)
        return false;
    return scoring->share_of == FINISHER_OF_ALL ||
           (item->test >= 0) == (scoring->share_of == FINISHER_OF_TESTS);
}

/* How many scored points are asked for, and how many of them were reached. */
struct reach {
    int64_t asked;
    int64_t reached;
};

static void look_at_item(const struct score_sheet *sheet, const struct item *item,
                         struct reach *reach) {
    for (int i = item->first_scored; i < item->first_scored + item->scored_count; i++) {
        const struct scored_point *sp = &sheet->scored[i];
        if (sp->state == STATE_CANCELLED || sp->state == STATE_OFF)
            continue;
        reach->asked++;
        reach->reached += is_reached(sp);
    }
}

bool finisher_is(const struct scores *s, const struct score_sheet *sheet) {
    const struct rules *rules = s->event->rules;
    const struct scoring *scoring = &rules->scoring;
    struct reach reach = {0, 0};
    for (int i = 0; scoring->share_num > 0 && i < rules->item_count; i++) {
        if (s->view->visible[i] && is_asked(scoring, &rules->items[i]))
            look_at_item(sheet, &rules->items[i], &reach);
    }
    if (reach.reached * scoring->share_den < reach.asked * scoring->share_num)
        return false;
    if (!scoring->last_point)
        return true;
    int last = view_last_control(s->view, s->event, sheet->car, true);
    return last < 0 || is_reached(&sheet->scored[rules->items[last].first_scored]);
}
