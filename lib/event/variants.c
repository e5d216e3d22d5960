/* SPDX-License-Identifier: MIT */
#include "event/variants.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "event/car_choice.h"
#include "event/kind.h"
#include "event/route.h"
#include "format/json_read.h"

/* What makes points or tells what the item is; all other keys of the item may be changed. */
static const char *const fixed_keys[] = {"day",    "id",       "kind",      "name",     "reveal",
                                         "laps",   "attempts", "reference", "measured", "counts",
                                         "finish", "method",   "scope",     "best",     "for",
                                         "place",  "places",   "clock",     NULL};

static bool among(const char *const *words, const char *word) {
    for (int i = 0; words[i] != NULL; i++) {
        if (strcmp(words[i], word) == 0)
            return true;
    }
    return false;
}

static void out_of_memory(const struct json_reader *reader) {
    reader->problems->out_of_memory = true;
}

/* The keys of a line that are not about whom it is for. Returns how many values it changes. */
static int check_keys(const struct json_reader *reader, json_t *line,
                      const struct json_place *place, const struct item *item) {
    const char *key;
    json_t *value;
    int changed = 0;
    json_object_foreach(line, key, value) {
        (void)value;
        if (among(car_choice_keys, key) || strcmp(key, "off") == 0)
            continue;
        if (among(fixed_keys, key))
            json_wrong(reader, place, key,
                       "is the same for all cars: where it differs, make two items and say “off” "
                       "in each for the other's cars");
        else if (!route_item_has_key(item, key))
            json_unknown_key(reader, place, key);
        else
            changed++;
    }
    return changed;
}

/* Refuses null where event.json has it: in joined values it is a fault that these cars cannot have.
 *   object  an item or a line */
static void check_faults(const struct json_reader *reader, json_t *object,
                         const struct json_place *place) {
    struct json_place here = {.up = place, .key = "faults"};
    const char *key;
    json_t *value;
    json_object_foreach(json_object_get(object, "faults"), key, value) {
        if (json_is_null(value))
            json_wrong(reader, &here, key, "must be a penalty, {\"fails\": 1} or “missed”");
    }
}

/* A copy of an object; NULL when memory is out, where the library's own may lack members. */
static json_t *copied(json_t *object) {
    json_t *out = json_copy(object);
    if (json_object_size(out) == json_object_size(object))
        return out;
    json_decref(out);
    return NULL;
}

/* `base` with the members of `more` in place of its own. */
static json_t *joined(json_t *base, json_t *more) {
    if (!json_is_object(base) || !json_is_object(more))
        return json_incref(more);
    json_t *out = copied(base);
    if (out == NULL || json_object_update(out, more) != 0) {
        json_decref(out);
        return NULL;
    }
    return out;
}

/* The item's object with a line's values; a new reference. */
static json_t *merged(json_t *object, json_t *line) {
    json_t *out = copied(object);
    const char *key;
    json_t *value;
    if (out == NULL)
        return NULL;
    (void)json_object_del(out, "for");
    json_object_foreach(line, key, value) {
        if (among(car_choice_keys, key) || strcmp(key, "off") == 0)
            continue;
        bool by_key = strcmp(key, "penalty") == 0 || strcmp(key, "faults") == 0;
        json_t *held = by_key ? joined(json_object_get(object, key), value) : json_incref(value);
        if (held == NULL || json_object_set_new(out, key, held) != 0) {
            json_decref(out);
            return NULL;
        }
    }
    return out;
}

/* Lists that make points: as many members as the item's, not all of them null. */
static void check_points(const struct json_reader *reader, const json_t *object, const json_t *line,
                         const struct json_place *place) {
    static const char *const lists[] = {"checks", "targets", NULL};
    for (int i = 0; lists[i] != NULL; i++) {
        const json_t *list = json_object_get(line, lists[i]);
        size_t count = json_array_size(json_object_get(object, lists[i]));
        size_t nulls = 0;
        if (!json_is_array(list) || count == 0)
            continue;
        if (json_array_size(list) != count)
            json_wrong(reader, place, lists[i],
                       "has %zu member%s, the item's has %zu: as many, null for one that is not on "
                       "these cars' route",
                       json_array_size(list), json_array_size(list) == 1 ? "" : "s", count);
        for (size_t n = 0; n < json_array_size(list); n++)
            nulls += json_is_null(json_array_get(list, n));
        if (nulls == json_array_size(list))
            json_wrong(reader, place, lists[i], "has no point left: say “off” instead");
    }
}

