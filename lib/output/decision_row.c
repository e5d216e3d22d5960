/* SPDX-License-Identifier: MIT */
#include "output/decision_row.h"

#include "base/textbuf.h"
#include "event/car_route.h"
#include "scoring/decided.h"
#include "scoring/explain_faults.h"

/* True where no later point of the same item is on the card. */
static bool is_last_of_item(const struct score_sheet *sheet, int scored) {
    const struct rules *rules = sheet->event->rules;
    int item = rules->scored[scored].item;
    for (int i = scored + 1; i < rules->scored_count && rules->scored[i].item == item; i++) {
        if (score_sheet_shows(sheet, i))
            return false;
    }
    return true;
}

static enum state state_of(const struct scores *scores, const struct score_sheet *sheet, int item,
                           const struct decision *aside) {
    bool dropped = (scores->cars[sheet->car].item_flags[item] & ITEM_DROPPED) != 0;
    if (aside == NULL || (dropped && aside->kind == DECIDE_NOTIONAL))
        return dropped ? STATE_DROPPED : STATE_SCORED;
    switch (aside->kind) {
    case DECIDE_CANCEL:
        return STATE_CANCELLED;
    case DECIDE_NOTIONAL:
        return STATE_NOTIONAL;
    default:
        return STATE_WAIVED;
    }
}

bool decision_row_next(const struct scores *scores, const struct score_sheet *sheet, int scored,
                       int *at, struct decision_row *out) {
    const struct car_rulings *car = &sheet->event->rulings->cars[sheet->car];
    int item = sheet->event->rules->scored[scored].item;
    if (car->at_points == 0 || !is_last_of_item(sheet, scored))
        return false;
    while (*at < car->count) {
        const struct decision *d = car->list[(*at)++];
        if (!decided_at(sheet, d, item))
            continue;
        const struct decision *aside = decided_aside(sheet, d);
        *out = (struct decision_row){.decision = d,
                                     .aside = aside,
                                     .item = car_item(sheet->event, sheet->car, item),
                                     .point = d->text.field[DECISION_POINT],
                                     .kind = decision_word(d->kind),
                                     .state = state_of(scores, sheet, item, aside)};
        if (aside == NULL && d->kind == DECIDE_PENALTY)
            out->penalty = d->value;
        else if (aside == NULL)
            out->fails = (int)d->value;
        return true;
    }
    return false;
}

void decision_row_explain(struct textbuf *b, const struct decision_row *row) {
    const char *what = row->item->test >= 0 ? "test" : "control";
    textbuf_printf(b, "Decided: %s: ", row->decision->text.field[DECISION_REASON]);
    if (row->aside != NULL) {
        const char *how = row->aside->kind == DECIDE_CANCEL     ? "cancelled for everybody"
                          : row->aside->kind == DECIDE_NOTIONAL ? "given a notional result"
                                                                : "waived for this car";
        textbuf_printf(b, "counts for nothing, since this is %s.", how);
        return;
    }
    explain_amount(b, row->penalty, row->fails);
    textbuf_printf(b, " for the %s, outside every cap of it.", what);
    if (row->state == STATE_DROPPED) {
        textbuf_puts(b, " The test is dropped as the car's costliest: this ");
        explain_amount(b, row->penalty, row->fails);
        textbuf_puts(b, " does not count.");
    }
}
