/* SPDX-License-Identifier: MIT */
#include "event/scoring_rules.h"

#include "base/err.h"
#include "base/problem.h"
#include "event/coefficient_rules.h"
#include "event/drop_rules.h"
#include "event/finisher_rules.h"
#include "event/kind.h"
#include "event/penalty.h"
#include "event/tie_rules.h"
#include "format/json_read.h"

static void read_defaults(const struct json_reader *reader, const json_t *scoring,
                          const struct json_place *place, struct scoring *s) {
    const json_t *object = json_object_get(scoring, "defaults");
    struct json_place here = {.up = place, .key = "defaults"};
    if (object == NULL)
        return;
    if (!json_is_object(object)) {
        json_wrong(reader, place, "defaults", "must be an object of kinds");
        return;
    }
    const char *key;
    json_t *value;
    json_object_foreach((json_t *)object, key, value) {
        enum kind_id kind;
        struct json_place at = {.up = &here, .key = key};
        if (kind_parse(key, &kind) != ERR_OK) {
            json_wrong(reader, &at, NULL, "unknown key");
            continue;
        }
        penalty_rule_read(reader, value, &at, &s->defaults[kind]);
        if (kind_of(kind)->faults != FAULTS_OF_ATTEMPT)
            penalty_refuse_maximum(reader, &at, &s->defaults[kind]);
        penalty_rule_complete(reader, value, &at, &s->defaults[kind]);
    }
}

static void read_teams(const struct json_reader *reader, const json_t *scoring,
                       const struct json_place *place, struct scoring *s) {
    static const char *const keys[] = {"count", "by", NULL};
    static const char *const bys[] = {"team", "club", NULL};
    const json_t *object = json_object_get(scoring, "teams");
    struct json_place here = {.up = place, .key = "teams"};
    int64_t count;
    int by = 0;
    if (object == NULL || !json_known_keys(reader, object, &here, keys, NULL))
        return;
    if (json_get_whole(reader, object, &here, "count", true, 1, 9999, &count))
        s->team_count = (int)count;
    if (json_get_choice(reader, object, &here, "by", false, bys, &by))
        s->teams_by_club = by == 1;
}

void scoring_rules_read(const struct json_reader *reader, const json_t *root, struct rules *rules) {
    static const char *const keys[] = {
        "timing",         "max_lateness",       "coefficient", "drop_worst", "teams",
        "ties",           "absent_day_cap",     "day_cap",     "finisher",   "defaults",
        "protest_period", "max_lateness_holds", "lateness",    "shown",      NULL};
    static const char *const latenesses[] = {"cumulative", NULL};
    static const char *const timings[] = {"target", "scheduled", NULL};
    static const char *const showns[] = {"points", "time", NULL};
    const json_t *object = json_object_get(root, "scoring");
    struct json_place place = {.key = "scoring"};
    struct scoring *s = &rules->scoring;
    size_t errors = reader->problems->by_level[PROBLEM_ERROR];
    int choice;
    *s = (struct scoring){
        .max_lateness = TIME_NONE, .absent_day_cap = CAP_NONE, .day_cap = CAP_NONE, .share_den = 1};
    for (int i = 0; i < KIND_COUNT; i++)
        s->defaults[i] = penalty_rule_plain();
    if (object == NULL)
        rules->unread &= ~(unsigned)RULES_TEAMS;
    if (object == NULL || !json_known_keys(reader, object, &place, keys, NULL))
        return;
    bool keys_are_known = reader->problems->by_level[PROBLEM_ERROR] == errors;
    if (json_get_choice(reader, object, &place, "timing", false, timings, &choice))
        s->scheduled = choice == 1;
    (void)json_get_duration(reader, object, &place, "max_lateness", false, &s->max_lateness);
    (void)json_get_flag(reader, object, &place, "max_lateness_holds", &s->max_lateness_holds);
    s->lateness_cumulative =
        json_get_choice(reader, object, &place, "lateness", false, latenesses, &choice);
    coefficient_rules_read(reader, object, &place, rules);
    drop_rules_read(reader, object, &place, s);
    errors = reader->problems->by_level[PROBLEM_ERROR];
    read_teams(reader, object, &place, s);
    if (keys_are_known && reader->problems->by_level[PROBLEM_ERROR] == errors)
        rules->unread &= ~(unsigned)RULES_TEAMS;
    tie_rules_read(reader, object, &place, rules);
    (void)json_get_decimal(reader, object, &place, "absent_day_cap", false, 0, DECIMAL_MAX,
                           &s->absent_day_cap);
    (void)json_get_decimal(reader, object, &place, "day_cap", false, 0, DECIMAL_MAX, &s->day_cap);
    finisher_rules_read(reader, object, &place, s);
    (void)json_get_duration(reader, object, &place, "protest_period", false, &s->protest_period);
    if (json_get_choice(reader, object, &place, "shown", false, showns, &choice))
        s->shown_as_time = choice == 1;
    read_defaults(reader, object, &place, s);
}

void scoring_rules_complete(const struct json_reader *reader, const json_t *root,
                            struct rules *rules) {
    struct json_place place = {.key = "scoring"};
    tie_rules_complete(reader, json_object_get(root, "scoring"), &place, rules);
}
