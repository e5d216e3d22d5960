/* SPDX-License-Identifier: MIT */
/* Units and steps: begun units, amounts once, steps, limits, and what is wrong with them. */
#include <stdlib.h>
#include <string.h>

#include "base/arena.h"
#include "base/decimal.h"
#include "base/err.h"
#include "base/problem.h"
#include "event/penalty.h"
#include "event_text.h"
#include "format/json_read.h"
#include "testing.h"

/* A rule as it was read; its steps live in the arena. */
struct trial {
    struct arena *arena;
    struct problems problems;
    struct penalty_rule rule;
};

/* Reads a rule, written with ' for ", over the plain one. */
static void trial_open(struct trial *t, const char *text) {
    *t = (struct trial){.arena = arena_new(), .rule = penalty_rule_plain()};
    struct json_reader reader = {.file = "event.json", .arena = t->arena, .problems = &t->problems};
    struct json_place place = {.key = "penalty"};
    char *json = quoted(text);
    json_t *root = NULL;
    assert_int_equal(json_read_text(&reader, json, strlen(json), &root), ERR_OK);
    penalty_rule_read(&reader, root, &place, &t->rule);
    penalty_rule_complete(&reader, root, &place, &t->rule);
    json_decref(root);
    free(json);
}

static void trial_close(struct trial *t) {
    problems_clear(&t->problems);
    arena_free(t->arena);
}

/* What a rule says of a deviation; nothing may be wrong with it. */
static struct price priced(const char *text, int64_t deviation) {
    struct trial t;
    trial_open(&t, text);
    assert_int_equal(t.problems.count, 0);
    struct price price = penalty_price(&t.rule, deviation);
    trial_close(&t);
    return price;
}

static void check(const char *text, int64_t deviation, int64_t penalty) {
    struct price price = priced(text, deviation);
    if (price.penalty != penalty || price.fails != 0)
        fail_msg("%s: %lld ms cost %lld and %d fails", text, (long long)deviation,
                 (long long)price.penalty, price.fails);
}

BEHAVIOUR(a_unit_may_be_any_part_of_a_day) {
    check("{'precision': '0.6'}", 85800, 143000); /* 1.43 minutes are 143 hundredths */
    check("{'precision': '0.6'}", -600, 1000);
    check("{'precision': 6}", 78000, 13000); /* 1.3 minutes */
    check("{'per': '00:15:00'}", 2699000, 2000);
    check("{'per': '00:15:00'}", 2700000, 3000);
    check("{'per': '24:00:00', 'part': true}", 1000, 1000);
    struct trial t;
    trial_open(&t, "{'precision': '0.6'}");
    assert_int_equal(t.rule.precision, 600);
    assert_int_equal(t.rule.per, 600);
    trial_close(&t);
}

BEHAVIOUR(a_unit_begun_counts_as_whole_where_the_rule_says_part) {
    static const char rule[] = "{'per': 'minute', 'late': 100, 'part': true}";
    check(rule, 0, 0);
    check(rule, 1000, 100000);
    check(rule, 60000, 100000);
    check(rule, 61000, 200000);
    check("{'per': 'minute', 'late': 100, 'part': false}", 61000, 100000);
    check("{'per': 'minute', 'part': true, 'grace': 90}", 90000, 0);
    check("{'per': 'minute', 'part': true, 'grace': 90}", 91000, 2000);
    check("{'per': 'minute', 'part': true, 'grace': 90, 'grace_deducted': true}", 91000, 1000);
    assert_int_equal(priced("{'per': 'minute', 'part': true, 'late': {'fails': 2}}", 1000).fails,
                     2);
    assert_int_equal(priced("{'per': 'minute', 'late': {'fails': 2}}", 1000).fails, 0);
}

