/* SPDX-License-Identifier: MIT */
#include "event/car_choice.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "format/json_read.h"

/* In the order of enum car_key. */
const char *const car_choice_keys[] = {"group", "category", "period", "class", NULL};

static const char *const cars_words[][2] = {
    {"group", "groups"}, {"category", "categories"}, {"period", "periods"}, {"class", "classes"}};

static void out_of_memory(const struct json_reader *reader) {
    reader->problems->out_of_memory = true;
}

static const char *id_of(const struct rules *rules, enum car_key key, int place,
                         struct textbuf *b) {
    switch (key) {
    case CARS_BY_GROUP:
        return rules->groups[place].id;
    case CARS_BY_CATEGORY:
        return rules->categories[place].id;
    case CARS_BY_PERIOD:
        return rules->periods[place].id;
    default:
        textbuf_reset(b);
        rules_class_id(rules, place, b);
        return textbuf_text(b);
    }
}

static int count_of(const struct rules *rules, enum car_key key) {
    switch (key) {
    case CARS_BY_GROUP:
        return rules->group_count;
    case CARS_BY_CATEGORY:
        return rules->category_count;
    case CARS_BY_PERIOD:
        return rules->period_count;
    default:
        return rules_class_count(rules);
    }
}

/* Of an event with more of them, a mistake is told without the list. */
enum { IDS_TOLD_MAX = 12 };

/* That an event has no such group, category …, and which it has. */
static void wrong_id(const struct json_reader *reader, const struct json_place *place,
                     const char *key, const struct rules *rules, enum car_key of, const char *id) {
    int count = count_of(rules, of);
    struct textbuf list = {0};
    struct textbuf b = {0};
    for (int i = 0; i < count && count <= IDS_TOLD_MAX; i++)
        textbuf_printf(&list, "%s“%s”", i > 0 ? ", " : "", id_of(rules, of, i, &b));
    if (list.failed || b.failed)
        out_of_memory(reader);
    if (count == 0)
        json_wrong(reader, place, key, "“%s” is no %s of this event: define it in classes.%s", id,
                   cars_words[of][0], cars_words[of][1]);
    else if (count > IDS_TOLD_MAX)
        json_wrong(reader, place, key,
                   "“%s” is no %s of this event: “classes” tells which there are", id,
                   cars_words[of][0]);
    else
        json_wrong(reader, place, key, "“%s” is no %s of this event, which has %s", id,
                   cars_words[of][0], textbuf_text(&list));
    textbuf_clear(&list);
    textbuf_clear(&b);
}

/* One id. */
static void read_id(const struct json_reader *reader, const json_t *value,
                    const struct json_place *place, const char *key, const struct rules *rules,
                    struct car_choice *out) {
    static const unsigned parts[] = {RULES_GROUPS, RULES_CATEGORIES, RULES_PERIODS,
                                     RULES_PERIODS | RULES_CAPACITIES};
    struct textbuf b = {0};
    const char *id;
    int found = -1;
    if (!json_value_text(reader, value, place, key, &id))
        return;
    for (int i = 0; i < count_of(rules, out->key); i++) {
        if (strcmp(id_of(rules, out->key, i, &b), id) == 0)
            found = i;
    }
    bool failed = b.failed;
    textbuf_clear(&b);
    if (failed) {
        out_of_memory(reader);
        return;
    }
    if (found < 0) {
        if (!rules_may_have(rules, parts[out->key]))
            wrong_id(reader, place, key, rules, out->key, id);
        return;
    }
    for (int i = 0; i < out->of_count; i++) {
        if (out->of[i] == found)
            json_wrong(reader, place, key, "“%s” stands twice", id);
    }
    out->of[out->of_count++] = found;
}

