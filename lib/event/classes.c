/* SPDX-License-Identifier: MIT */
#include "event/classes.h"

#include <limits.h>
#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "format/json_read.h"

enum { YEAR_FIRST = 1885, YEAR_LAST = 2100 };

/* Names of A to E are those in common use for the FIVA classes. */
static const struct period fiva[] = {
    {"A", "Ancestor", INT_MIN, 1904, true},     {"B", "Veteran", 1905, 1918, true},
    {"C", "Vintage", 1919, 1930, true},         {"D", "Post-vintage", 1931, 1945, true},
    {"E", "Post-war", 1946, 1960, true},        {"F", "1961 to 1970", 1961, 1970, true},
    {"G", "1971 onwards", 1971, INT_MAX, true},
};

static const struct period appendix_k[] = {
    {"A", "to 1904", INT_MIN, 1904, true},    {"B", "1905 to 1918", 1905, 1918, true},
    {"C", "1919 to 1930", 1919, 1930, true},  {"D", "1931 to 1946", 1931, 1946, true},
    {"E", "1947 to 1961", 1947, 1961, true},  {"F", "1962 to 1965", 1962, 1965, true},
    {"G1", "1966 to 1969", 1966, 1969, true}, {"G2", "1970 and 1971", 1970, 1971, true},
    {"H1", "1972 to 1975", 1972, 1975, true}, {"H2", "1976", 1976, 1976, true},
    {"I", "1977 to 1981", 1977, 1981, true},  {"J1", "1982 to 1985", 1982, 1985, true},
    {"J2", "1986 to 1990", 1986, 1990, true},
};
static const struct period appendix_k_2025[] = {
    {"J1", "1982 to 1987", 1982, 1987, true},
    {"J2", "1988 to 1992", 1988, 1992, true},
};

static void out_of_memory(const struct json_reader *reader) {
    reader->problems->out_of_memory = true;
}

static void preset(const struct json_reader *reader, struct rules *rules,
                   const struct period *table, size_t count) {
    rules->periods = arena_array(rules->arena, count, sizeof *table);
    if (rules->periods == NULL) {
        out_of_memory(reader);
        return;
    }
    memcpy(rules->periods, table, count * sizeof *table);
    rules->period_count = (int)count;
}

/* The id of a period, capacity class, category or group. */
static bool read_id(const struct json_reader *reader, const json_t *object,
                    const struct json_place *place, const char **out) {
    if (!json_get_text(reader, object, place, "id", true, out))
        return false;
    if (rule_id_is_good(*out))
        return true;
    json_wrong(reader, place, "id", "“%s” must be 1 to 32 of A-Z a-z 0-9 _ -", *out);
    return false;
}

/* Returns true where the years are good. */
static bool read_period(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, struct period *period) {
    static const char *const keys[] = {"id", "name", "from", "to", "overall", NULL};
    int64_t year;
    *period = (struct period){"", "", INT_MIN, INT_MAX, true};
    if (!json_known_keys(reader, value, place, keys, NULL))
        return false;
    (void)read_id(reader, value, place, &period->id);
    period->name = period->id;
    (void)json_get_text(reader, value, place, "name", false, &period->name);
    bool has_from =
        json_get_whole(reader, value, place, "from", false, YEAR_FIRST, YEAR_LAST, &year);
    if (has_from)
        period->from = (int)year;
    bool has_to = json_get_whole(reader, value, place, "to", false, YEAR_FIRST, YEAR_LAST, &year);
    if (has_to)
        period->to = (int)year;
    (void)json_get_flag(reader, value, place, "overall", &period->overall);
    if (period->from > period->to) {
        json_wrong(reader, place, "to", "is before “from”");
        return false;
    }
    return has_from == (json_object_get(value, "from") != NULL) &&
           has_to == (json_object_get(value, "to") != NULL);
}

static void read_periods(const struct json_reader *reader, const json_t *object,
                         const struct json_place *place, struct rules *rules) {
    const json_t *list;
    if (!json_get_array(reader, object, place, "periods", true, &list))
        return;
    size_t count = json_array_size(list);
    bool good[PARTS_MAX] = {false};
    struct json_place here = {.up = place, .key = "periods"};
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "periods", "must hold 1 to %d periods", PARTS_MAX);
        return;
    }
    rules->periods = arena_array(rules->arena, count, sizeof *rules->periods);
    if (rules->periods == NULL) {
        out_of_memory(reader);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        struct period *p = &rules->periods[i];
        good[i] = read_period(reader, json_array_get(list, i), &at, p);
        for (size_t j = 0; j < i; j++) {
            const struct period *q = &rules->periods[j];
            if (*p->id != '\0' && strcmp(p->id, q->id) == 0)
                json_wrong(reader, &at, "id", "“%s” stands twice", p->id);
            if (good[i] && good[j] && p->from <= q->to && q->from <= p->to)
                json_wrong(reader, &at, NULL, "overlaps period “%s”", q->id);
        }
    }
    rules->period_count = (int)count;
}

