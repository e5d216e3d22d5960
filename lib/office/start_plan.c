/* SPDX-License-Identifier: MIT */
#include "office/start_plan.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "format/json_read.h"

/* The words of enum start_order. */
static const char *const order_words[] = {"number", "reversed", "standings", "standings-reversed",
                                          "era",    NULL};

/* An array of `count` times, all `value`. NULL when memory is out. */
static int64_t *times_of(struct arena *arena, int count, int64_t value) {
    int64_t *list = arena_array(arena, (size_t)count + 1, sizeof *list);
    for (int i = 0; list != NULL && i < count; i++)
        list[i] = value;
    return list;
}

int start_plan_init(struct start_plan *plan, const struct event *event, int day) {
    const struct rules *rules = event->rules;
    *plan = (struct start_plan){.event = event,
                                .day = day,
                                .first = rules->days[day].first_start,
                                .interval = rules->days[day].interval,
                                .interval_first = TIME_NONE};
    plan->arena = arena_new();
    if (plan->arena == NULL)
        return ERR_NOMEM;
    plan->by_period = times_of(plan->arena, rules->period_count, TIME_NONE);
    plan->by_class = times_of(plan->arena, rules_class_count(rules), TIME_NONE);
    plan->by_category = times_of(plan->arena, rules->category_count, TIME_NONE);
    plan->gap = times_of(plan->arena, event->entries->count, 0);
    plan->late = times_of(plan->arena, event->entries->count, TIME_NONE);
    return plan->by_period == NULL || plan->by_class == NULL || plan->by_category == NULL ||
                   plan->gap == NULL || plan->late == NULL
               ? ERR_NOMEM
               : ERR_OK;
}

void start_plan_clear(struct start_plan *plan) {
    arena_free(plan->arena);
    plan->arena = NULL;
}

static int set_duration(const char *key, const char *value, int64_t *out, struct textbuf *why) {
    if (duration_parse(value, out) == ERR_OK)
        return ERR_OK;
    textbuf_printf(why, "%s: “%s” is no duration: write HH:MM:SS or plain seconds", key, value);
    return ERR_INPUT;
}

static int set_time(const char *key, const char *value, int64_t *out, struct textbuf *why) {
    if (time_parse(value, out) == ERR_OK)
        return ERR_OK;
    textbuf_printf(why, "%s: “%s” is no time of day: write HH:MM:SS", key, value);
    return ERR_INPUT;
}

/* Where the interval of the group of that id is kept, NULL where there is no such group. */
static int64_t *interval_of(struct start_plan *plan, const char *id) {
    const struct rules *rules = plan->event->rules;
    struct textbuf own = {0};
    int64_t *found = NULL;
    for (int c = 0; rules->capacity_count > 0 && c < rules_class_count(rules); c++) {
        textbuf_reset(&own);
        rules_class_id(rules, c, &own);
        if (found == NULL && strcmp(textbuf_text(&own), id) == 0)
            found = &plan->by_class[c];
    }
    textbuf_clear(&own);
    if (found != NULL)
        return found;
    int category = rules_category_of(rules, id);
    if (category >= 0)
        return &plan->by_category[category];
    int period = rules_period_named(rules, id);
    return period < 0 ? NULL : &plan->by_period[period];
}

static int set_named(struct start_plan *plan, const char *key, const char *name, const char *value,
                     struct textbuf *why) {
    if (strcmp(key, "intervals") == 0) {
        int64_t *interval = interval_of(plan, name);
        if (interval != NULL)
            return set_duration(key, value, interval, why);
        textbuf_printf(why, "%s: “%s” is no class, category or period", key, name);
        return ERR_INPUT;
    }
    int64_t number = 0;
    int car = decimal_parse_whole(name, 1, NUMBER_MAX, &number) == ERR_OK
                  ? entries_find(plan->event->entries, number)
                  : -1;
    if (car < 0) {
        textbuf_printf(why, "%s: car “%s” is not in the entry list", key, name);
        return ERR_INPUT;
    }
    if (strcmp(key, "gaps") == 0)
        return set_duration(key, value, &plan->gap[car], why);
    if (strcmp(value, "end") == 0) {
        plan->late[car] = START_AT_THE_END;
        return ERR_OK;
    }
    return set_time(key, value, &plan->late[car], why);
}

