/* SPDX-License-Identifier: MIT */
#include "event/penalty.h"

#include "base/decimal.h"
#include "format/json_read.h"

static const char *const rule_keys[] = {"precision", "per",        "early",          "late",
                                        "grace",     "late_limit", "grace_deducted", "cap",
                                        "missed",    NULL};

struct penalty_rule penalty_rule_plain(void) {
    return (struct penalty_rule){.precision = UNIT_SECOND,
                                 .per = UNIT_SECOND,
                                 .rate = {1000, 1000},
                                 .cap = {CAP_NONE, CAP_NONE},
                                 .late_limit = TIME_NONE};
}

/* A penalty, or {"fails": n}. */
static void read_cost(const struct json_reader *reader, const json_t *rule,
                      const struct json_place *place, const char *key, int64_t *penalty,
                      int *fails) {
    static const char *const fails_keys[] = {"fails", NULL};
    const json_t *value = json_object_get(rule, key);
    if (value == NULL)
        return;
    if (!json_is_object(value)) {
        if (json_get_decimal(reader, rule, place, key, true, 0, DECIMAL_MAX, penalty))
            *fails = 0;
        return;
    }
    struct json_place here = {.up = place, .key = key};
    int64_t count;
    if (json_known_keys(reader, value, &here, fails_keys, NULL) &&
        json_get_whole(reader, value, &here, "fails", true, 1, 1000, &count)) {
        *fails = (int)count;
        *penalty = 0;
    }
}

static void read_cap(const struct json_reader *reader, const json_t *rule,
                     const struct json_place *place, struct penalty_rule *out) {
    static const char *const side_keys[] = {"early", "late", NULL};
    const json_t *value = json_object_get(rule, "cap");
    if (value == NULL)
        return;
    if (!json_is_object(value)) {
        if (json_get_decimal(reader, rule, place, "cap", true, 0, DECIMAL_MAX,
                             &out->cap[SIDE_LATE]))
            out->cap[SIDE_EARLY] = out->cap[SIDE_LATE];
        return;
    }
    struct json_place here = {.up = place, .key = "cap"};
    out->cap[SIDE_EARLY] = CAP_NONE;
    out->cap[SIDE_LATE] = CAP_NONE;
    if (json_known_keys(reader, value, &here, side_keys, NULL)) {
        (void)json_get_decimal(reader, value, &here, "early", false, 0, DECIMAL_MAX,
                               &out->cap[SIDE_EARLY]);
        (void)json_get_decimal(reader, value, &here, "late", false, 0, DECIMAL_MAX,
                               &out->cap[SIDE_LATE]);
    }
}

void penalty_rule_read(const struct json_reader *reader, const json_t *value,
                       const struct json_place *place, struct penalty_rule *rule) {
    if (!json_known_keys(reader, value, place, rule_keys, NULL))
        return;
    (void)json_get_unit(reader, value, place, "precision", &rule->precision);
    if (json_get_unit(reader, value, place, "per", &rule->per))
        rule->per_given = true;
    read_cost(reader, value, place, "early", &rule->rate[SIDE_EARLY], &rule->fails[SIDE_EARLY]);
    read_cost(reader, value, place, "late", &rule->rate[SIDE_LATE], &rule->fails[SIDE_LATE]);
    (void)json_get_duration(reader, value, place, "grace", false, &rule->grace);
    (void)json_get_flag(reader, value, place, "grace_deducted", &rule->grace_deducted);
    read_cap(reader, value, place, rule);
    (void)json_get_duration(reader, value, place, "late_limit", false, &rule->late_limit);
    read_cost(reader, value, place, "missed", &rule->missed, &rule->missed_fails);
}

void penalty_rule_complete(struct penalty_rule *rule) {
    if (!rule->per_given)
        rule->per = rule->precision;
}
