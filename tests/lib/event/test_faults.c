/* SPDX-License-Identifier: MIT */
#include "event/faults.h"

#include <stdlib.h>

#include "base/decimal.h"
#include "base/textbuf.h"
#include "testing.h"

static struct fault_rule rules[] = {
    {"cone", FAULT_PENALTY, 0, 5000},  {"board", FAULT_FAILS, 2, 0},
    {"wrong-way", FAULT_MISSED, 0, 0}, {"no-stop", FAULT_MAXIMUM, 0, 0},
    {"theirs", FAULT_NOT_NAMED, 0, 0}, {"ruin", FAULT_PENALTY, 0, DECIMAL_MAX}};
static const struct item item = {.id = "R1", .faults = rules, .fault_count = COUNT_OF(rules)};

/* What a text of faults comes to. */
static struct fault_sum sum_of(const char *text) {
    struct fault_count told[COUNT_OF(rules)];
    struct textbuf reason = {0};
    struct fault_sum sum = FAULT_SUM_NONE;
    int count;
    if (!faults_parse(&item, text, told, &count, &reason))
        fail_msg("%s: %s", text, textbuf_text(&reason));
    faults_add(&sum, &item, told, count);
    return sum;
}

BEHAVIOUR(no_fault_comes_to_nothing) {
    static const char *const none[] = {"", "cone=0", "cone=0;wrong-way=0;no-stop=0"};
    for (size_t i = 0; i < COUNT_OF(none); i++) {
        struct fault_sum sum = sum_of(none[i]);
        assert_false(sum.any);
        assert_int_equal(sum.penalty, 0);
        assert_int_equal(sum.fails, 0);
        assert_int_equal(sum.missed, -1);
        assert_int_equal(sum.maximum, -1);
    }
}

BEHAVIOUR(each_worth_adds_to_its_own_member) {
    struct fault_sum sum = sum_of("cone=3;board=2");
    assert_true(sum.any);
    assert_int_equal(sum.penalty, 15000);
    assert_int_equal(sum.fails, 4);
    assert_int_equal(sum.missed, -1);
    sum = sum_of("no-stop=1;wrong-way=2");
    assert_true(sum.any);
    assert_int_equal(sum.missed, 2);
    assert_int_equal(sum.maximum, 3);
    assert_int_equal(sum.penalty, 0);
}

BEHAVIOUR(what_one_fault_costs_is_held_to_the_largest_penalty) {
    assert_int_equal(sum_of("ruin=999").penalty, DECIMAL_MAX);
    assert_int_equal(sum_of("ruin=1;cone=1").penalty, DECIMAL_MAX + 5000);
}

BEHAVIOUR(a_fault_of_other_cars_alone_cannot_be_told) {
    struct fault_count told[COUNT_OF(rules)];
    struct textbuf reason = {0};
    int count;
    assert_false(faults_parse(&item, "theirs=1", told, &count, &reason));
    assert_string_equal(textbuf_text(&reason),
                        "R1 names no fault “theirs” for this car; it names cone, board, "
                        "wrong-way, no-stop, ruin");
    textbuf_clear(&reason);
    struct fault_sum sum = FAULT_SUM_NONE;
    faults_add(&sum, &item, &(struct fault_count){4, 1}, 1);
    assert_false(sum.any);
}

BEHAVIOUR(malformed_faults_are_refused_with_a_reason) {
    static const struct {
        const char *text;
        const char *reason;
    } rows[] = {
        {"cone", "faults “cone” must be written like cone=2;line=1"},
        {"=2", "faults “=2” must be written like cone=2;line=1"},
        {"cone=-1", "faults “cone=-1” must be written like cone=2;line=1"},
        {"cone=1000", "faults “cone=1000”: at most 999 of one fault"},
        {"cone=1;cone=1", "faults “cone=1;cone=1” name one fault twice"},
        {"cone=1;", "faults “cone=1;” end in a semicolon"},
        {"con=1", "R1 names no fault “con”; it names cone, board, wrong-way, no-stop, ruin"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct fault_count told[COUNT_OF(rules)];
        struct textbuf reason = {0};
        int count;
        assert_false(faults_parse(&item, rows[i].text, told, &count, &reason));
        assert_string_equal(textbuf_text(&reason), rows[i].reason);
        textbuf_clear(&reason);
    }
}

BEHAVIOUR(without_an_item_only_the_form_is_looked_at) {
    struct textbuf reason = {0};
    int count;
    assert_true(faults_parse(NULL, "anything=4", NULL, &count, &reason));
    assert_false(faults_parse(NULL, "anything", NULL, &count, &reason));
    textbuf_clear(&reason);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(no_fault_comes_to_nothing),
        cmocka_unit_test(each_worth_adds_to_its_own_member),
        cmocka_unit_test(what_one_fault_costs_is_held_to_the_largest_penalty),
        cmocka_unit_test(a_fault_of_other_cars_alone_cannot_be_told),
        cmocka_unit_test(malformed_faults_are_refused_with_a_reason),
        cmocka_unit_test(without_an_item_only_the_form_is_looked_at),
    };
    RUN_BEHAVIOURS(tests);
}