BEHAVIOUR(an_amount_once_is_the_same_for_every_deviation) {
    static const char rule[] = "{'early': {'once': 100}, 'late': 0, 'per': 'minute'}";
    check(rule, -1000, 100000);
    check(rule, -3600000, 100000);
    check(rule, 0, 0);
    check(rule, 3600000, 0);
    check("{'late': {'once': 100}, 'grace': 5}", 5000, 0);
    check("{'late': {'once': 100}, 'grace': 5}", 6000, 100000);
    check("{'late': {'once': '100.5'}, 'cap': 60}", 1000, 60000);
}

BEHAVIOUR(steps_charge_the_first_units_at_one_rate_and_the_rest_at_the_next) {
    static const char rule[] = "{'precision': 'minute', 'late': 1, "
                               "'early': [{'to': '00:01:00', 'rate': 2}, {'rate': 5}]}";
    check(rule, 180000, 3000);
    check(rule, -60000, 2000);
    check(rule, -120000, 7000);
    check(rule, -180000, 12000);
    static const char three[] = "{'late': [{'to': 10, 'rate': '0.5'}, {'to': 20, 'rate': 0}, "
                                "{'rate': 3}]}";
    check(three, 0, 0);
    check(three, 9000, 4500);
    check(three, 10000, 5000);
    check(three, 20000, 5000);
    check(three, 21999, 8000);
    check("{'late': [{'rate': 4}]}", 3000, 12000);
}

BEHAVIOUR(steps_go_with_begun_units_grace_and_caps) {
    check("{'per': 'minute', 'part': true, 'late': [{'to': 60, 'rate': 2}, {'rate': 5}]}", 61000,
          7000);
    check("{'late': [{'to': 2, 'rate': 1}, {'rate': 10}], 'grace': 3}", 4000, 22000);
    check("{'late': [{'to': 2, 'rate': 1}, {'rate': 10}], 'grace': 3, 'grace_deducted': true}",
          6000, 12000);
    check("{'late': [{'to': 2, 'rate': 1}, {'rate': 10}], 'cap': 20}", 4000, 20000);
    struct price price = priced("{'late': [{'to': 2, 'rate': 1}, {'rate': 10}], 'cap': 20}", 4000);
    assert_int_equal(price.units, 4);
    assert_int_equal(price.uncapped, 22000);
    assert_true(price.capped);
}

/* The quick way of most rules, and the one of all. */
BEHAVIOUR(a_plain_rule_costs_the_same_either_way) {
    struct trial t;
    trial_open(&t, "{'early': 3, 'late': 2, 'grace': 2, 'grace_deducted': true, 'per': 'tenth', "
                   "'cap': {'late': 90}}");
    for (int64_t deviation = -9000; deviation <= 9000; deviation += 50) {
        struct price quick = penalty_price(&t.rule, deviation);
        struct price other;
        price_deviation_otherwise(&other, &t.rule, deviation);
        assert_int_equal(quick.penalty, other.penalty);
        assert_int_equal(quick.uncapped, other.uncapped);
        assert_int_equal(quick.units, other.units);
        assert_int_equal(quick.charged, other.charged);
        assert_int_equal(quick.within_grace, other.within_grace);
        assert_int_equal(quick.capped, other.capped);
    }
    trial_close(&t);
}

BEHAVIOUR(the_dearest_steps_cannot_overflow) {
    static const char rule[] = "{'precision': 'millisecond', 'late': "
                               "[{'to': '00:00:01', 'rate': 1000000000}, {'rate': 1000000000}]}";
    check(rule, INT64_C(172799999), DECIMAL_MAX);
}