static void read_line(const struct json_reader *reader, json_t *object, json_t *line,
                      const struct json_place *place, const struct rules *rules,
                      const struct item *item, struct variant *out) {
    size_t errors_before = reader->problems->by_level[PROBLEM_ERROR];
    if (!json_is_object(line)) {
        json_wrong(reader, place, NULL, "must be an object");
        return;
    }
    car_choice_read(reader, line, place, rules, &out->cars);
    (void)json_get_flag(reader, line, place, "off", &out->off);
    out->changes = check_keys(reader, line, place, item);
    if (out->off && out->changes > 0)
        json_wrong(reader, place, "off",
                   "leaves nothing to change: a line has either values or “off”");
    check_faults(reader, line, place);
    check_points(reader, object, line, place);
    /* Over an item that has errors they would be told again for each line. */
    if (out->off || item->unread || reader->problems->by_level[PROBLEM_ERROR] > errors_before)
        return;
    json_t *whole = merged(object, line);
    struct item *copy = arena_alloc(reader->arena, sizeof *copy);
    if (whole == NULL || copy == NULL) {
        out_of_memory(reader);
        json_decref(whole);
        return;
    }
    /* Its own values start from nothing; what makes it this item is the item's. */
    *copy = (struct item){.place = item->place,
                          .day = item->day,
                          .id = item->id,
                          .name = item->name,
                          .kind = item->kind,
                          .reveal_closed = item->reveal_closed,
                          .test = item->test,
                          .ties_only = item->ties_only,
                          .base = item};
    route_read_values(reader, whole, place, rules, copy);
    out->item = copy;
    json_decref(whole);
}

void variants_read(const struct json_reader *reader, json_t *object, const struct json_place *place,
                   const struct rules *rules, struct item *item) {
    const json_t *list;
    struct json_place here = {.up = place, .key = "for"};
    if (!json_get_array(reader, object, place, "for", false, &list))
        return;
    size_t count = json_array_size(list);
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, place, "for", "must hold 1 to %d lines", PARTS_MAX);
        return;
    }
    item->variants = arena_array(reader->arena, count, sizeof *item->variants);
    if (item->variants == NULL) {
        out_of_memory(reader);
        return;
    }
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        read_line(reader, object, json_array_get(list, i), &at, rules, item, &item->variants[i]);
    }
    item->variant_count = (int)count;
}

void variants_complete(struct item *item) {
    for (int i = 0; i < item->variant_count; i++) {
        struct item *copy = item->variants[i].item;
        if (copy == NULL)
            continue;
        copy->first_point = item->first_point;
        copy->point_count = item->point_count;
        copy->first_scored = item->first_scored;
        copy->scored_count = item->scored_count;
    }
}

/* Adds the names of `more` that `names` lacks, null. Returns false when memory is out. */
static bool add_names(json_t *names, json_t *more) {
    const char *key;
    json_t *value;
    json_object_foreach(more, key, value) {
        (void)value;
        if (json_object_get(names, key) == NULL &&
            json_object_set_new(names, key, json_null()) != 0)
            return false;
    }
    return true;
}

json_t *variants_join_faults(const struct json_reader *reader, json_t *object,
                             const struct json_place *place) {
    json_t *lines = json_object_get(object, "for");
    json_t *own = json_object_get(object, "faults");
    if (!json_is_array(lines) || (own != NULL && !json_is_object(own)))
        return json_incref(object);
    check_faults(reader, object, place);
    json_t *names = own == NULL ? json_object() : copied(own);
    bool good = true;
    for (size_t i = 0; names != NULL && good && i < json_array_size(lines); i++) {
        json_t *faults = json_object_get(json_array_get(lines, i), "faults");
        good = !json_is_object(faults) || add_names(names, faults);
    }
    json_t *out = names == NULL || !good ? NULL : copied(object);
    if (out != NULL && json_object_size(names) > json_object_size(own) &&
        json_object_set(out, "faults", names) != 0) {
        json_decref(out);
        out = NULL;
    }
    if (out == NULL) {
        out_of_memory(reader);
        out = json_incref(object);
    }
    json_decref(names);
    return out;
}
