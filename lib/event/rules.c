/* SPDX-License-Identifier: MIT */
#include "event/rules.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/cure.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/award_rules.h"
#include "event/classes.h"
#include "event/key_home.h"
#include "event/route.h"
#include "event/scoring_rules.h"
#include "format/json_read.h"

static const char *const root_keys[] = {"name",  "slug",    "timezone", "unit",   "days",
                                        "route", "classes", "scoring",  "awards", NULL};

static bool only(const char *text, const char *allowed) {
    return *text != '\0' && strspn(text, allowed) == strlen(text);
}

bool rule_id_is_good(const char *id) {
    return strlen(id) <= RULE_ID_MAX &&
           only(id, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789_-");
}

static void read_head(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    static const char *const units[] = {"km", "mi", NULL};
    int unit = 0;
    rules->name = rules->slug = rules->timezone = "";
    if (json_get_text(reader, root, NULL, "name", true, &rules->name) && *rules->name == '\0')
        json_wrong(reader, NULL, "name", "must not be empty");
    if (json_get_text(reader, root, NULL, "slug", true, &rules->slug) &&
        (!only(rules->slug, "abcdefghijklmnopqrstuvwxyz0123456789-") || strlen(rules->slug) > 64))
        json_wrong(reader, NULL, "slug", "“%s” must be 1 to 64 of a-z 0-9 -", rules->slug);
    /* Only its form is checked here: lib/ has no time zone database. */
    if (json_get_text(reader, root, NULL, "timezone", true, &rules->timezone) &&
        (!only(rules->timezone, "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789"
                                "/_+-") ||
         strlen(rules->timezone) > 64))
        json_wrong(reader, NULL, "timezone", "“%s” is no name such as Atlantic/Azores",
                   rules->timezone);
    if (json_get_choice(reader, root, NULL, "unit", true, units, &unit))
        rules->miles = unit == 1;
}

static void read_day(const struct json_reader *reader, const json_t *value,
                     const struct json_place *place, struct day *day) {
    static const char *const keys[] = {"date", "first_start", "interval", "order", NULL};
    static const char *const orders[] = {"number", "sequence", NULL};
    int64_t days;
    int order = 0;
    const char *start = NULL;
    day->date = "";
    if (!json_known_keys(reader, value, place, keys, NULL))
        return;
    if (json_get_text(reader, value, place, "date", true, &day->date) &&
        date_parse(day->date, &days) != ERR_OK) {
        json_wrong(reader, place, "date", "“%s” is no date: write YYYY-MM-DD", day->date);
        day->date = "";
    }
    if (json_get_text(reader, value, place, "first_start", true, &start)) {
        int err = time_parse(start, &day->first_start);
        struct cure room;
        if (err == ERR_PRECISION)
            json_wrong(reader, place, "first_start", "“%s” has more than three decimals", start);
        else if (err != ERR_OK)
            json_wrong(reader, place, "first_start", "“%s” is no time of day: write HH:MM:SS%s",
                       start, cure_time(&room, start));
    }
    (void)json_get_duration(reader, value, place, "interval", true, &day->interval);
    if (json_get_choice(reader, value, place, "order", false, orders, &order))
        day->sequence = order == 1;
}

static void read_days(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    const json_t *list;
    struct json_place here = {.key = "days"};
    if (!json_get_array(reader, root, NULL, "days", true, &list))
        return;
    size_t count = json_array_size(list);
    if (count == 0 || count > DAYS_MAX) {
        json_wrong(reader, NULL, "days", "must hold 1 to %d days", DAYS_MAX);
        return;
    }
    rules->days = arena_array(rules->arena, count, sizeof *rules->days);
    if (rules->days == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        read_day(reader, json_array_get(list, i), &at, &rules->days[i]);
        if (i > 0 && *rules->days[i].date != '\0' &&
            strcmp(rules->days[i].date, rules->days[i - 1].date) <= 0)
            json_wrong(reader, &at, "date", "must be later than the day before");
    }
    rules->day_count = (int)count;
}

bool rules_may_have(const struct rules *rules, unsigned parts) {
    return (rules->unread & parts) != 0;
}

bool rules_may_have_point(const struct rules *rules, const char *id) {
    char item[RULE_ID_MAX + 1] = "";
    size_t len = strcspn(id, "/");
    if (rules_may_have(rules, RULES_IDS))
        return true;
    if (len < sizeof item)
        memcpy(item, id, len);
    int place = strmap_get(&rules->item_by_id, item);
    return place >= 0 && rules->items[place].unread;
}

/* Reads what the root object has. Returns ERR_OK, whatever is wrong in it, or ERR_NOMEM. */
static int read_parts(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    read_head(reader, root, rules);
    read_days(reader, root, rules);
    classes_read(reader, root, rules);
    scoring_rules_read(reader, root, rules);
    if (problems_out_of_memory(reader->problems)) /* the route may name what could not be kept */
        return ERR_NOMEM;
    int err = route_read(reader, root, rules);
    if (err != ERR_OK)
        return err;
    scoring_rules_complete(reader, root, rules);
    award_rules_read(reader, root, rules);
    return ERR_OK;
}

int rules_read_partly(const char *text, size_t len, struct problems *problems, struct rules **out) {
    struct rules *rules = calloc(1, sizeof *rules);
    json_t *root = NULL;
    size_t errors_before = problems->by_level[PROBLEM_ERROR];
    int err = ERR_NOMEM;
    *out = NULL;
    if (rules == NULL || (rules->arena = arena_new()) == NULL)
        goto done;
    struct json_reader reader = {
        .file = "event.json", .arena = rules->arena, .problems = problems, .home_of = key_home};
    rules->unread = RULES_ALL_PARTS; /* until each is read */
    err = text == NULL ? ERR_INPUT : json_read_text(&reader, text, len, &root);
    if (err == ERR_OK && json_known_keys(&reader, root, NULL, root_keys, NULL))
        err = read_parts(&reader, root, rules);
    if (rules->day_count == 0) /* not known: as many as there may be */
        rules->day_count = DAYS_MAX;
    if (problems_out_of_memory(problems))
        err = ERR_NOMEM;
    else if (err == ERR_OK && problems->by_level[PROBLEM_ERROR] > errors_before)
        err = ERR_INPUT;
done:
    json_decref(root);
    if (err == ERR_OK || err == ERR_INPUT)
        *out = rules;
    else
        rules_free(rules);
    return err;
}

int rules_read(const char *text, size_t len, struct problems *problems, struct rules **out) {
    int err = rules_read_partly(text, len, problems, out);
    if (err == ERR_INPUT) {
        rules_free(*out);
        *out = NULL;
    }
    return err;
}

void rules_free(struct rules *rules) {
    if (rules == NULL)
        return;
    strmap_clear(&rules->point_by_id);
    strmap_clear(&rules->item_by_id);
    arena_free(rules->arena);
    free(rules);
}
