/* SPDX-License-Identifier: MIT */
#include "scoring/bests.h"

#include <string.h>

#include "base/arena.h"
#include "base/err.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "scoring/score_sheet.h"

enum { SCOPE_COUNT = SCOPE_CATEGORY + 1 };

static const struct best nobody = {.value = TIME_NONE, .car = -1};

/* Without categories all cars are one. */
static int stride_of(const struct rules *rules) {
    int categories = rules->category_count == 0 ? 0 : rules->category_count + 1;
    return 1 + rules_class_count(rules) + categories;
}

size_t bests_cells(const struct rules *rules) {
    return (size_t)rules->test_count * (size_t)stride_of(rules);
}

int bests_init(struct bests *bests, const struct rules *rules, struct arena *arena) {
    bests->stride = stride_of(rules);
    bests->cells = arena_array(arena, bests_cells(rules), sizeof *bests->cells);
    return bests->cells == NULL ? ERR_NOMEM : ERR_OK;
}

void bests_copy(struct bests *to, const struct bests *from, const struct rules *rules) {
    to->seen = from->seen;
    to->with_substitute = from->with_substitute;
    memcpy(to->cells, from->cells, bests_cells(rules) * sizeof *to->cells);
}

static struct best *cells_of(const struct bests *bests, const struct item *item) {
    return bests->cells + (size_t)item->test * (size_t)bests->stride;
}

/* The cell, among those of one test, of the cars that a car is compared with. */
static int cell_of(const struct event *event, enum best_scope scope, int car) {
    const struct entry *entry = &event->entries->list[car];
    int classes = rules_class_count(event->rules);
    switch (scope) {
    case SCOPE_CLASS:
        return 1 + entry->class_index;
    case SCOPE_CATEGORY:
        if (event->rules->category_count == 0)
            return 0;
        return 1 + classes +
               (entry->category >= 0 ? entry->category : event->rules->category_count);
    default:
        return 0;
    }
}

const struct best *bests_of(const struct bests *bests, const struct event *event,
                            const struct item *item, enum best_scope scope, int car) {
    return &cells_of(bests, item)[cell_of(event, scope, car)];
}

/* What a car can be the best of an item with; `value` is TIME_NONE where it has nothing. */
static struct bid bid_of(const struct score_sheet *sheet, int place, int car) {
    const struct item *item = car_item(sheet->event, car, place);
    if (item == NULL || sheet->event->rulings->cars[car].disqualified != NULL)
        return (struct bid){.value = TIME_NONE};
    return kind_of(item->kind)->bid(sheet, item, car);
}

static bool beats(const struct bid *bid, const struct best *best) {
    if (bid->value == TIME_NONE || best->value == TIME_NONE)
        return bid->value != TIME_NONE;
    return bid->preferred != best->preferred ? bid->preferred : bid->value < best->value;
}

/* True where the best of an item is asked for: by the item, or by a line of its `for`. */
static bool asks(const struct event *event, const struct view *view, int place) {
    const struct item *item = &event->rules->items[place];
    bool seeks = item->seeks_best;
    for (int i = 0; i < item->variant_count; i++)
        seeks = seeks || (!item->variants[i].off && item->variants[i].item->seeks_best);
    return seeks && view->visible[place];
}

/* Sets the sheet to a car where its bids follow from its whole day: lateness on the road may make
 * what it did at a test as good as not done. */
static void look_at(struct score_sheet *sheet, int car) {
    if (sheet->event->rules->scoring.max_lateness_holds)
        score_sheet_score(sheet, car);
}

static void enter_bid(struct bests *bests, const struct score_sheet *sheet, int place, int car) {
    struct best *cells = cells_of(bests, &sheet->event->rules->items[place]);
    struct bid bid = bid_of(sheet, place, car);
    for (int scope = 0; bid.value != TIME_NONE && scope < SCOPE_COUNT; scope++) {
        struct best *cell = &cells[cell_of(sheet->event, (enum best_scope)scope, car)];
        if (beats(&bid, cell))
            *cell = (struct best){bid.value, car, bid.preferred};
    }
}

bool bests_find(struct bests *bests, const struct event *event, const struct view *view,
                struct score_sheet *sheet, struct best *scratch) {
    size_t cells = bests_cells(event->rules);
    int asked[ITEMS_MAX];
    int count = 0;
    score_sheet_use(sheet, event, view, bests);
    bests->seen = event->readings.count;
    bests->with_substitute = event->substitute != NULL;
    memcpy(scratch, bests->cells, cells * sizeof *scratch);
    for (int i = 0; i < event->rules->item_count; i++) {
        if (!asks(event, view, i))
            continue;
        asked[count++] = i;
        for (int c = 0; c < bests->stride; c++)
            cells_of(bests, &event->rules->items[i])[c] = nobody;
    }
    for (int car = 0; count > 0 && car < event->entries->count; car++) {
        look_at(sheet, car);
        for (int i = 0; i < count; i++)
            enter_bid(bests, sheet, asked[i], car);
    }
    for (size_t i = 0; i < cells; i++) {
        if (bests->cells[i].value != scratch[i].value)
            return true;
    }
    return false;
}

/* True where a car's bids, in the readings of `sheet`, are those of `bids`, by test; `compare`
 * false: sets them. */
static bool bids_are(const struct event *event, const struct view *view, struct score_sheet *sheet,
                     int car, struct best *bids, bool compare) {
    bool looked = false;
    for (int i = 0; i < event->rules->item_count; i++) {
        if (!asks(event, view, i))
            continue;
        if (!looked)
            look_at(sheet, car);
        looked = true;
        struct best *kept = &bids[event->rules->items[i].test];
        struct bid bid = bid_of(sheet, i, car);
        if (compare && (bid.value != kept->value || bid.preferred != kept->preferred))
            return false;
        *kept = (struct best){bid.value, car, bid.preferred};
    }
    return true;
}

bool bests_stand(const struct bests *bests, const struct event *event, const struct view *view,
                 struct score_sheet *sheet, const int *cars, int count, struct best *scratch) {
    struct event before = *event;
    before.readings = readings_view_upto(before.readings, bests->seen);
    before.substitute = NULL;
    if (bests->with_substitute)
        return false;
    for (int n = 0; n < count; n++) {
        score_sheet_use(sheet, &before, view, bests);
        (void)bids_are(&before, view, sheet, cars[n], scratch, false);
        score_sheet_use(sheet, event, view, bests);
        if (!bids_are(event, view, sheet, cars[n], scratch, true))
            return false;
    }
    return true;
}
