/* SPDX-License-Identifier: MIT */
#include "office/check_variants.h"

#include "base/problem.h"
#include "base/textbuf.h"
#include "event/car_choice.h"
#include "event/car_route.h"
#include "event/kind.h"
#include "office/event_doubt.h"
#include "office/example_entry.h"
#include "scoring/kinds/checks_and_pads.h"

/* Adds a doubt about a line of `for`, whose sentence begins with whom it is for. */
static void doubt_line(const struct rules *rules, struct problems *problems, int item, int line,
                       const char *what) {
    struct textbuf text = {0};
    car_choice_write(rules, &rules->items[item].variants[line].cars, &text);
    textbuf_printf(&text, ": %s", what);
    event_doubt_at(problems, (struct value_place){item, line}, "", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

static void check_lines(const struct event *event, int place, struct problems *problems) {
    const struct item *item = &event->rules->items[place];
    for (int line = 0; line < item->variant_count; line++) {
        const struct variant *variant = &item->variants[line];
        bool holds = false;
        bool fits = false;
        for (int car = 0; car < event->entries->count && !holds; car++) {
            fits = fits || car_choice_fits(&variant->cars, &event->entries->list[car]);
            holds = car_variant(event, car, place) == variant;
        }
        if (!fits && !entries_are_example(event->entries))
            doubt_line(event->rules, problems, place, line,
                       "no car of the entry list is one of these, so the line changes nothing");
        else if (fits && !holds)
            doubt_line(event->rules, problems, place, line,
                       "a line before it fits all these cars, and the first that fits holds; put "
                       "the narrower line first");
        else if (fits && !variant->off && variant->changes == 0 && line + 1 == item->variant_count)
            doubt_line(event->rules, problems, place, line,
                       "the line changes nothing: give it values, or “off”, or leave it out");
    }
}

/* The control before an item that day, -1 where there is none. */
static int control_before(const struct rules *rules, int place) {
    int day = rules->items[place].day;
    for (int i = place - 1; i >= 0 && rules->items[i].day == day; i--) {
        if (rules->items[i].road.on)
            return i;
    }
    return -1;
}

/* A test whose start follows from the control before it, where some of its cars have not that
 * control on their route: they start from the one before that, or from the start of the day. */
static void check_start(const struct event *event, int place, struct problems *problems) {
    const struct rules *rules = event->rules;
    int control = control_before(rules, place);
    for (int car = 0; control >= 0 && car < event->entries->count; car++) {
        const struct item *item = car_item(event, car, place);
        if (item == NULL || car_item(event, car, control) != NULL ||
            !checks_and_pads_of(item)->start_control)
            continue;
        struct textbuf text = {0};
        textbuf_printf(&text, "the test starts from %s, which is not on the route of car %d: ",
                       rules->items[control].id, event->entries->list[car].number);
        textbuf_puts(&text, "its start would follow from the control before that; give the test a "
                            "start reading, or those cars a control here");
        event_doubt_at(problems, (struct value_place){place, -1}, ".start", textbuf_text(&text));
        problems->out_of_memory = problems->out_of_memory || text.failed;
        textbuf_clear(&text);
        return;
    }
}

/* A main control clears the lateness of the cars that pass it. */
static void check_main(const struct event *event, int place, struct problems *problems) {
    const struct rules *rules = event->rules;
    struct textbuf text = {0};
    int car = 0;
    if (!rules->items[place].road.main || entries_are_example(event->entries) ||
        (!rules->scoring.scheduled && !rules->scoring.lateness_cumulative))
        return;
    while (car < event->entries->count && car_item(event, car, place) != NULL)
        car++;
    if (car == event->entries->count)
        return;
    textbuf_printf(&text,
                   "the control is not on the route of car %d, whose lateness it does not clear: "
                   "give such cars another main control where theirs is to end",
                   event->entries->list[car].number);
    event_doubt_at(problems, (struct value_place){place, -1}, ".main", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* An item that lines of `for` take off the route of every car, each of which fits some. */
static void check_off_for_all(const struct event *event, int place, struct problems *problems) {
    for (int car = 0; car < event->entries->count; car++) {
        if (car_item(event, car, place) != NULL)
            return;
    }
    if (!entries_are_example(event->entries))
        event_doubt_at(problems, (struct value_place){place, -1}, "",
                       "is off for every car of the entry list, so that nobody drives it");
}

static void check_empty_routes(const struct event *event, struct problems *problems) {
    for (int car = 0; car < event->entries->count; car++) {
        const struct entry *entry = &event->entries->list[car];
        int on = 0;
        for (int i = 0; i < event->rules->item_count; i++)
            on += car_item(event, car, i) != NULL;
        if (on == 0)
            problems_add(problems, PROBLEM_DOUBT, "entries.csv", entry->line,
                         "car %d has nothing on its route: every item is off for it",
                         entry->number);
    }
}

void check_variants(const struct event *event, struct problems *problems) {
    for (int i = 0; i < event->rules->item_count; i++) {
        enum kind_id kind = event->rules->items[i].kind;
        check_lines(event, i, problems);
        check_main(event, i, problems);
        check_off_for_all(event, i, problems);
        if (kind == KIND_REGULARITY || kind == KIND_SET_TIME)
            check_start(event, i, problems);
    }
    check_empty_routes(event, problems);
}
