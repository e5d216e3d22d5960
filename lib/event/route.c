/* SPDX-License-Identifier: MIT */
#include "event/route.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/faults.h"
#include "event/gate.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "event/variants.h"
#include "format/json_read.h"

static const char *const common_keys[] = {"day",     "id",     "kind",  "name",   "distance",
                                          "penalty", "faults", "place", "places", "clock",
                                          "for",     "reveal", NULL};
/* Of a kind that is never hidden. */
static const char *const keys_without_reveal[] = {"day",      "id",      "kind",   "name",
                                                  "distance", "penalty", "faults", "place",
                                                  "places",   "clock",   "for",    NULL};

static const char *const *common_keys_of(const struct kind *kind) {
    return kind->may_hide ? common_keys : keys_without_reveal;
}

bool route_item_has_key(const struct item *item, const char *key) {
    const struct kind *kind = kind_of(item->kind);
    const char *const *lists[] = {common_keys_of(kind), kind->keys};
    for (int i = 0; i < 2; i++) {
        for (const char *const *known = lists[i]; *known != NULL; known++) {
            if (strcmp(*known, key) == 0)
                return true;
        }
    }
    return false;
}

static void read_id(const struct json_reader *reader, const json_t *value,
                    const struct json_place *place, struct rules *rules, struct item *item) {
    const unsigned unread = rules->unread;
    static const char allowed[] = "ABCDEFGHIJKLMNOPQRSTUVWXYZabcdefghijklmnopqrstuvwxyz0123456789-";
    rules->unread |= RULES_IDS;
    if (!json_get_text(reader, value, place, "id", true, &item->id))
        return;
    size_t len = strlen(item->id);
    int other = strmap_get(&rules->item_by_id, item->id);
    if (len == 0 || len > RULE_ID_MAX || strspn(item->id, allowed) != len) {
        json_wrong(reader, place, "id", "“%s” must be 1 to 32 of A-Z a-z 0-9 -", item->id);
        return;
    }
    if (other >= 0) {
        json_wrong(reader, place, "id", "“%s” stands twice on the route", item->id);
        rules->items[other].unread = true; /* either may be meant */
        return;
    }
    rules->unread = unread;
    if (strmap_put(&rules->item_by_id, item->id, (int32_t)item->place) != ERR_OK)
        reader->problems->out_of_memory = true;
}