void car_choice_read(const struct json_reader *reader, const json_t *object,
                     const struct json_place *place, const struct rules *rules,
                     struct car_choice *out) {
    int named = 0;
    for (int i = 0; car_choice_keys[i] != NULL; i++) {
        if (json_object_get(object, car_choice_keys[i]) == NULL)
            continue;
        out->key = (enum car_key)i;
        named++;
    }
    if (named > 1) {
        json_wrong(reader, place, NULL,
                   "names more than one of “group”, “category”, “period” and “class”: write a line "
                   "or a prize for each");
        return;
    }
    if (named == 0) {
        json_wrong(reader, place, NULL,
                   "must name one of “group”, “category”, “period” and “class”: whom it is for");
        return;
    }
    const char *key = car_choice_keys[out->key];
    const json_t *value = json_object_get(object, key);
    size_t count = json_is_array(value) ? json_array_size(value) : 1;
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, key, "must hold 1 to %d ids", PARTS_MAX);
        return;
    }
    out->of = arena_array(reader->arena, count, sizeof *out->of);
    if (out->of == NULL) {
        out_of_memory(reader);
        return;
    }
    if (!json_is_array(value)) {
        read_id(reader, value, place, key, rules, out);
        return;
    }
    struct json_place here = {.up = place, .key = key};
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        read_id(reader, json_array_get(value, i), &at, NULL, rules, out);
    }
}

/* Whether a car is one by the choice's i-th id. */
static bool fits_by(const struct car_choice *choice, int i, const struct entry *entry) {
    int place = choice->of[i];
    switch (choice->key) {
    case CARS_BY_GROUP:
        return (entry->groups >> place & 1u) != 0;
    case CARS_BY_CATEGORY:
        return entry->category == place;
    case CARS_BY_PERIOD:
        return entry->period == place;
    case CARS_BY_CLASS:
        return entry->class_index == place;
    }
    return false;
}

bool car_choice_fits(const struct car_choice *choice, const struct entry *entry) {
    for (int i = 0; i < choice->of_count; i++) {
        if (fits_by(choice, i, entry))
            return true;
    }
    return false;
}

void car_choice_write(const struct rules *rules, const struct car_choice *choice,
                      struct textbuf *b) {
    struct textbuf id = {0};
    textbuf_puts(b, cars_words[choice->key][choice->of_count > 1]);
    for (int i = 0; i < choice->of_count; i++) {
        textbuf_puts(b, i == 0 ? " " : i + 1 < choice->of_count ? ", " : " and ");
        textbuf_puts(b, id_of(rules, choice->key, choice->of[i], &id));
    }
    b->failed = b->failed || id.failed;
    textbuf_clear(&id);
}

static const char *name_of(const struct rules *rules, enum car_key key, int place) {
    switch (key) {
    case CARS_BY_GROUP:
        return rules->groups[place].name;
    case CARS_BY_CATEGORY:
        return rules->categories[place].name;
    case CARS_BY_PERIOD:
        return rules->periods[place].name;
    case CARS_BY_CLASS:
        break;
    }
    return NULL;
}

/* Whether two words are the same but for capitals. */
static bool is_same_word(const char *a, const char *b) {
    while (*a != '\0' && (*a | 0x20) == (*b | 0x20)) {
        a++;
        b++;
    }
    return *a == '\0' && *b == '\0';
}

void car_choice_write_of(const struct rules *rules, const struct car_choice *choice,
                         const struct entry *entry, struct textbuf *b) {
    struct textbuf text = {0};
    int count = 0;
    for (int i = 0; i < choice->of_count; i++)
        count += fits_by(choice, i, entry);
    textbuf_puts(b, cars_words[choice->key][count > 1]);
    for (int i = 0, written = 0; i < choice->of_count; i++) {
        if (!fits_by(choice, i, entry))
            continue;
        const char *id = id_of(rules, choice->key, choice->of[i], &text);
        const char *name = name_of(rules, choice->key, choice->of[i]);
        textbuf_puts(b, written == 0 ? " " : written + 1 < count ? ", " : " and ");
        textbuf_puts(b, id);
        if (name != NULL && !is_same_word(name, id))
            textbuf_printf(b, " (%s)", name);
        written++;
    }
    b->failed = b->failed || text.failed;
    textbuf_clear(&text);
}
