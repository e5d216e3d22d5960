/* SPDX-License-Identifier: MIT */
#include "office/check_totals.h"

#include "base/decimal.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/car_route.h"
#include "office/event_doubt.h"
#include "office/example_entry.h"

/* That a coefficient is not used is asked with the entries, see check_groups.c. */
static void check_coefficient(const struct event *event, struct problems *problems) {
    const struct scoring *scoring = &event->rules->scoring;
    if (!scoring->has_coefficient || scoring->coefficient_by != COEFFICIENT_BY_ENTRY)
        return;
    for (int i = 0; i < event->entries->count; i++) {
        if (event->entries->list[i].coefficient != 1000)
            return;
    }
    event_doubt(problems, "scoring.coefficient", -1, ".by",
                "no car has a coefficient other than 1; give them in the column “coefficient” of "
                "entries.csv");
}

/* True where a tie or a prize looks at a test. */
static bool is_looked_at(const struct rules *rules, int item) {
    const struct scoring *scoring = &rules->scoring;
    for (int i = 0; i < rules->award_count; i++) {
        const struct award *award = &rules->awards[i];
        if (award->column == COLUMN_NONE && award->by == BY_TEST &&
            (award->of < 0 || award->of == item))
            return true;
    }
    for (int i = 0; i < scoring->tie_count; i++) {
        if ((scoring->ties[i].kind == TIE_TEST || scoring->ties[i].kind == TIE_TIME) &&
            scoring->ties[i].item == item)
            return true;
    }
    return false;
}

/* The first car that is ranked with all others and has not a test on its route, -1 for none. */
static int first_without(const struct event *event, int item) {
    const struct rules *rules = event->rules;
    for (int car = 0; car < event->entries->count; car++) {
        const struct entry *entry = &event->entries->list[car];
        if (car_item(event, car, item) == NULL && rules->periods[entry->period].overall &&
            (entry->category < 0 || rules->categories[entry->category].overall))
            return car;
    }
    return -1;
}

/* A criterion of the list: named before, or of a test that not all cars have. */
static void check_tie(const struct event *event, int index, struct problems *problems) {
    const struct tie *tie = &event->rules->scoring.ties[index];
    bool of_test = tie->kind == TIE_TEST || tie->kind == TIE_TIME;
    for (int i = 0; i < index; i++) {
        const struct tie *other = &event->rules->scoring.ties[i];
        if (other->kind != tie->kind || (of_test && other->item != tie->item))
            continue;
        event_doubt(problems, "scoring.ties", index, "",
                    "stands in the list already: what is equal by it once is so again; leave one "
                    "of them out");
        return;
    }
    bool listed = !entries_are_example(event->entries);
    int car = of_test && listed ? first_without(event, tie->item) : -1;
    struct textbuf text = {0};
    if (car < 0)
        return;
    textbuf_printf(
        &text,
        "“%s” is not on the route of car %d, which is ranked with the others: where such "
        "a car is among those that are equal, the tie is passed over; name a test that "
        "all of them drive",
        event->rules->items[tie->item].id, event->entries->list[car].number);
    event_doubt(problems, "scoring.ties", index, "", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* The dearest missed point of the route against the most that a day can cost. */
static void check_day_cap(const struct rules *rules, struct problems *problems) {
    struct textbuf text = {0};
    int64_t most = 0;
    int dearest = -1;
    for (int i = 0; i < rules->scored_count; i++) {
        const struct item *item = &rules->items[rules->scored[i].item];
        if (item->ties_only || item_rule(item, i)->missed <= most || item->test_cap < CAP_NONE)
            continue;
        most = item_rule(item, i)->missed;
        dearest = i;
    }
    if (dearest < 0 || most <= rules->scoring.day_cap)
        return;
    textbuf_puts(&text, "is less than one missed point costs, ");
    decimal_write_short(&text, most);
    textbuf_printf(&text, " at %s, so that a day with one is as good as a day with many",
                   rules->scored[dearest].id);
    event_doubt(problems, "scoring", -1, ".day_cap", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

static void check_ties(const struct event *event, struct problems *problems) {
    const struct rules *rules = event->rules;
    for (int i = 0; i < rules->scoring.tie_count; i++)
        check_tie(event, i, problems);
    for (int i = 0; i < rules->item_count; i++) {
        if (rules->items[i].ties_only && !is_looked_at(rules, i))
            event_doubt_at(problems, (struct value_place){i, -1}, ".counts",
                           "the test counts for ties only, and no tie looks at it; name it in "
                           "scoring.ties as “test:ID”, or by its time as “time:ID”");
    }
}

static void check_finisher(const struct event *event, struct problems *problems) {
    const struct rules *rules = event->rules;
    if (rules->scoring.share_of != FINISHER_OF_CONTROLS && rules->scoring.share_num == 0)
        event_doubt(
            problems, "scoring.finisher", -1, ".of",
            "says of what a share is, and no “share” is asked for; give one, such as “1/2”, "
            "or leave this out");
    if (rules->scoring.share_of != FINISHER_OF_TESTS || rules->scoring.share_num == 0)
        return;
    for (int i = 0; i < rules->item_count; i++) {
        if (rules->items[i].test >= 0 && !rules->items[i].ties_only)
            return;
    }
    event_doubt(problems, "scoring.finisher", -1, ".of",
                "the share is of tests, and none counts in the totals: everybody has reached it");
}

/* True where a car has another test of the kind on its route that an average may be taken of. */
static bool has_another(const struct event *event, int car, int test) {
    for (int i = 0; i < event->rules->item_count; i++) {
        const struct item *item = car_item(event, car, i);
        if (i != test && item != NULL && item->kind == event->rules->items[test].kind &&
            !item->ties_only)
            return true;
    }
    return false;
}

static void check_averages(const struct event *event, struct problems *problems) {
    for (int i = 0; i < event->decisions.count; i++) {
        const struct decision *d = event->decisions.list[i].decision;
        if (event->decisions.list[i].holds && d->average && !has_another(event, d->car, d->place))
            problems_add(problems, PROBLEM_DOUBT, "decisions.csv", d->line,
                         "car %d has no other test of the kind of “%s” on its route, so that the "
                         "average is 0",
                         event->entries->list[d->car].number, event->rules->items[d->place].id);
    }
}

void check_totals(const struct event *event, struct problems *problems) {
    check_coefficient(event, problems);
    check_ties(event, problems);
    check_day_cap(event->rules, problems);
    check_finisher(event, problems);
    check_averages(event, problems);
}
