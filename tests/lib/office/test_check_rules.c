/* SPDX-License-Identifier: MIT */
#include "office/check_rules.h"

#include "base/textbuf.h"
#include "told_doubts.h"

BEHAVIOUR(rules_that_never_hold_are_doubted_where_they_stand) {
    static const char never[] =
        "never holds: nothing is early there. Leave it out, or limit a control, a check, a pad or "
        "a lap\n";
    struct textbuf expected = {0};
    textbuf_printf(&expected,
                   "event.json: scoring.defaults.passage-control.early_limit: %s"
                   "event.json: route[1].penalty.early_limit: %s"
                   "event.json: route[2].for[0].ideals: takes nothing down: every check has a "
                   "given ideal, which is used as it is\n",
                   never, never);
    check_part(
        check_rules,
        RULES(FIVA,
              "{'defaults': {'passage-control': {'early_limit': 60}, "
              "'time-control': {'early_limit': 60}}}",
              "{'day': 1, 'id': 'PC1', 'kind': 'passage-control'}, "
              "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'penalty': {'early_limit': 9}}, "
              "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'ideals': 'down', "
              "'speeds': [{'from': 0, 'speed': 40}], 'checks': [{'at': 5}], "
              "'for': [{'period': 'C', 'checks': [{'at': 5, 'ideal': '00:08:00'}]}]}"),
        textbuf_text(&expected));
    textbuf_clear(&expected);
}

BEHAVIOUR(a_part_of_a_unit_that_the_clock_does_not_show_is_doubted) {
    static const char idle[] =
        "part: changes nothing: the clock is read in the units that are charged, and has no parts "
        "of them. Read it finer, such as “precision”: “second” with “per”: “minute”\n";
    struct textbuf expected = {0};
    textbuf_printf(&expected, "event.json: route[0].penalty.%s", idle);
    check_part(check_rules,
               RULES(FIVA, "{'defaults': {'time-control': {'precision': 'minute'}}}",
                     CONTROL("TC1", ", 'penalty': {'part': true}") ", " CONTROL(
                         "TC2", ", 'penalty': {'precision': 'second', 'per': 'minute', 'part': "
                                "true}")),
               textbuf_text(&expected));
    /* Told where it stands, and not again at each item that has it from there. */
    textbuf_reset(&expected);
    textbuf_printf(&expected, "event.json: scoring.defaults.time-control.%s", idle);
    check_part(check_rules,
               RULES(FIVA, "{'defaults': {'time-control': {'precision': 'minute', 'part': true}}}",
                     CONTROL("TC1", "")),
               textbuf_text(&expected));
    textbuf_clear(&expected);
}

BEHAVIOUR(a_flat_amount_above_the_cap_is_doubted) {
    static const char held[] = "what it costs once is more than the cap, which holds it: give a "
                               "“cap” of at least as much here\n";
    struct textbuf expected = {0};
    textbuf_printf(&expected,
                   "event.json: route[0].penalty.early: %s"
                   "event.json: route[2].checks[0].penalty.late: %s",
                   held, held);
    check_part(
        check_rules,
        RULES(
            FIVA, "{'defaults': {'time-control': {'cap': 60}, 'regularity': {'cap': 60}}}",
            CONTROL("TC1", ", 'penalty': {'early': {'once': 100}}") ", " CONTROL(
                "TC2",
                ", 'penalty': {'early': {'once': 100}, 'cap': {'late': 60}}") ", "
                                                                              "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 40}], "
                                                                              "'checks': [{'at': 5, 'penalty': {'late': {'once': 61}, 'early': {'once': 60}}}]}"),
        textbuf_text(&expected));
    textbuf_clear(&expected);
}

/* The rule of a control, with what is told of it, or "". */
static void check_rule(const char *rule, const char *told) {
    struct textbuf rules = {0};
    struct textbuf expected = {0};
    textbuf_printf(&rules, RULES(FIVA, "{}", CONTROL("TC1", ", 'penalty': {%s}")), rule);
    if (*told != '\0')
        textbuf_printf(&expected, "event.json: route[0].penalty.%s\n", told);
    check_part(check_rules, textbuf_text(&rules), textbuf_text(&expected));
    textbuf_clear(&rules);
    textbuf_clear(&expected);
}

BEHAVIOUR(a_step_that_nobody_is_charged_by_is_doubted) {
#define STEPS(side) "'" side "': [{'to': 60, 'rate': 1}, {'to': 120, 'rate': 2}, {'rate': 3}]"
    static const char never[] = "late[1]: is never reached: a deviation beyond the limit of this "
                                "side is missed; raise the limit, or leave the step out";
    static const char held[] = "early[2]: changes nothing: the steps before it cost the cap "
                               "already; raise the cap, or leave the step out";
    check_rule(STEPS("late") ", 'late_limit': 60", never);
    check_rule(STEPS("late") ", 'late_limit': 61, 'early_limit': 1",
               "late[2]: is never reached: a "
               "deviation beyond the limit of this side is missed; raise the limit, or leave the "
               "step out");
    check_rule(STEPS("late") ", 'late_limit': 121", "");
    /* The grace is taken off first, so that the step begins that much later. */
    check_rule(STEPS("late") ", 'late_limit': 70, 'grace': 10, 'grace_deducted': true", never);
    check_rule(STEPS("late") ", 'late_limit': 131, 'grace': 10, 'grace_deducted': true", "");
    check_rule(STEPS("early") ", 'cap': 180", held);
    check_rule(STEPS("early") ", 'cap': 181", "");
    check_rule(STEPS("early") ", 'cap': {'late': 5}", "");
}

BEHAVIOUR(a_limit_within_the_grace_is_doubted) {
    check_rule("'late_limit': 59, 'grace': 60",
               "late_limit: lies within the grace, so that a car beyond it is missed although the "
               "grace lets it cost nothing: raise the limit, or lower the grace");
    check_rule("'late_limit': 60, 'early_limit': 60, 'grace': 60", "");
}

BEHAVIOUR(a_clock_coarser_than_what_is_charged_is_doubted) {
    check_rule("'precision': 'minute', 'per': '30'",
               "precision: is coarser than “per”: the clock is read in larger units than are "
               "charged; read it finer, or count in the units that are read");
    check_rule("'precision': 'minute', 'per': '00:15:00'", "");
    check_rule("'precision': 'minute'", "");
}

int main(void) {
    static const struct CMUnitTest tests[] = {
        cmocka_unit_test(rules_that_never_hold_are_doubted_where_they_stand),
        cmocka_unit_test(a_part_of_a_unit_that_the_clock_does_not_show_is_doubted),
        cmocka_unit_test(a_flat_amount_above_the_cap_is_doubted),
        cmocka_unit_test(a_step_that_nobody_is_charged_by_is_doubted),
        cmocka_unit_test(a_limit_within_the_grace_is_doubted),
        cmocka_unit_test(a_clock_coarser_than_what_is_charged_is_doubted),
    };
    RUN_BEHAVIOURS(tests);
}
