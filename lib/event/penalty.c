/* SPDX-License-Identifier: MIT */
#include "event/penalty.h"

#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "format/json_read.h"

static const char *const rule_keys[] = {"precision",   "per",   "part",           "early",
                                        "late",        "grace", "grace_deducted", "late_limit",
                                        "early_limit", "cap",   "missed",         NULL};

static const char *const side_keys[] = {"early", "late", NULL};

struct penalty_rule penalty_rule_plain(void) {
    return (struct penalty_rule){.precision = UNIT_SECOND,
                                 .per = UNIT_SECOND,
                                 .rate = {1000, 1000},
                                 .cap = {CAP_NONE, CAP_NONE},
                                 .early_limit = TIME_NONE,
                                 .late_limit = TIME_NONE};
}

int64_t penalty_step_units(const struct penalty_rule *rule, int64_t units, int64_t from,
                           int64_t to) {
    int64_t last = to / rule->per < units ? to / rule->per : units;
    int64_t first = from / rule->per;
    return last > first ? last - first : 0;
}

static int64_t cost_by_steps(const struct penalty_rule *rule, enum side side, int64_t units) {
    int64_t sum = 0;
    int64_t from = 0;
    for (const struct rate_step *step = rule->steps[side];; step++) {
        sum += penalty_of_units(penalty_step_units(rule, units, from, step->to), step->rate);
        if (sum > DECIMAL_MAX)
            return DECIMAL_MAX;
        if (step->to == INT64_MAX)
            return sum;
        from = step->to;
    }
}

void price_deviation_otherwise(struct price *price, const struct penalty_rule *rule,
                               int64_t deviation) {
    enum side side = deviation < 0 ? SIDE_EARLY : SIDE_LATE;
    int64_t begun = rule->part ? rule->per - 1 : 0;
    *price = (struct price){0};
    if (!price_charge(price, rule, side == SIDE_EARLY ? -deviation : deviation))
        return;
    price->units = unit_count(price->charged + begun, rule->per);
    switch (rule->charge[side]) {
    case CHARGE_FAILS:
        price->fails = price->units > 0 ? rule->fails[side] : 0;
        return;
    case CHARGE_RATE:
        price->rate = rule->rate[side];
        price->uncapped = penalty_of_units(price->units, price->rate);
        break;
    case CHARGE_ONCE:
        price->rate = price->uncapped = rule->rate[side];
        break;
    case CHARGE_STEPS:
        price->uncapped = cost_by_steps(rule, side, price->units);
        break;
    }
    price_hold_to_cap(price, rule, side);
}

bool fails_read(const struct json_reader *reader, const json_t *value,
                const struct json_place *place, int *out) {
    static const char *const fails_keys[] = {"fails", NULL};
    int64_t count;
    if (!json_known_keys(reader, value, place, fails_keys, NULL) ||
        !json_get_whole(reader, value, place, "fails", true, 1, FAILS_MAX, &count))
        return false;
    *out = (int)count;
    return true;
}

bool penalty_has_words(const json_t *value) {
    const char *text = json_is_string(value) ? json_string_value(value) : "";
    return *text >= '0' && *text <= '9' && strpbrk(text, "abcdefghijklmnopqrstuvwxyz") != NULL;
}

/* True for a text that begins as a word does, such as a misspelt one. */
static bool is_word(const json_t *value) {
    const char *text = json_is_string(value) ? json_string_value(value) : "";
    return (*text >= 'a' && *text <= 'z') || (*text >= 'A' && *text <= 'Z');
}

/* A penalty, or {"fails": n}. */
static void read_cost(const struct json_reader *reader, const json_t *rule,
                      const struct json_place *place, const char *key, int64_t *penalty,
                      int *fails) {
    const json_t *value = json_object_get(rule, key);
    if (penalty_has_words(value)) {
        json_wrong(reader, place, key, "must be a penalty or {\"fails\": 1}");
        return;
    }
    if (!json_is_object(value)) {
        if (json_get_decimal(reader, rule, place, key, true, 0, DECIMAL_MAX, penalty))
            *fails = 0;
        return;
    }
    struct json_place here = {.up = place, .key = key};
    if (fails_read(reader, value, &here, fails))
        *penalty = 0;
}

