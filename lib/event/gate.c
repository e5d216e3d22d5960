/* SPDX-License-Identifier: MIT */
#include "event/gate.h"

#include <string.h>

#include "base/arena.h"
#include "base/problem.h"
#include "event/rules.h"
#include "format/json_read.h"

enum { DECIMALS = 9 };

/* A number as it was written, NULL where the value is none. */
static const char *digits_of(const json_t *value) {
    if (!json_is_string(value))
        return NULL;
    const char *text = json_string_value(value);
    return *text == JSON_NUMBER_MARK ? text + 1 : text;
}

/* Plain decimals into billionths. Returns NULL, or what is wrong. */
static const char *parse_degrees(const char *text, int64_t *out) {
    bool minus = *text == '-';
    int64_t value = 0;
    int decimals = -1; /* -1 before the point */
    const char *p = text + minus;
    if (*p < '0' || *p > '9')
        return "must be degrees in plain decimals, such as 54.2371";
    for (; *p != '\0'; p++) {
        if (*p == '.' && decimals < 0 && p[1] != '\0') {
            decimals = 0;
            continue;
        }
        if (*p < '0' || *p > '9')
            return "must be degrees in plain decimals, such as 54.2371";
        if (decimals == DECIMALS)
            return "has more than nine decimals";
        if (decimals >= 0)
            decimals++;
        if (value > 1000 * GATE_DEGREE) /* out of any range, whatever follows */
            value = 1000 * GATE_DEGREE;
        value = value * 10 + (*p - '0');
    }
    for (int i = decimals < 0 ? 0 : decimals; i < DECIMALS && value <= 1000 * GATE_DEGREE; i++)
        value *= 10;
    *out = minus ? -value : value;
    return NULL;
}

static bool read_degrees(const struct json_reader *reader, const json_t *object,
                         const struct json_place *place, const char *key, int64_t most,
                         int64_t *out) {
    const json_t *value = json_object_get(object, key);
    if (value == NULL) {
        json_wrong(reader, place, key, "is missing");
        return false;
    }
    const char *text = digits_of(value);
    const char *wrong = text == NULL ? "must be degrees in plain decimals, such as 54.2371"
                                     : parse_degrees(text, out);
    if (wrong != NULL) {
        json_wrong(reader, place, key, "%s", wrong);
        return false;
    }
    if (*out >= -most * GATE_DEGREE && *out <= most * GATE_DEGREE)
        return true;
    json_wrong(reader, place, key, "“%s” is out of range: -%d to %d", text, (int)most, (int)most);
    return false;
}

/* Reads one gate and hangs it on a point. */
static void read_gate(const struct json_reader *reader, const json_t *value,
                      const struct json_place *place, struct point *point) {
    static const char *const keys[] = {"lat", "lon", "heading", "width", NULL};
    struct gate gate = {.width = GATE_WIDTH};
    if (!json_known_keys(reader, value, place, keys, NULL))
        return;
    bool good = read_degrees(reader, value, place, "lat", 90, &gate.lat);
    good = read_degrees(reader, value, place, "lon", 180, &gate.lon) && good;
    good =
        json_get_decimal(reader, value, place, "heading", true, 0, 360000, &gate.heading) && good;
    (void)json_get_decimal(reader, value, place, "width", false, 1000, GATE_WIDTH_MAX, &gate.width);
    struct gate *kept = good ? arena_alloc(reader->arena, sizeof *kept) : NULL;
    if (good && kept == NULL)
        reader->problems->out_of_memory = true;
    if (kept == NULL)
        return;
    *kept = gate;
    point->gate = kept;
}

/* The point whose id is the item's and `suffix` ("" or "/start"); NULL where there is none. */
static struct point *point_of(struct rules *rules, const struct item *item, const char *suffix) {
    size_t len = strlen(item->id);
    for (int i = 0; i < item->point_count; i++) {
        struct point *point = &rules->points[item->first_point + i];
        if (strcmp(point->id + len, suffix) == 0)
            return point;
    }
    return NULL;
}

void gates_read(const struct json_reader *reader, const json_t *object,
                const struct json_place *place, struct rules *rules, const struct item *item) {
    const json_t *one = json_object_get(object, "place");
    const json_t *several = json_object_get(object, "places");
    const char *example = rules->points[item->first_point].id + strlen(item->id);
    struct json_place here = {.up = place, .key = "place"};
    struct point *own = point_of(rules, item, "");
    if (one != NULL && own == NULL)
        json_wrong(reader, place, "place",
                   "is of the point that has the item's own id, and there is none: say “places”, "
                   "by points such as “%s”",
                   example);
    else if (one != NULL)
        read_gate(reader, one, &here, own);
    here.key = "places";
    if (several == NULL)
        return;
    if (!json_is_object(several)) {
        json_wrong(reader, place, "places", "must be an object");
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)several, key, value) {
        struct json_place at = {.up = &here, .key = key};
        struct point *point = *key == '\0' ? NULL : point_of(rules, item, key);
        if (point != NULL)
            read_gate(reader, value, &at, point);
        else if (*example == '\0')
            json_wrong(reader, &here, key, "is no point of it: the item's own is its “place”");
        else
            json_wrong(reader, &here, key, "is no point of it, such as “%s”", example);
    }
}
