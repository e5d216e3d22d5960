/* SPDX-License-Identifier: MIT */
#include "scoring/bests.h"

#include <string.h>

#include "event/kind.h"
#include "scoring/score_sheet.h"

size_t bests_cells(const struct rules *rules) {
    return (size_t)rules->item_count * (size_t)(1 + rules_class_count(rules));
}

void bests_copy(struct bests *to, const struct bests *from, const struct rules *rules) {
    to->seen = from->seen;
    to->with_substitute = from->with_substitute;
    memcpy(to->of, from->of, bests_cells(rules) * sizeof *to->of);
    memcpy(to->by, from->by, bests_cells(rules) * sizeof *to->by);
}

/* A car's elapsed that counts for the best of a test; TIME_NONE where it has none. */
static int64_t counted_elapsed(const struct score_sheet *sheet, const struct item *item, int car) {
    bool ignored;
    struct scored_point w = {.cause = CAUSE_NONE};
    if (sheet->event->rulings->cars[car].disqualified != NULL ||
        !kind_of(item->kind)
             ->elapsed(sheet, item, score_sheet_read(sheet, car, item->first_point, &ignored),
                       score_sheet_read(sheet, car, item->first_point + 1, &ignored), &w))
        return TIME_NONE;
    return w.actual;
}

void bests_find(struct bests *bests, const struct event *event, const struct view *view,
                struct score_sheet *sheet) {
    const struct rules *rules = event->rules;
    score_sheet_use(sheet, event, view, bests);
    bests->seen = event->readings.count;
    bests->with_substitute = event->substitute != NULL;
    for (int i = 0; i < rules->item_count; i++) {
        int64_t *best = bests->of + (size_t)i * (size_t)bests->stride;
        int *by = bests->by + (size_t)i * (size_t)bests->stride;
        if (!rules->items[i].behind_best)
            continue;
        for (int c = 0; c < bests->stride; c++) {
            best[c] = TIME_NONE;
            by[c] = -1;
        }
        if (!view->visible[i])
            continue;
        for (int car = 0; car < event->entries->count; car++) {
            int64_t elapsed = counted_elapsed(sheet, &rules->items[i], car);
            const int places[] = {0, 1 + event->entries->list[car].class_index};
            for (int n = 0; elapsed != TIME_NONE && n < 2; n++) {
                if (best[places[n]] != TIME_NONE && elapsed >= best[places[n]])
                    continue;
                best[places[n]] = elapsed;
                by[places[n]] = car;
            }
        }
    }
}

bool bests_stand(const struct bests *bests, const struct event *event, const struct view *view,
                 struct score_sheet *sheet, const int *cars, int count) {
    struct event before = *event;
    before.readings = readings_view_upto(before.readings, bests->seen);
    before.substitute = NULL;
    if (bests->with_substitute)
        return false;
    for (int i = 0; i < event->rules->item_count; i++) {
        const struct item *item = &event->rules->items[i];
        for (int n = 0; item->behind_best && view->visible[i] && n < count; n++) {
            score_sheet_use(sheet, &before, view, bests);
            int64_t elapsed = counted_elapsed(sheet, item, cars[n]);
            score_sheet_use(sheet, event, view, bests);
            if (counted_elapsed(sheet, item, cars[n]) != elapsed)
                return false;
        }
    }
    return true;
}