BEHAVIOUR(a_new_cost_of_a_side_takes_the_place_of_the_whole_old_one) {
    struct trial t;
    trial_open(&t, "{'late': [{'to': 60, 'rate': 2}, {'rate': 5}], 'early': {'fails': 1}}");
    struct json_reader reader = {.file = "event.json", .arena = t.arena, .problems = &t.problems};
    struct json_place place = {.key = "penalty"};
    char *json = quoted("{'late': 3, 'early': {'once': 7}}");
    json_t *root = NULL;
    assert_int_equal(json_read_text(&reader, json, strlen(json), &root), ERR_OK);
    penalty_rule_read(&reader, root, &place, &t.rule);
    penalty_rule_complete(&reader, root, &place, &t.rule);
    assert_int_equal(penalty_price(&t.rule, 90000).penalty, 270000);
    assert_int_equal(penalty_price(&t.rule, -90000).penalty, 7000);
    assert_int_equal(penalty_price(&t.rule, -90000).fails, 0);
    json_decref(root);
    free(json);
    trial_close(&t);
}

BEHAVIOUR(wrong_units_and_steps_are_told_with_their_place) {
    static const struct {
        const char *rule;
        const char *said;
    } rows[] = {
        {"{'precision': 7}", "precision: “7” does not divide a day into equal parts, as “0.6” and "
                             "“00:15:00” do\n"},
        {"{'per': '00:00'}", "per: “00:00” does not divide a day into equal parts, as “0.6” and "
                             "“00:15:00” do\n"},
        {"{'per': '0.6000'}", "per: “0.6000” has more than three decimals\n"},
        {"{'part': 'yes'}", "part: must be true or false\n"},
        {"{'early_limit': 'soon'}", "early_limit: “soon” is no duration: write HH:MM:SS or plain "
                                    "seconds, up to 47:59:59.999\n"},
        {"{'late': {'once': -1}}", "late.once: “-1” is out of range: 0 to 1000000000\n"},
        {"{'late': {'once': 1, 'fails': 1}}",
         "late.once: does not go with “fails”: a deviation costs one of them\n"},
        {"{'late': []}", "late: must hold 1 to 200 steps\n"},
        {"{'late': [5]}", "late[0]: must be an object\n"},
        {"{'late': [{'to': 60}, {'rate': 5}]}", "late[0].rate: is missing\n"},
        {"{'late': [{'rate': 2}, {'rate': 5}]}", "late[0].to: is missing\n"},
        {"{'late': [{'to': 60, 'rate': 2}]}",
         "late[0].to: must not be there: the last step is for all units behind the others\n"},
        {"{'late': [{'to': 0, 'rate': 2}, {'rate': 5}]}", "late[0].to: must be more than 0\n"},
        {"{'late': [{'to': 9, 'rate': 2}, {'to': 9, 'rate': 2}, {'rate': 5}]}",
         "late[1].to: must be more than in the step before\n"},
        {"{'late': [{'to': 90, 'rate': 2}, {'rate': 5}], 'per': 'minute'}",
         "late[0].to: 1 min 30 s is no whole number of the units of 1 min that “per” counts in\n"},
        {"{'late': [{'to': 60, 'rate': 2, 'fails': 1}, {'rate': 5}]}",
         "late[0].fails: unknown key\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct trial t;
        trial_open(&t, rows[i].rule);
        char *said = problems_text(&t.problems);
        static const char head[] = "event.json: penalty.";
        assert_memory_equal(said, head, sizeof head - 1);
        assert_string_equal(said + sizeof head - 1, rows[i].said);
        free(said);
        trial_close(&t);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_unit_may_be_any_part_of_a_day),
        cmocka_unit_test(a_unit_begun_counts_as_whole_where_the_rule_says_part),
        cmocka_unit_test(an_amount_once_is_the_same_for_every_deviation),
        cmocka_unit_test(steps_charge_the_first_units_at_one_rate_and_the_rest_at_the_next),
        cmocka_unit_test(steps_go_with_begun_units_grace_and_caps),
        cmocka_unit_test(a_plain_rule_costs_the_same_either_way),
        cmocka_unit_test(the_dearest_steps_cannot_overflow),
        cmocka_unit_test(a_new_cost_of_a_side_takes_the_place_of_the_whole_old_one),
        cmocka_unit_test(wrong_units_and_steps_are_told_with_their_place),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
