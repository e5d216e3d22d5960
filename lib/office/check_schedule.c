/* SPDX-License-Identifier: MIT */
#include "office/check_schedule.h"

#include "base/problem.h"
#include "base/textbuf.h"
#include "office/event_doubt.h"

static void check_shortest(const struct schedule *road, struct value_place at,
                           struct problems *problems) {
    struct textbuf text = {0};
    if (road->shortest == TIME_NONE || road->shortest <= road->target)
        return;
    textbuf_puts(&text, "the shortest time of ");
    duration_write_words(&text, road->shortest);
    textbuf_puts(&text, " is longer than the target of ");
    duration_write_words(&text, road->target);
    textbuf_puts(&text, ", so that a car on time is early; shorten it, or allow more");
    event_doubt_at(problems, at, ".shortest", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* `base` is the item's own where `road` is of a line of its `for`: what is the same there has been
 * told. */
static void check_values(const struct rules *rules, struct value_place at,
                         const struct schedule *road, const struct schedule *base,
                         struct problems *problems) {
    bool test = rules->items[at.item].test >= 0;
    if (base == NULL || road->shortest != base->shortest || road->target != base->target)
        check_shortest(road, at, problems);
    if (road->early_from_due && !rules->scoring.scheduled &&
        (base == NULL || !base->early_from_due))
        event_doubt_at(problems, at, ".early_from",
                       "in target timing early is measured against due everywhere, so this changes "
                       "nothing; leave it out, or set “timing” to “scheduled”");
    if (test && road->targeted && !road->on && (base == NULL || !base->targeted))
        event_doubt_at(
            problems, at, ".target",
            "it counts on the road only where the test has “finish”: “control”; add that, "
            "or leave the target out");
}

/* A bare number is seconds, and is written where minutes are meant. */
enum { MINUTE_MS = 60000 };

static void check_lateness(const struct scoring *scoring, struct problems *problems) {
    bool unlimited = scoring->max_lateness == TIME_NONE;
    if (!unlimited && scoring->max_lateness > 0 && scoring->max_lateness < MINUTE_MS)
        event_doubt(problems, "scoring", -1, ".max_lateness",
                    "is less than a minute: a bare number is seconds; write 30 minutes as "
                    "“00:30:00”");
    if (scoring->max_lateness_holds && unlimited)
        event_doubt(problems, "scoring", -1, ".max_lateness_holds",
                    "no car is ever beyond “max_lateness”, which is not set; set it, or leave "
                    "this out");
    if (scoring->lateness_cumulative && scoring->scheduled)
        event_doubt(problems, "scoring", -1, ".lateness",
                    "in scheduled timing lateness is held against the schedule, so “cumulative” "
                    "changes nothing; leave it out, or set “timing” to “target”");
    else if (scoring->lateness_cumulative && unlimited)
        event_doubt(problems, "scoring", -1, ".lateness",
                    "the sum is held against “max_lateness”, which is not set; set it, or leave "
                    "this out");
}

void check_schedule(const struct rules *rules, struct problems *problems) {
    check_lateness(&rules->scoring, problems);
    for (int i = 0; i < rules->item_count; i++) {
        const struct item *item = &rules->items[i];
        const struct value_place own = {i, -1};
        if (item->test >= 0 && item->road.on && !item->road.targeted)
            event_doubt_at(
                problems, own, ".finish",
                "no “target” is given, so no time is allowed on the road to here; say how "
                "long after the control before the car is due at the test's last point");
        check_values(rules, own, &item->road, NULL, problems);
        for (int line = 0; line < item->variant_count; line++) {
            if (item->variants[line].item != NULL)
                check_values(rules, (struct value_place){i, line}, &item->variants[line].item->road,
                             &item->road, problems);
        }
    }
}