static void read_capacities(const struct json_reader *reader, const json_t *object,
                            const struct json_place *place, struct rules *rules) {
    static const char *const keys[] = {"id", "to", NULL};
    const json_t *list;
    if (!json_get_array(reader, object, place, "capacity", false, &list))
        return;
    size_t count = json_array_size(list);
    struct json_place here = {.up = place, .key = "capacity"};
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "capacity", "must hold 1 to %d classes", PARTS_MAX);
        return;
    }
    rules->capacities = arena_array(rules->arena, count, sizeof *rules->capacities);
    if (rules->capacities == NULL) {
        out_of_memory(reader);
        return;
    }
    int64_t below = 0;
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        struct capacity *c = &rules->capacities[i];
        *c = (struct capacity){"", INT64_MAX};
        if (!json_known_keys(reader, value, &at, keys, NULL))
            continue;
        (void)read_id(reader, value, &at, &c->id);
        for (size_t j = 0; j < i; j++) {
            if (*c->id != '\0' && strcmp(c->id, rules->capacities[j].id) == 0)
                json_wrong(reader, &at, "id", "“%s” stands twice", c->id);
        }
        bool last = i + 1 == count;
        if (last && json_object_get(value, "to") != NULL) {
            json_wrong(reader, &at, "to", "the last capacity class is open: leave “to” out");
        } else if (!last && json_get_whole(reader, value, &at, "to", true, 1, 1000000, &c->to)) {
            if (c->to <= below)
                json_wrong(reader, &at, "to", "must be above the class before");
            below = c->to;
        }
    }
    rules->capacity_count = (int)count;
}

static void read_categories(const struct json_reader *reader, const json_t *object,
                            const struct json_place *place, struct rules *rules) {
    static const char *const keys[] = {"id", "name", "overall", "classes", NULL};
    const json_t *list;
    if (!json_get_array(reader, object, place, "categories", false, &list))
        return;
    size_t count = json_array_size(list);
    struct json_place here = {.up = place, .key = "categories"};
    if (count > PARTS_MAX) {
        json_wrong(reader, place, "categories", "must hold at most %d", PARTS_MAX);
        return;
    }
    rules->categories = arena_array(rules->arena, count, sizeof *rules->categories);
    if (rules->categories == NULL) {
        out_of_memory(reader);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        struct category *c = &rules->categories[i];
        *c = (struct category){"", "", true, true};
        if (!json_known_keys(reader, value, &at, keys, NULL))
            continue;
        (void)read_id(reader, value, &at, &c->id);
        c->name = c->id;
        (void)json_get_text(reader, value, &at, "name", false, &c->name);
        (void)json_get_flag(reader, value, &at, "overall", &c->overall);
        (void)json_get_flag(reader, value, &at, "classes", &c->classes);
        for (size_t j = 0; j < i; j++) {
            if (*c->id != '\0' && strcmp(c->id, rules->categories[j].id) == 0)
                json_wrong(reader, &at, "id", "“%s” stands twice", c->id);
        }
    }
    rules->category_count = (int)count;
}

static void read_groups(const struct json_reader *reader, const json_t *object,
                        const struct json_place *place, struct rules *rules) {
    static const char *const keys[] = {"id", "name", NULL};
    const json_t *list;
    if (!json_get_array(reader, object, place, "groups", false, &list))
        return;
    size_t count = json_array_size(list);
    struct json_place here = {.up = place, .key = "groups"};
    if (count > GROUPS_MAX) {
        json_wrong(reader, place, "groups", "must hold at most %d", GROUPS_MAX);
        return;
    }
    rules->groups = arena_array(rules->arena, count, sizeof *rules->groups);
    if (rules->groups == NULL) {
        out_of_memory(reader);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        struct car_group *g = &rules->groups[i];
        *g = (struct car_group){"", ""};
        if (!json_known_keys(reader, value, &at, keys, NULL))
            continue;
        (void)read_id(reader, value, &at, &g->id);
        g->name = g->id;
        (void)json_get_text(reader, value, &at, "name", false, &g->name);
        for (size_t j = 0; j < i; j++) {
            if (*g->id != '\0' && strcmp(g->id, rules->groups[j].id) == 0)
                json_wrong(reader, &at, "id", "“%s” stands twice", g->id);
        }
    }
    rules->group_count = (int)count;
}

/* Marks a part as read where nothing was wrong since there were so many errors, and counts anew. */
static void mark_read(const struct json_reader *reader, size_t *errors, enum rules_part part,
                      struct rules *rules) {
    size_t now = reader->problems->by_level[PROBLEM_ERROR];
    if (now == *errors)
        rules->unread &= ~(unsigned)part;
    *errors = now;
}