/* The keys of its kind. */
static void read_own(const struct json_reader *reader, const json_t *object,
                     const struct json_place *place, const struct kind *kind, struct item *item) {
    if (kind->read == NULL)
        return;
    void *own = arena_alloc(reader->arena, kind->own_size);
    if (own == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    item->own = own;
    kind->read(reader, object, place, item, own);
}

void route_read_values(const struct json_reader *reader, const json_t *object,
                       const struct json_place *place, const struct rules *rules,
                       struct item *item) {
    const struct kind *kind = kind_of(item->kind);
    item->distance = -1;
    item->test_cap = CAP_NONE;
    item->attempts = 1;
    (void)json_get_decimal(reader, object, place, "distance", false, 0, 100000000, &item->distance);
    item->rule = rules->scoring.defaults[item->kind];
    const json_t *penalty = json_object_get(object, "penalty");
    struct json_place at = {.up = place, .key = "penalty"};
    if (penalty != NULL) {
        penalty_rule_read(reader, penalty, &at, &item->rule);
        if (kind->faults != FAULTS_OF_ATTEMPT)
            penalty_refuse_maximum(reader, &at, &item->rule);
        penalty_rule_complete(reader, penalty, &at, &item->rule);
    }
    if (kind->is_test)
        (void)json_get_decimal(reader, object, place, "test_cap", false, 0, DECIMAL_MAX,
                               &item->test_cap);
    read_own(reader, object, place, kind, item);
    faults_read(reader, object, place, kind->faults == FAULTS_OF_ATTEMPT, item);
}

/* A special test's `counts` may also be about its attempts, and is read by its kind as well. */
static void read_counts(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, struct item *item) {
    const char *word = json_string_value(json_object_get(value, "counts"));
    item->ties_only = word != NULL && strcmp(word, "ties") == 0;
    if (!item->ties_only && item->kind != KIND_SPECIAL_TEST &&
        json_object_get(value, "counts") != NULL)
        json_wrong(reader, place, "counts", "must be “ties”");
}

/* What is the same for all cars. Returns false where the kind is none. */
static bool read_head(const struct json_reader *reader, const json_t *object,
                      const struct json_place *place, struct rules *rules, struct item *item) {
    const char *kind_text = NULL;
    int64_t day;
    if (json_get_text(reader, object, place, "kind", true, &kind_text) &&
        kind_parse(kind_text, &item->kind) != ERR_OK) {
        json_wrong(reader, place, "kind", "“%s” is no kind of item", kind_text);
        kind_text = NULL;
    }
    if (kind_text == NULL)
        rules->unread |= RULES_IDS;
    read_id(reader, object, place, rules, item);
    if (json_get_whole(reader, object, place, "day", true, 1,
                       rules->day_count > 0 ? rules->day_count : DAYS_MAX, &day))
        item->day = (int)day - 1;
    item->name = item->id;
    (void)json_get_text(reader, object, place, "name", false, &item->name);
    return kind_text != NULL;
}

/* Reads an item; what is wrong in it is reported. */
static void read_item(const struct json_reader *reader, json_t *value,
                      const struct json_place *place, struct rules *rules, struct item *item) {
    static const char *const reveals[] = {"at-once", "closed", NULL};
    static const char *const clocks[] = {"marshal", "track", NULL};
    size_t errors_before = reader->problems->by_level[PROBLEM_ERROR];
    int choice;
    *item = (struct item){.place = (int)(item - rules->items), .id = "", .test = -1};
    if (item->place > 0) /* where its day is wrong, the order of the days is no second error */
        item->day = rules->items[item->place - 1].day;
    if (!json_is_object(value)) {
        json_wrong(reader, place, NULL, "must be an object");
        rules->unread |= RULES_IDS;
        return;
    }
    if (!read_head(reader, value, place, rules, item))
        return;
    const struct kind *kind = kind_of(item->kind);
    (void)json_known_keys(reader, value, place, common_keys_of(kind), kind->keys);
    item->reveal_closed = kind->hides;
    if (kind->may_hide && json_get_choice(reader, value, place, "reveal", false, reveals, &choice))
        item->reveal_closed = choice == 1;
    if (json_get_choice(reader, value, place, "clock", false, clocks, &choice))
        item->track_clock = choice == 1;
    if (kind->is_test) {
        item->test = rules->test_count++;
        read_counts(reader, value, place, item);
    }
    json_t *whole = variants_join_faults(reader, value, place);
    route_read_values(reader, whole, place, rules, item);
    item->unread = reader->problems->by_level[PROBLEM_ERROR] > errors_before;
    variants_read(reader, whole, place, rules, item);
    json_decref(whole);
}

/* `old`, an array of `count`, with space for one more. It doubles in the arena, where the smaller
 * ones stay until the arena is freed: together they are no larger than the last. NULL when memory
 * is out. */
static void *grown(struct arena *arena, void *old, int count, size_t size) {
    if (count != 0 && (count < 64 || (count & (count - 1)) != 0))
        return old;
    void *wider = arena_array(arena, count == 0 ? 64 : (size_t)count * 2, size);
    if (wider != NULL && count > 0)
        memcpy(wider, old, (size_t)count * size);
    return wider;
}

int route_add_point(struct rules *rules, int item, enum point_role role, int number,
                    const char *suffix, enum point_scoring scoring) {
    struct item *it = &rules->items[item];
    struct point *points =
        grown(rules->arena, rules->points, rules->point_count, sizeof *rules->points);
    if (points == NULL)
        return ERR_NOMEM;
    rules->points = points;
    const char *id = it->id;
    if (suffix != NULL) {
        size_t len = strlen(it->id);
        char *text = arena_alloc(rules->arena, len + strlen(suffix) + 2);
        if (text == NULL)
            return ERR_NOMEM;
        memcpy(text, it->id, len);
        text[len] = '/';
        memcpy(text + len + 1, suffix, strlen(suffix) + 1);
        id = text;
    }
    int place = rules->point_count;
    if (strmap_put(&rules->point_by_id, id, place) != ERR_OK)
        return ERR_NOMEM;
    points[place] = (struct point){id, item, role, number, -1, NULL};
    rules->point_count++;
    it->point_count++;
    if (scoring == NOT_SCORED)
        return ERR_OK;
    struct scored *list =
        grown(rules->arena, rules->scored, rules->scored_count, sizeof *rules->scored);
    if (list == NULL)
        return ERR_NOMEM;
    rules->scored = list;
    points[place].scored = rules->scored_count;
    list[rules->scored_count++] =
        (struct scored){scoring == SCORED_AS_ITEM ? it->id : id, item, place};
    it->scored_count++;
    return ERR_OK;
}

int route_read(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    const json_t *list;
    struct json_place here = {.key = "route"};
    if (!json_get_array(reader, root, NULL, "route", true, &list))
        return ERR_OK;
    size_t count = json_array_size(list);
    if (count == 0 || count > ITEMS_MAX) {
        json_wrong(reader, NULL, "route", "must hold 1 to %d items", ITEMS_MAX);
        return ERR_OK;
    }
    rules->items = arena_array(rules->arena, count, sizeof *rules->items);
    if (rules->items == NULL)
        return ERR_NOMEM;
    rules->unread &= ~(unsigned)(RULES_IDS | RULES_ITEMS);
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        size_t errors_before = reader->problems->by_level[PROBLEM_ERROR];
        read_item(reader, json_array_get(list, i), &at, rules, &rules->items[i]);
        rules->items[i].unread = reader->problems->by_level[PROBLEM_ERROR] > errors_before;
        if (i > 0 && rules->items[i].day < rules->items[i - 1].day)
            json_wrong(reader, &at, "day", "the route must be in the order of the days");
    }
    rules->item_count = (int)count;
    if (problems_out_of_memory(reader->problems))
        return ERR_NOMEM;
    for (int i = 0; i < rules->item_count; i++) {
        struct item *item = &rules->items[i];
        if (item->unread) { /* what points it has is not known */
            rules->unread |= RULES_ITEMS;
            continue;
        }
        item->first_point = rules->point_count;
        item->first_scored = rules->scored_count;
        int err = kind_of(item->kind)->lay_out(rules, i);
        if (err != ERR_OK)
            return err;
        variants_complete(item);
        struct json_place at = {.up = &here, .index = (size_t)i};
        gates_read(reader, json_array_get(list, (size_t)i), &at, rules, item);
    }
    return ERR_OK;
}
