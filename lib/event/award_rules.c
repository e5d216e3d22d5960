/* SPDX-License-Identifier: MIT */
#include "event/award_rules.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "event/car_choice.h"
#include "format/json_read.h"

enum { PLACES_MAX = 9999 };

/* The value of "of" as text: a day may be a number. */
static const char *text_of(const json_t *value) {
    const char *text = json_string_value(value);
    return text != NULL && *text == JSON_NUMBER_MARK ? text + 1 : text;
}

static int class_of(const struct json_reader *reader, const struct rules *rules, const char *id,
                    bool *period) {
    struct textbuf own = {0};
    int found = -1;
    for (int c = 0; found < 0 && c < rules_class_count(rules); c++) {
        textbuf_reset(&own);
        rules_class_id(rules, c, &own);
        if (strcmp(textbuf_text(&own), id) == 0)
            found = c;
    }
    reader->problems->out_of_memory = reader->problems->out_of_memory || own.failed;
    textbuf_clear(&own);
    if (found < 0) {
        found = rules_period_named(rules, id);
        *period = found >= 0;
    }
    return found;
}

/* "of" of a prize that goes by a column: a word of the entry list. */
static void read_of_word(const struct json_reader *reader, const json_t *value,
                         const struct json_place *place, struct award *award) {
    if (json_get_text(reader, value, place, "of", false, &award->of_word) &&
        *award->of_word == '\0')
        json_wrong(reader, place, "of", "must not be empty: left out, there is a prize for each");
}

static void read_of(const struct json_reader *reader, const json_t *value,
                    const struct json_place *place, const struct rules *rules,
                    struct award *award) {
    static const char *const nouns[BY_COUNT] = {[BY_CLASS] = "class or period",
                                                [BY_CATEGORY] = "category",
                                                [BY_GROUP] = "group",
                                                [BY_DAY] = "day",
                                                [BY_TEST] = "test"};
    static const unsigned parts[BY_COUNT] = {[BY_CLASS] = RULES_PERIODS | RULES_CAPACITIES,
                                             [BY_CATEGORY] = RULES_CATEGORIES,
                                             [BY_GROUP] = RULES_GROUPS,
                                             [BY_TEST] = RULES_IDS};
    const json_t *of = json_object_get(value, "of");
    const char *id = text_of(of);
    int64_t day = 0;
    if (of == NULL)
        return;
    if (nouns[award->by] == NULL) {
        json_wrong(reader, place, "of", "goes with all but overall and team");
        return;
    }
    if (id == NULL) {
        json_wrong(reader, place, "of", "must be a text, or the number of a day");
        return;
    }
    if (award->by == BY_CLASS)
        award->of = class_of(reader, rules, id, &award->period);
    else if (award->by == BY_CATEGORY)
        award->of = rules_category_of(rules, id);
    else if (award->by == BY_GROUP)
        award->of = rules_group_of(rules, id, strlen(id));
    else if (award->by == BY_TEST)
        award->of = strmap_get(&rules->item_by_id, id);
    else if (decimal_parse_whole(id, 1, rules->day_count, &day) == ERR_OK)
        award->of = (int)day - 1;
    if (award->of >= 0 && award->by == BY_TEST && rules->items[award->of].test < 0)
        award->of = -1;
    if (award->of < 0 && !rules_may_have(rules, parts[award->by]))
        json_wrong(reader, place, "of", "“%s” is no %s of this event", id, nouns[award->by]);
}

/* The words of "by": the groupings of standings, then the columns. */
static const char *const by_words[] = {"overall", "class",   "category", "group", "day", "test",
                                       "team",    "country", "club",     "make",  NULL};

const char *award_by_word(const struct award *award) {
    return award->column == COLUMN_NONE ? by_word(award->by)
                                        : by_words[BY_COUNT + award->column - COLUMN_COUNTRY];
}