/* Units up to a deviation at one rate, those behind it at the next. */
static void read_steps(const struct json_reader *reader, const json_t *list,
                       const struct json_place *place, enum side side, struct penalty_rule *out) {
    static const char *const step_keys[] = {"to", "rate", NULL};
    struct json_place here = {.up = place, .key = side_keys[side]};
    size_t count = json_array_size(list);
    if (count == 0 || count > PARTS_MAX) {
        json_wrong(reader, &here, NULL, "must hold 1 to %d steps", PARTS_MAX);
        return;
    }
    struct rate_step *steps = arena_array(reader->arena, count, sizeof *steps);
    if (steps == NULL) {
        reader->problems->out_of_memory = true;
        return;
    }
    int64_t before = 0;
    for (size_t i = 0; i < count; i++) {
        struct json_place at = {.up = &here, .index = i};
        const json_t *value = json_array_get(list, i);
        bool last = i + 1 == count;
        steps[i] = (struct rate_step){.to = INT64_MAX};
        if (!json_known_keys(reader, value, &at, step_keys, NULL))
            continue;
        (void)json_get_decimal(reader, value, &at, "rate", true, 0, DECIMAL_MAX, &steps[i].rate);
        if (last && json_object_get(value, "to") != NULL)
            json_wrong(reader, &at, "to",
                       "must not be there: the last step is for all units behind the others");
        else if (!last && json_get_duration(reader, value, &at, "to", true, &steps[i].to)) {
            if (steps[i].to <= before)
                json_wrong(reader, &at, "to",
                           i == 0 ? "must be more than 0" : "must be more than in the step before");
            before = steps[i].to;
        }
    }
    out->steps[side] = steps;
    out->charge[side] = CHARGE_STEPS;
}

/* What a deviation costs: so much a unit, {"fails": n}, {"once": n} or steps. */
static void read_side(const struct json_reader *reader, const json_t *rule,
                      const struct json_place *place, enum side side, struct penalty_rule *out) {
    static const char *const cost_keys[] = {"fails", "once", NULL};
    const char *key = side_keys[side];
    const json_t *value = json_object_get(rule, key);
    struct json_place here = {.up = place, .key = key};
    int64_t fails;
    if (value == NULL)
        return;
    if (penalty_has_words(value)) {
        json_wrong(reader, place, key,
                   "must be a penalty, {\"fails\": 1}, {\"once\": 100} or a list of steps");
    } else if (is_word(value)) {
        json_wrong(reader, place, key,
                   "must be a number in plain decimals, {\"fails\": 1}, {\"once\": 100} or a list "
                   "of steps");
    } else if (json_is_array(value)) {
        out->fails[side] = 0;
        read_steps(reader, value, place, side, out);
    } else if (!json_is_object(value)) {
        if (json_get_decimal(reader, rule, place, key, true, 0, DECIMAL_MAX, &out->rate[side])) {
            out->charge[side] = CHARGE_RATE;
            out->fails[side] = 0;
        }
    } else if (!json_known_keys(reader, value, &here, cost_keys, NULL)) {
        return;
    } else if (json_object_get(value, "once") == NULL && json_object_get(value, "fails") == NULL) {
        json_wrong(reader, place, key, "must have “fails” or “once”; steps are a list");
    } else if (json_object_get(value, "once") == NULL) {
        if (json_get_whole(reader, value, &here, "fails", true, 1, FAILS_MAX, &fails)) {
            out->charge[side] = CHARGE_FAILS;
            out->fails[side] = (int)fails;
            out->rate[side] = 0;
        }
    } else if (json_object_get(value, "fails") != NULL) {
        json_wrong(reader, &here, "once",
                   "does not go with “fails”: a deviation costs one of them");
    } else if (json_get_decimal(reader, value, &here, "once", true, 0, DECIMAL_MAX,
                                &out->rate[side])) {
        out->charge[side] = CHARGE_ONCE;
        out->fails[side] = 0;
    }
}

