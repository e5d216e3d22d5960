/* SPDX-License-Identifier: MIT */
#include "event/penalty.h"

#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "event_text.h"
#include "format/json_read.h"
#include "testing.h"

/* Reads a rule, written with ' for ", over the plain one; what is wrong goes to `said`. */
static struct penalty_rule rule_saying(const char *text, char **said) {
    struct problems problems = {0};
    struct arena *arena = arena_new();
    struct json_reader reader = {.file = "event.json", .arena = arena, .problems = &problems};
    struct json_place place = {.key = "penalty"};
    struct penalty_rule rule = penalty_rule_plain();
    char *json = quoted(text);
    json_t *root = NULL;
    assert_int_equal(json_read_text(&reader, json, strlen(json), &root), ERR_OK);
    penalty_rule_read(&reader, root, &place, &rule);
    penalty_rule_complete(&reader, root, &place, &rule);
    *said = problems_text(&problems);
    json_decref(root);
    free(json);
    arena_free(arena);
    problems_clear(&problems);
    return rule;
}

static struct penalty_rule rule_of(const char *text) {
    char *said;
    struct penalty_rule rule = rule_saying(text, &said);
    assert_string_equal(said, "");
    free(said);
    return rule;
}

/* A deviation and its cost under the rule. */
static void check(const char *rule_text, int64_t deviation, int64_t penalty) {
    struct penalty_rule rule = rule_of(rule_text);
    struct price price = penalty_price(&rule, deviation);
    if (price.penalty != penalty || price.fails != 0)
        fail_msg("%s: %lld ms cost %lld and %d fails", rule_text, (long long)deviation,
                 (long long)price.penalty, price.fails);
}

BEHAVIOUR(the_plain_rule_is_one_a_second_on_either_side) {
    struct penalty_rule rule = rule_of("{}");
    assert_int_equal(rule.precision, UNIT_SECOND);
    assert_int_equal(rule.per, UNIT_SECOND);
    assert_int_equal(rule.missed, 0);
    assert_int_equal(rule.missed_fails, 0);
    assert_true(rule.late_limit == TIME_NONE);
    check("{}", 0, 0);
    check("{}", 3000, 3000);
    check("{}", -3000, 3000);
    check("{}", 999, 0);
    check("{}", -1999, 1000);
}

BEHAVIOUR(per_follows_the_precision_unless_it_is_given) {
    assert_int_equal(rule_of("{'precision': 'hundredth'}").per, UNIT_HUNDREDTH);
    assert_int_equal(rule_of("{'precision': 'minute'}").per, UNIT_MINUTE);
    assert_int_equal(rule_of("{'precision': 'second', 'per': 'minute'}").per, UNIT_MINUTE);
    check("{'precision': 'hundredth'}", 70, 7000);
    check("{'precision': 'second', 'per': 'minute', 'late': 10}", 119000, 10000);
    check("{'precision': 'second', 'per': 'minute', 'late': 10}", 120000, 20000);
}

BEHAVIOUR(early_and_late_have_rates_of_their_own) {
    static const char rule[] = "{'precision': 'minute', 'early': 60, 'late': 10}";
    check(rule, 120000, 20000);
    check(rule, -120000, 120000);
    check("{'early': '0.125', 'late': 0.5}", -3000, 375);
    check("{'early': '0.125', 'late': 0.5}", 3000, 1500);
    check("{'early': 0}", -3000, 0);
}

BEHAVIOUR(grace_is_free_up_to_and_including_it) {
    static const char rule[] = "{'grace': 3}";
    check(rule, 3000, 0);
    check(rule, -3000, 0);
    check(rule, 4000, 4000);
    check(rule, -4000, 4000);
    check("{'precision': 'tenth', 'grace': '0.3'}", 300, 0);
    check("{'precision': 'tenth', 'grace': '0.3'}", 400, 4000);
}

