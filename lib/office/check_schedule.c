/* SPDX-License-Identifier: MIT */
#include "office/check_schedule.h"

#include "base/problem.h"
#include "base/textbuf.h"

/* Adds a doubt about a key of an item (or of a line of its `for`; -1 its own). */
static void doubt_item(struct problems *problems, int item, int line, const char *key,
                       const char *text) {
    struct textbuf place = {0};
    textbuf_printf(&place, "event.json: route[%d]", item);
    if (line >= 0)
        textbuf_printf(&place, ".for[%d]", line);
    textbuf_printf(&place, ".%s", key);
    problems_add_at(problems, PROBLEM_DOUBT, textbuf_text(&place), text);
    problems->out_of_memory = problems->out_of_memory || place.failed;
    textbuf_clear(&place);
}

static void check_shortest(const struct schedule *road, int item, int line,
                           struct problems *problems) {
    struct textbuf text = {0};
    if (road->shortest == TIME_NONE || road->shortest <= road->target)
        return;
    textbuf_puts(&text, "the shortest time of ");
    duration_write_words(&text, road->shortest);
    textbuf_puts(&text, " is longer than the target of ");
    duration_write_words(&text, road->target);
    textbuf_puts(&text, ", so that a car on time is early; shorten it, or allow more");
    doubt_item(problems, item, line, "shortest", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* `base` is the item's own where `road` is of a line of its `for`: what is the same there has been
 * told. */
static void check_values(const struct rules *rules, int item, int line, const struct schedule *road,
                         const struct schedule *base, struct problems *problems) {
    bool test = rules->items[item].test >= 0;
    if (base == NULL || road->shortest != base->shortest || road->target != base->target)
        check_shortest(road, item, line, problems);
    if (road->early_from_due && !rules->scoring.scheduled &&
        (base == NULL || !base->early_from_due))
        doubt_item(problems, item, line, "early_from",
                   "in target timing early is measured against due everywhere, so this changes "
                   "nothing; leave it out, or set “timing” to “scheduled”");
    if (test && road->targeted && !road->on && (base == NULL || !base->targeted))
        doubt_item(problems, item, line, "target",
                   "it counts on the road only where the test has “finish”: “control”; add that, "
                   "or leave the target out");
}

static void doubt_scoring(struct problems *problems, const char *key, const char *text) {
    problems_add_at(problems, PROBLEM_DOUBT, key, text);
}

static void check_lateness(const struct scoring *scoring, struct problems *problems) {
    bool unlimited = scoring->max_lateness == TIME_NONE;
    if (scoring->max_lateness_holds && unlimited)
        doubt_scoring(problems, "event.json: scoring.max_lateness_holds",
                      "no car is ever beyond “max_lateness”, which is not set; set it, or leave "
                      "this out");
    if (scoring->lateness_cumulative && scoring->scheduled)
        doubt_scoring(problems, "event.json: scoring.lateness",
                      "in scheduled timing lateness is held against the schedule, so “cumulative” "
                      "changes nothing; leave it out, or set “timing” to “target”");
    else if (scoring->lateness_cumulative && unlimited)
        doubt_scoring(problems, "event.json: scoring.lateness",
                      "the sum is held against “max_lateness”, which is not set; set it, or leave "
                      "this out");
}

void check_schedule(const struct rules *rules, struct problems *problems) {
    check_lateness(&rules->scoring, problems);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        if (item->test >= 0 && item->road.on && !item->road.targeted)
            doubt_item(problems, i, -1, "finish",
                       "no “target” is given, so no time is allowed on the road to here; say how "
                       "long after the control before the car is due at the test's last point");
        check_values(rules, i, -1, &item->road, NULL, problems);
        for (int line = 0; line < item->variant_count; line++) {
            if (item->variants[line].item != NULL)
                check_values(rules, i, line, &item->variants[line].item->road, &item->road,
                             problems);
        }
    }
}