/* A penalty, fails, or "maximum", which a special test alone may say (penalty_refuse_maximum). */
static void read_missed(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, struct penalty_rule *rule) {
    const json_t *missed = json_object_get(value, "missed");
    if (missed == NULL)
        return;
    rule->missed_maximum =
        json_is_string(missed) && strcmp(json_string_value(missed), "maximum") == 0;
    if (rule->missed_maximum)
        rule->missed = rule->missed_fails = 0;
    else if (is_word(missed))
        json_wrong(reader, place, "missed",
                   "must be a number in plain decimals, {\"fails\": 1} or, at a special test, "
                   "“maximum”");
    else
        read_cost(reader, value, place, "missed", &rule->missed, &rule->missed_fails);
}

void penalty_refuse_maximum(const struct json_reader *reader, const struct json_place *place,
                            struct penalty_rule *rule) {
    if (rule->missed_maximum)
        json_wrong(reader, place, "missed",
                   "only at a special test can it be “maximum”; write a penalty or {\"fails\": 1}");
    rule->missed_maximum = false; /* told here, and not again of the rules written over this one */
}

static void read_cap(const struct json_reader *reader, const json_t *rule,
                     const struct json_place *place, struct penalty_rule *out) {
    const json_t *value = json_object_get(rule, "cap");
    if (value == NULL)
        return;
    out->cap_is_one = !json_is_object(value);
    if (out->cap_is_one) {
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
    (void)json_known_keys(reader, value, place, rule_keys, NULL); /* what is no object has none */
    (void)json_get_unit(reader, value, place, "precision", &rule->precision);
    if (json_get_unit(reader, value, place, "per", &rule->per))
        rule->per_given = true;
    (void)json_get_flag(reader, value, place, "part", &rule->part);
    read_side(reader, value, place, SIDE_EARLY, rule);
    read_side(reader, value, place, SIDE_LATE, rule);
    (void)json_get_duration(reader, value, place, "grace", false, &rule->grace);
    (void)json_get_flag(reader, value, place, "grace_deducted", &rule->grace_deducted);
    read_cap(reader, value, place, rule);
    (void)json_get_duration(reader, value, place, "late_limit", false, &rule->late_limit);
    (void)json_get_duration(reader, value, place, "early_limit", false, &rule->early_limit);
    read_missed(reader, value, place, rule);
}

/* A step that ends inside a unit would leave open what that unit costs. What is wrong with steps
 * and units that are both of the rule below was told there. */
static void check_steps(const struct json_reader *reader, const json_t *value,
                        const struct json_place *place, const struct penalty_rule *rule,
                        enum side side) {
    struct json_place here = {.up = place, .key = side_keys[side]};
    const struct rate_step *steps = rule->steps[side];
    const char *unit = json_object_get(value, "per") != NULL ? "per" : "precision";
    bool inherited = json_object_get(value, side_keys[side]) == NULL;
    if (rule->charge[side] != CHARGE_STEPS || (inherited && json_object_get(value, unit) == NULL))
        return;
    for (size_t i = 0; steps[i].to != INT64_MAX; i++) {
        struct json_place at = {.up = &here, .index = i};
        struct textbuf words = {0};
        if (steps[i].to % rule->per == 0)
            continue;
        duration_write_words(&words, steps[i].to);
        textbuf_puts(&words, " is no whole number of the units of ");
        duration_write_words(&words, rule->per);
        if (words.failed)
            reader->problems->out_of_memory = true;
        if (inherited)
            json_wrong(reader, place, unit, "%s, and a step of “%s” ends there: say “%s” here, too",
                       textbuf_text(&words), side_keys[side], side_keys[side]);
        else
            json_wrong(reader, &at, "to", "%s that “per” counts in", textbuf_text(&words));
        textbuf_clear(&words);
    }
}

void penalty_rule_complete(const struct json_reader *reader, const json_t *value,
                           const struct json_place *place, struct penalty_rule *rule) {
    if (!rule->per_given)
        rule->per = rule->precision;
    rule->charged_otherwise = rule->part || rule->charge[SIDE_EARLY] != CHARGE_RATE ||
                              rule->charge[SIDE_LATE] != CHARGE_RATE;
    check_steps(reader, value, place, rule, SIDE_EARLY);
    check_steps(reader, value, place, rule, SIDE_LATE);
}