BEHAVIOUR(grace_that_is_deducted_leaves_the_excess) {
    static const char rule[] = "{'grace': '00:00:03', 'grace_deducted': true}";
    check(rule, 3000, 0);
    check(rule, 4000, 1000);
    check(rule, -5000, 2000);
    check("{'grace_deducted': true}", 2000, 2000);
    /* the excess is cut to whole units: 2.5 s are two seconds */
    check("{'grace': '1.5', 'grace_deducted': true}", 4000, 2000);
}

BEHAVIOUR(a_cap_holds_both_sides_or_the_one_it_names) {
    check("{'cap': 60}", 61000, 60000);
    check("{'cap': 60}", -61000, 60000);
    check("{'cap': 60}", 60000, 60000);
    check("{'cap': {'late': 60}}", 61000, 60000);
    check("{'cap': {'late': 60}}", -61000, 61000);
    check("{'cap': {'early': 5, 'late': 60}}", -61000, 5000);
    check("{'cap': {}}", 61000, 61000);
    check("{'cap': 0}", 61000, 0);
    check("{'cap': '0.001'}", 61000, 1);
}

BEHAVIOUR(early_and_late_may_cost_fails_once) {
    struct penalty_rule rule = rule_of("{'early': {'fails': 2}}");
    struct price price = penalty_price(&rule, -90000);
    assert_int_equal(price.fails, 2);
    assert_int_equal(price.penalty, 0);
    price = penalty_price(&rule, -1000);
    assert_int_equal(price.fails, 2);
    price = penalty_price(&rule, 90000);
    assert_int_equal(price.fails, 0);
    assert_int_equal(price.penalty, 90000);
    rule = rule_of("{'early': {'fails': 2}, 'grace': 5}");
    assert_int_equal(penalty_price(&rule, -5000).fails, 0);
    assert_int_equal(penalty_price(&rule, -6000).fails, 2);
    rule = rule_of("{'late': {'fails': 3}, 'per': 'minute', 'cap': 5}");
    assert_int_equal(penalty_price(&rule, 59000).fails, 0);
    assert_int_equal(penalty_price(&rule, 300000).fails, 3);
    assert_int_equal(penalty_price(&rule, 300000).penalty, 0);
    assert_int_equal(penalty_price(&rule, -60000).penalty, 1000);
}

BEHAVIOUR(missed_is_a_penalty_or_fails) {
    assert_int_equal(rule_of("{'missed': '900'}").missed, 900000);
    assert_int_equal(rule_of("{'missed': {'fails': 1}}").missed_fails, 1);
    assert_int_equal(rule_of("{'missed': {'fails': 1}}").missed, 0);
}

BEHAVIOUR(a_rule_replaces_another_key_by_key) {
    struct problems problems = {0};
    struct arena *arena = arena_new();
    struct json_reader reader = {.file = "event.json", .arena = arena, .problems = &problems};
    struct json_place place = {.key = "penalty"};
    struct penalty_rule rule =
        rule_of("{'precision': 'tenth', 'late': 2, 'cap': {'late': 9}, 'missed': {'fails': 1}, "
                "'early': {'fails': 1}}");
    char *json = quoted("{'cap': {'early': 4}, 'missed': 120, 'early': 3}");
    json_t *root = NULL;
    assert_int_equal(json_read_text(&reader, json, strlen(json), &root), ERR_OK);
    penalty_rule_read(&reader, root, &place, &rule);
    penalty_rule_complete(&reader, root, &place, &rule);
    assert_int_equal(rule.precision, UNIT_TENTH);
    assert_int_equal(rule.rate[SIDE_LATE], 2000);
    assert_int_equal(rule.rate[SIDE_EARLY], 3000);
    assert_int_equal(rule.fails[SIDE_EARLY], 0);
    assert_int_equal(rule.missed, 120000);
    assert_int_equal(rule.missed_fails, 0);
    /* the whole key is replaced: a side that the new cap does not name is not capped */
    assert_int_equal(rule.cap[SIDE_EARLY], 4000);
    assert_true(rule.cap[SIDE_LATE] == CAP_NONE);
    json_decref(root);
    free(json);
    arena_free(arena);
    problems_clear(&problems);
}