/* Reads "by" and what goes with it. */
static void read_by(const struct json_reader *reader, const json_t *value,
                    const struct json_place *place, const struct rules *rules,
                    struct award *award) {
    int by = BY_OVERALL;
    if (!json_get_choice(reader, value, place, "by", true, by_words, &by))
        return;
    if (by >= BY_COUNT) {
        award->column = (enum entry_column)(by - BY_COUNT + COLUMN_COUNTRY);
        read_of_word(reader, value, place, award);
        return;
    }
    award->by = (enum standings_by)by;
    if (award->by == BY_CATEGORY && rules->category_count == 0 &&
        !rules_may_have(rules, RULES_CATEGORIES))
        json_wrong(reader, place, "by", "this event has no categories");
    else if (award->by == BY_GROUP && rules->group_count == 0 &&
             !rules_may_have(rules, RULES_GROUPS))
        json_wrong(reader, place, "by", "this event has no groups: name them in classes.groups");
    else if (award->by == BY_TEAM && rules->scoring.team_count == 0 &&
             !rules_may_have(rules, RULES_TEAMS))
        json_wrong(reader, place, "by", "this event has no teams");
    else
        read_of(reader, value, place, rules, award);
}

/* Among whom it is, and within how much. */
static void read_limits(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, const struct rules *rules,
                        struct award *award) {
    const json_t *among = json_object_get(value, "among");
    struct json_place here = {.up = place, .key = "among"};
    award->has_within =
        json_get_decimal(reader, value, place, "within", false, 0, DECIMAL_MAX, &award->within);
    if (award->has_within && award->column == COLUMN_NONE && award->by == BY_TEAM)
        json_wrong(reader, place, "within", "is for cars: a prize by team goes by “places”");
    if (among != NULL && !json_is_object(among))
        json_wrong(reader, place, "among", "must be an object, such as {\"group\": \"ladies\"}");
    else if (among != NULL && json_known_keys(reader, among, &here, car_choice_keys, NULL))
        car_choice_read(reader, among, &here, rules, &award->among);
}

static void read_award(const struct json_reader *reader, const json_t *value,
                       const struct json_place *place, const struct rules *rules,
                       struct award *award) {
    static const char *const keys[] = {"id",   "name",  "by",     "of", "places",
                                       "once", "among", "within", NULL};
    int64_t places = 1;
    *award = (struct award){.id = "", .name = "", .of = -1};
    if (!json_known_keys(reader, value, place, keys, NULL))
        return;
    if (json_get_text(reader, value, place, "id", true, &award->id) && !rule_id_is_good(award->id))
        json_wrong(reader, place, "id", "“%s” must be 1 to %d of A-Z a-z 0-9 _ -", award->id,
                   RULE_ID_MAX);
    if (json_get_text(reader, value, place, "name", true, &award->name) && *award->name == '\0')
        json_wrong(reader, place, "name", "must not be empty");
    (void)json_get_whole(reader, value, place, "places", false, 1, PLACES_MAX, &places);
    (void)json_get_flag(reader, value, place, "once", &award->once);
    award->places = (int)places;
    read_by(reader, value, place, rules, award);
    read_limits(reader, value, place, rules, award);
}

void award_rules_read(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    const json_t *list;
    struct json_place here = {.key = "awards"};
    if (!json_get_array(reader, root, NULL, "awards", false, &list))
        return;
    size_t count = json_array_size(list);
    if (count > AWARDS_MAX) {
        json_wrong(reader, NULL, "awards", "may hold %d prizes", AWARDS_MAX);
        return;
    }
    rules->awards = arena_array(rules->arena, count + 1, sizeof *rules->awards);
    if (rules->awards == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        read_award(reader, json_array_get(list, i), &at, rules, &rules->awards[i]);
        for (size_t j = 0; j < i; j++) {
            if (*rules->awards[i].id != '\0' &&
                strcmp(rules->awards[j].id, rules->awards[i].id) == 0)
                json_wrong(reader, &at, "id", "“%s” stands twice", rules->awards[i].id);
        }
    }
    rules->award_count = (int)count;
}