int start_plan_set(struct start_plan *plan, const char *key, const char *name, const char *value,
                   struct textbuf *why) {
    int64_t number = 0;
    if (name != NULL)
        return set_named(plan, key, name, value, why);
    if (strcmp(key, "first") == 0)
        return set_time(key, value, &plan->first, why);
    if (strcmp(key, "interval") == 0)
        return set_duration(key, value, &plan->interval, why);
    if (strcmp(key, "interval_first") == 0)
        return set_duration(key, value, &plan->interval_first, why);
    if (strcmp(key, "reverse_first") == 0) {
        if (decimal_parse_whole(value, 1, NUMBER_MAX, &number) != ERR_OK) {
            textbuf_printf(why, "%s: “%s” is no whole number from 1", key, value);
            return ERR_INPUT;
        }
        plan->reverse_first = (int)number;
        return ERR_OK;
    }
    if (strcmp(key, "rest") == 0) {
        plan->rest_by_number = strcmp(value, "number") == 0;
        if (plan->rest_by_number || strcmp(value, "standings") == 0)
            return ERR_OK;
        textbuf_printf(why, "%s: “%s” must be standings or number", key, value);
        return ERR_INPUT;
    }
    for (int i = 0; order_words[i] != NULL; i++) {
        if (strcmp(order_words[i], value) == 0) {
            plan->order = (enum start_order)i;
            return ERR_OK;
        }
    }
    textbuf_printf(why, "%s: “%s” must be number, reversed, standings, standings-reversed or era",
                   key, value);
    return ERR_INPUT;
}

/* A text or a number, as text; NULL where it is neither. */
static const char *plain_text(const json_t *value) {
    const char *text = json_string_value(value);
    return text != NULL && *text == JSON_NUMBER_MARK ? text + 1 : text;
}

static void read_member(const struct json_reader *reader, struct start_plan *plan, const char *key,
                        const char *name, const json_t *value) {
    struct textbuf why = {0};
    const char *text = plain_text(value);
    if (text == NULL)
        textbuf_printf(&why, "%s%s%s: must be a text or a number", key, name == NULL ? "" : ".",
                       name == NULL ? "" : name);
    else
        (void)start_plan_set(plan, key, name, text, &why);
    if (why.len > 0)
        problems_add_at(reader->problems, PROBLEM_ERROR, reader->file, textbuf_text(&why));
    if (why.failed)
        reader->problems->out_of_memory = true;
    textbuf_clear(&why);
}

int start_plan_read(struct start_plan *plan, const char *text, size_t len, const char *flag,
                    bool *is_set, struct problems *problems) {
    static const char *const single[] = {"order",         "first", "interval", "interval_first",
                                         "reverse_first", "rest",  NULL};
    static const char *const named[] = {"intervals", "gaps", "late", NULL};
    const char *const more[] = {"intervals", "gaps", "late", flag, NULL};
    struct json_reader reader = {.file = "plan", .arena = plan->arena, .problems = problems};
    json_t *root = NULL;
    *is_set = false;
    int err = json_read_text(&reader, text, len, &root);
    if (err != ERR_OK)
        return err;
    if (json_known_keys(&reader, root, NULL, single, more)) {
        for (int i = 0; single[i] != NULL; i++) {
            const json_t *value = json_object_get(root, single[i]);
            if (value != NULL)
                read_member(&reader, plan, single[i], NULL, value);
        }
        for (int i = 0; named[i] != NULL; i++) {
            json_t *object = json_object_get(root, named[i]);
            const char *name;
            json_t *value;
            if (object != NULL && !json_is_object(object))
                json_wrong(&reader, NULL, named[i], "must be an object");
            json_object_foreach(object, name, value) {
                read_member(&reader, plan, named[i], name, value);
            }
        }
        (void)json_get_flag(&reader, root, NULL, flag, is_set);
    }
    json_decref(root);
    if (problems_out_of_memory(problems))
        return ERR_NOMEM;
    return problems_fatal(problems) ? ERR_INPUT : ERR_OK;
}