BEHAVIOUR(the_steps_are_kept_for_the_explanation) {
    struct penalty_rule rule = rule_of("{'late': 2, 'grace': 1, 'grace_deducted': true, 'cap': 5}");
    struct price price = penalty_price(&rule, 4000);
    assert_int_equal(price.charged, 3000);
    assert_int_equal(price.units, 3);
    assert_int_equal(price.rate, 2000);
    assert_int_equal(price.uncapped, 6000);
    assert_int_equal(price.penalty, 5000);
    assert_true(price.deducted);
    assert_true(price.capped);
    assert_false(price.within_grace);
    assert_true(penalty_price(&rule, 1000).within_grace);
    assert_false(penalty_price(&rule, 0).within_grace);
}

BEHAVIOUR(the_dearest_rate_cannot_overflow) {
    struct penalty_rule rule = rule_of("{'precision': 'millisecond', 'late': 1000000000}");
    struct price price = penalty_price(&rule, INT64_C(172799999));
    assert_true(price.penalty > 0);
    assert_true(price.penalty <= DECIMAL_MAX);
    rule = rule_of("{'precision': 'millisecond', 'late': 1000000000, 'cap': 7}");
    assert_int_equal(penalty_price(&rule, INT64_C(172799999)).penalty, 7000);
}

BEHAVIOUR(a_wrong_rule_is_told_with_its_place) {
    static const struct {
        const char *rule;
        const char *said;
    } rows[] = {
        {"{'lates': 1}", "event.json: penalty.lates: unknown key\n"},
        {"{'cap': {'both': 1}}", "event.json: penalty.cap.both: unknown key\n"},
        {"{'early': {'fail': 1}}",
         "event.json: penalty.early.fail: unknown key\n"
         "event.json: penalty.early: must have “fails” or “once”; steps are a list\n"},
        {"{'late': 'much'}",
         "event.json: penalty.late: must be a number in plain decimals, {\"fails\": 1}, {\"once\": 100} or a list of steps\n"},
        {"{'late': {'fails': 0}}",
         "event.json: penalty.late.fails: must be a whole number from 1 to 1000\n"},
        {"{'late': 0.0001}", "event.json: penalty.late: “0.0001” has more than three decimals\n"},
        {"{'late': -1}", "event.json: penalty.late: “-1” is out of range: 0 to 1000000000\n"},
        {"{'grace_deducted': 'yes'}",
         "event.json: penalty.grace_deducted: must be true or false\n"},
        {"{'per': 'hour'}",
         "event.json: penalty.per: must be “minute”, “second”, “tenth”, “hundredth”, “millisecond” or a "
         "duration that divides a day, such as “0.6” or “00:15:00”\n"},
        {"[]", "event.json: penalty: must be an object\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char *said;
        (void)rule_saying(rows[i].rule, &said);
        assert_string_equal(said, rows[i].said);
        free(said);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_plain_rule_is_one_a_second_on_either_side),
        cmocka_unit_test(per_follows_the_precision_unless_it_is_given),
        cmocka_unit_test(early_and_late_have_rates_of_their_own),
        cmocka_unit_test(grace_is_free_up_to_and_including_it),
        cmocka_unit_test(grace_that_is_deducted_leaves_the_excess),
        cmocka_unit_test(a_cap_holds_both_sides_or_the_one_it_names),
        cmocka_unit_test(early_and_late_may_cost_fails_once),
        cmocka_unit_test(missed_is_a_penalty_or_fails),
        cmocka_unit_test(a_rule_replaces_another_key_by_key),
        cmocka_unit_test(the_steps_are_kept_for_the_explanation),
        cmocka_unit_test(the_dearest_rate_cannot_overflow),
        cmocka_unit_test(a_wrong_rule_is_told_with_its_place),
    };
    RUN_BEHAVIOURS(tests);
}
