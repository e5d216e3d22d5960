/* SPDX-License-Identifier: MIT */
#include "office/check_groups.h"

#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "event/award_rules.h"
#include "event/car_choice.h"
#include "event/tie_rules.h"
#include "office/event_doubt.h"
#include "office/example_entry.h"

static void check_group(const struct event *event, int group, struct problems *problems) {
    for (int car = 0; car < event->entries->count; car++) {
        if ((event->entries->list[car].groups >> group & 1) != 0)
            return;
    }
    struct textbuf text = {0};
    textbuf_printf(&text, "no car is in group “%s”: entries name it in the column groups",
                   event->rules->groups[group].id);
    event_doubt(problems, "classes.groups", group, "", textbuf_text(&text));
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* Whether any car has the word that a prize is for in its column, or any word where it is for each.
 */
static bool any_has_word(const struct event *event, const struct award *award) {
    for (int car = 0; car < event->entries->count; car++) {
        const char *word = entry_column_word(&event->entries->list[car], award->column);
        if (award->of_word == NULL ? *word != '\0' : strcmp(word, award->of_word) == 0)
            return true;
    }
    return false;
}

static bool any_fits(const struct event *event, const struct car_choice *choice) {
    for (int car = 0; car < event->entries->count; car++) {
        if (car_choice_fits(choice, &event->entries->list[car]))
            return true;
    }
    return false;
}

static void check_award(const struct event *event, int index, struct problems *problems) {
    const struct award *award = &event->rules->awards[index];
    struct textbuf text = {0};
    bool nobody = award->column != COLUMN_NONE && !any_has_word(event, award);
    if (nobody && award->of_word == NULL) {
        textbuf_printf(&text, "no entry has a word in its column %s, so that there is no prize",
                       award_by_word(award));
        event_doubt(problems, "awards", index, ".by", textbuf_text(&text));
    } else if (nobody) {
        textbuf_printf(&text,
                       "no car has “%s” in its column %s, so that nobody takes the prize: capitals "
                       "and blanks must be the same",
                       award->of_word, award_by_word(award));
        event_doubt(problems, "awards", index, ".of", textbuf_text(&text));
    }
    if (award->has_within && award->places > 1)
        event_doubt(problems, "awards", index, ".places",
                    "plays no part beside “within”, which gives the prize to everybody in it; "
                    "leave one of them out");
    if (award->among.of_count > 0 && !any_fits(event, &award->among)) {
        textbuf_reset(&text);
        car_choice_write(event->rules, &award->among, &text);
        textbuf_puts(&text, ": no car of the entry list is one of these, so that nobody takes the "
                            "prize");
        event_doubt(problems, "awards", index, ".among", textbuf_text(&text));
    }
    problems->out_of_memory = problems->out_of_memory || text.failed;
    textbuf_clear(&text);
}

/* The first car with a coefficient of its own, where coefficients do not go by entry. */
static void check_coefficients(const struct event *event, struct problems *problems) {
    const struct scoring *scoring = &event->rules->scoring;
    if (scoring->has_coefficient && scoring->coefficient_by == COEFFICIENT_BY_ENTRY)
        return;
    for (int car = 0; car < event->entries->count; car++) {
        const struct entry *entry = &event->entries->list[car];
        if (entry->coefficient == 1000)
            continue;
        problems_add(problems, PROBLEM_DOUBT, "entries.csv", entry->line,
                     "car %d has a coefficient of its own, which nothing asks for: say “by”: "
                     "“entry” in scoring.coefficient",
                     entry->number);
        return;
    }
}

/* A driver who was not born when the event starts, or long before any other. What is told leaves
 * the birth itself in the entry list. */
static void check_ages(const struct event *event, struct problems *problems) {
    enum { DAYS_OF_LIFE = 110 * 366 };
    int64_t first_day;
    if (date_parse(event->rules->days[0].date, &first_day) != ERR_OK)
        return;
    for (int car = 0; car < event->entries->count; car++) {
        const struct entry *entry = &event->entries->list[car];
        if (entry->born == BORN_UNKNOWN ||
            (entry->born < first_day && entry->born > first_day - DAYS_OF_LIFE))
            continue;
        problems_add(problems, PROBLEM_DOUBT, "entries.csv", entry->line,
                     "car %d: by the column born the driver %s; it is the driver's birth, not the "
                     "car's",
                     entry->number,
                     entry->born >= first_day ? "is not born before the event"
                                              : "is older than 110 years");
    }
}

static void check_births(const struct event *event, struct problems *problems) {
    const struct entry *first = NULL;
    int unknown = 0;
    if (!tie_rules_ask_age(&event->rules->scoring))
        return;
    for (int car = 0; car < event->entries->count; car++) {
        const struct entry *entry = &event->entries->list[car];
        if (entry->born != BORN_UNKNOWN)
            continue;
        first = first == NULL ? entry : first;
        unknown++;
    }
    if (unknown > 0)
        problems_add(
            problems, PROBLEM_DOUBT, "entries.csv", first->line,
            "%d car%s without the driver's birth in the column born, from car %d on; where "
            "age decides a tie, such a car comes last",
            unknown, unknown == 1 ? " is" : "s are", first->number);
}

void check_groups(const struct event *event, struct problems *problems) {
    const struct rules *rules = event->rules;
    bool listed = !entries_are_example(event->entries);
    for (int i = 0; listed && i < rules->group_count; i++)
        check_group(event, i, problems);
    for (int i = 0; listed && i < rules->award_count; i++)
        check_award(event, i, problems);
    if (listed && rules->scoring.teams_by_club && event->entries->team_count == 0)
        event_doubt(problems, "scoring.teams", -1, ".by",
                    "no entry names its club in the column club, so that there is no team");
    check_coefficients(event, problems);
    check_births(event, problems);
    check_ages(event, problems);
}