void classes_read(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    static const char *const keys[] = {
        "scheme",  "capacity", "categories", "groups", "supercharged_factor",
        "edition", "periods",  NULL};
    static const char *const schemes[] = {"fiva", "appendix-k", "custom", NULL};
    const json_t *object = json_object_get(root, "classes");
    struct json_place place = {.key = "classes"};
    rules->supercharged_factor = 1000;
    if (object == NULL) {
        json_wrong(reader, NULL, "classes", "is missing");
        return;
    }
    const unsigned unread = rules->unread;
    const size_t errors_before = reader->problems->by_level[PROBLEM_ERROR];
    if (!json_known_keys(reader, object, &place, keys, NULL))
        return;
    size_t errors = reader->problems->by_level[PROBLEM_ERROR];
    bool keys_are_known = errors == errors_before;
    int scheme = -1;
    (void)json_get_choice(reader, object, &place, "scheme", true, schemes, &scheme);
    if (scheme >= 0 && scheme != 2 && json_object_get(object, "periods") != NULL)
        json_wrong(reader, &place, "periods", "goes with the scheme “custom” only");
    if (scheme >= 0 && scheme != 1 && json_object_get(object, "edition") != NULL)
        json_wrong(reader, &place, "edition", "goes with the scheme “appendix-k” only");
    if (scheme == 0) {
        preset(reader, rules, fiva, sizeof fiva / sizeof fiva[0]);
    } else if (scheme == 1) {
        size_t count = sizeof appendix_k / sizeof appendix_k[0];
        int64_t edition = 0;
        preset(reader, rules, appendix_k, count);
        if (json_get_whole(reader, object, &place, "edition", false, 1990, 2100, &edition) &&
            edition >= 2025 && rules->periods != NULL)
            memcpy(&rules->periods[count - 2], appendix_k_2025, sizeof appendix_k_2025);
    } else if (scheme == 2) {
        read_periods(reader, object, &place, rules);
    }
    mark_read(reader, &errors, RULES_PERIODS, rules);
    read_capacities(reader, object, &place, rules);
    mark_read(reader, &errors, RULES_CAPACITIES, rules);
    read_categories(reader, object, &place, rules);
    mark_read(reader, &errors, RULES_CATEGORIES, rules);
    read_groups(reader, object, &place, rules);
    mark_read(reader, &errors, RULES_GROUPS, rules);
    if (!keys_are_known) /* each may be what is meant by the other key */
        rules->unread = unread;
    (void)json_get_decimal(reader, object, &place, "supercharged_factor", false, 1, 100000,
                           &rules->supercharged_factor);
}

const char *rules_unit(const struct rules *rules) {
    return rules->miles ? "mi" : "km";
}

int rules_class_count(const struct rules *rules) {
    return rules->period_count * (rules->capacity_count > 0 ? rules->capacity_count : 1);
}

void rules_class_id(const struct rules *rules, int class_index, struct textbuf *b) {
    if (rules->capacity_count == 0) {
        textbuf_puts(b, rules->periods[class_index].id);
        return;
    }
    textbuf_printf(b, "%s-%s", rules->periods[class_index / rules->capacity_count].id,
                   rules->capacities[class_index % rules->capacity_count].id);
}

void rules_class_name(const struct rules *rules, int class_index, struct textbuf *b) {
    if (rules->capacity_count == 0) {
        textbuf_puts(b, rules->periods[class_index].name);
        return;
    }
    int capacity = class_index % rules->capacity_count;
    textbuf_puts(b, rules->periods[class_index / rules->capacity_count].name);
    if (rules->capacities[capacity].to != INT64_MAX)
        textbuf_printf(b, ", to %lld cc", (long long)rules->capacities[capacity].to);
    else if (capacity > 0)
        textbuf_printf(b, ", over %lld cc", (long long)rules->capacities[capacity - 1].to);
}

int rules_period_of(const struct rules *rules, int year) {
    for (int i = 0; i < rules->period_count; i++) {
        if (year >= rules->periods[i].from && year <= rules->periods[i].to)
            return i;
    }
    return -1;
}

int rules_period_named(const struct rules *rules, const char *id) {
    for (int i = 0; i < rules->period_count; i++) {
        if (strcmp(rules->periods[i].id, id) == 0)
            return i;
    }
    return -1;
}

int rules_category_of(const struct rules *rules, const char *id) {
    for (int i = 0; i < rules->category_count; i++) {
        if (strcmp(rules->categories[i].id, id) == 0)
            return i;
    }
    return -1;
}

int rules_group_of(const struct rules *rules, const char *id, size_t len) {
    for (int i = 0; i < rules->group_count; i++) {
        if (strlen(rules->groups[i].id) == len && memcmp(rules->groups[i].id, id, len) == 0)
            return i;
    }
    return -1;
}

int rules_capacity_of(const struct rules *rules, int64_t cc, bool supercharged) {
    int64_t size = cc < 0 ? 0 : supercharged ? cc * rules->supercharged_factor / 1000 : cc;
    for (int i = 0; i < rules->capacity_count; i++) {
        if (size <= rules->capacities[i].to)
            return i;
    }
    return 0;
}
