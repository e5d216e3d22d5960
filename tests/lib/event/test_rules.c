/* SPDX-License-Identifier: MIT */
#include "event/rules.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "scoring/kinds/checks_and_pads.h"
#include "scoring/kinds/consistency.h"
#include "scoring/kinds/special_test.h"
#include "testing.h"

/* What is said of a wrong event.json. */
static char *said_of(const char *text) {
    struct problems problems = {0};
    struct rules *rules = NULL;
    char *json = quoted(text);
    assert_int_equal(rules_read(json, strlen(json), &problems, &rules), ERR_INPUT);
    assert_null(rules);
    char *said = problems_text(&problems);
    free(json);
    problems_clear(&problems);
    return said;
}

static void check_said(const char *text, const char *expected) {
    char *said = said_of(text);
    assert_string_equal(said, expected);
    free(said);
}

#define TC1 "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}"

/* event.json of the contract's example, but for the line under test. */
#define EVERY_KIND                                                                                 \
    TC1 ", "                                                                                       \
        "{'day': 1, 'id': 'PC1', 'kind': 'passage-control', 'name': 'Gannet Bridge'}, "            \
        "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'name': 'Hollin Moor', 'measured': "         \
        "'start', "                                                                                \
        "'speeds': [{'from': 0, 'speed': 48}, {'from': 3.2, 'speed': 42.5}], "                     \
        "'checks': [{'at': 5.37}, {'at': 9.02}]}, "                                                \
        "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': ['11.70', '9.00']}, "               \
        "{'day': 1, 'id': 'S1', 'kind': 'special-test', 'bogey': '00:01:10', 'maximum': "          \
        "'00:03:00', "                                                                             \
        "'faults': {'cone': 5, 'line': 10, 'wrong-route': 'maximum'}}, "                           \
        "{'day': 1, 'id': 'L1', 'kind': 'consistency', 'laps': 4}, "                               \
        "{'day': 1, 'id': 'L2', 'kind': 'consistency', 'laps': 2, 'reference': 'mean'}, "          \
        "{'day': 1, 'id': 'L3', 'kind': 'consistency', 'laps': 2, 'reference': 'nominated'}"

BEHAVIOUR(each_kind_lays_out_its_points_in_route_order) {
    static const char *const points[] = {
        "TC1",      "TC1/out",  "PC1",       "R1/start",     "R1/1",     "R1/2", "T1/start", "T1/1",
        "T1/2",     "S1/start", "S1/finish", "L1/start",     "L1/1",     "L1/2", "L1/3",     "L1/4",
        "L2/start", "L2/1",     "L2/2",      "L3/nominated", "L3/start", "L3/1", "L3/2"};
    struct rules *rules = rules_good(RULES(FIVA, "{}", EVERY_KIND));
    assert_int_equal(rules->point_count, COUNT_OF(points));
    for (size_t i = 0; i < COUNT_OF(points); i++) {
        assert_string_equal(rules->points[i].id, points[i]);
        assert_int_equal(strmap_get(&rules->point_by_id, points[i]), i);
    }
    assert_int_equal(strmap_get(&rules->point_by_id, "S1"), -1);
    assert_true(strmap_get(&rules->item_by_id, "S1") >= 0);
    rules_free(rules);
}

BEHAVIOUR(scored_points_leave_out_starts_departures_nominations_and_reference_laps) {
    static const char *const scored[] = {"TC1",  "PC1",  "R1/1", "R1/2", "T1/1", "T1/2", "S1",
                                         "L1/2", "L1/3", "L1/4", "L2/1", "L2/2", "L3/1", "L3/2"};
    struct rules *rules = rules_good(RULES(FIVA, "{}", EVERY_KIND));
    assert_int_equal(rules->scored_count, COUNT_OF(scored));
    for (size_t i = 0; i < COUNT_OF(scored); i++)
        assert_string_equal(rules->scored[i].id, scored[i]);
    assert_int_equal(rules->test_count, 6);
    rules_free(rules);
}

BEHAVIOUR(defaults_hold_where_nothing_is_said) {
    struct rules *rules = rules_good(RULES(FIVA, "{}", EVERY_KIND));
    const struct scoring *s = &rules->scoring;
    assert_false(s->scheduled);
    assert_true(s->max_lateness == TIME_NONE);
    assert_false(s->has_coefficient);
    assert_int_equal(s->drop_count, 0);
    assert_int_equal(s->team_count, 0);
    assert_int_equal(s->tie_count, 0);
    assert_true(s->absent_day_cap == CAP_NONE);
    assert_int_equal(s->share_num, 0);
    assert_false(s->last_point);
    assert_false(rules->items[0].reveal_closed); /* time control */
    assert_false(rules->items[1].reveal_closed); /* passage control */
    assert_true(rules->items[2].reveal_closed);  /* regularity */
    assert_false(rules->items[3].reveal_closed); /* set-time */
    assert_false(checks_and_pads_of(&rules->items[2])->from_previous);
    assert_true(checks_and_pads_of(&rules->items[3])->from_previous);
    assert_int_equal(special_test_of(&rules->items[4])->method, METHOD_ELAPSED);
    assert_false(special_test_of(&rules->items[4])->scope == SCOPE_CLASS);
    assert_int_equal(consistency_of(&rules->items[5])->reference, REFERENCE_FIRST);
    assert_true(rules->items[5].test_cap == CAP_NONE);
    assert_string_equal(rules->items[0].name, "TC1");
    assert_string_equal(rules->items[1].name, "Gannet Bridge");
    assert_false(rules->days[0].sequence);
    assert_int_equal(rules->days[0].first_start, 28860000);
    assert_int_equal(rules->days[0].interval, 60000);
    rules_free(rules);
}

BEHAVIOUR(scoring_is_read_as_written) {
    struct rules *rules = rules_good(RULES(
        FIVA,
        "{'timing': 'scheduled', 'max_lateness': '00:30:00', 'coefficient': {'by': 'class', "
        "'apply': 'test', 'kinds': ['regularity'], 'round': 'whole', 'table': {'D': '1.05'}, "
        "'standings': 'overall'}, 'drop_worst': {'count': 2, 'kinds': ['set-time', "
        "'special-test'], 'when': 'always'}, 'teams': {'count': 3}, "
        "'absent_day_cap': '2000', 'day_cap': 500, 'ties': ['most-clean', 'furthest-clean', 'older-car', "
        "'smaller-engine', 'first-difference', 'count-back', 'older-driver', "
        "'younger-driver', 'test:S1', 'time:S1'], 'finisher': {'share': '2/3', 'of': 'all', "
        "'last_point': true}, 'defaults': {'special-test': {'late': 3}}}",
        EVERY_KIND));
    const struct scoring *s = &rules->scoring;
    assert_true(s->scheduled);
    assert_int_equal(s->max_lateness, 1800000);
    assert_true(s->has_coefficient && s->coefficient_by == COEFFICIENT_BY_CLASS);
    assert_true(s->coefficient_per_test);
    assert_true(s->coefficient_whole && s->coefficient_overall_only);
    assert_int_equal(s->coefficient_kinds, 1u << KIND_REGULARITY);
    assert_int_equal(s->coefficient_table[rules_period_of(rules, 1934)], 1050);
    assert_int_equal(s->coefficient_table[rules_period_of(rules, 1925)], 1000);
    assert_int_equal(s->drop_count, 2);
    assert_int_equal(s->drop_kinds, 1u << KIND_SET_TIME | 1u << KIND_SPECIAL_TEST);
    assert_true(s->drop_always);
    assert_int_equal(s->team_count, 3);
    assert_int_equal(s->absent_day_cap, 2000000);
    assert_int_equal(s->day_cap, 500000);
    assert_int_equal(s->tie_count, TIE_TIME + 1);
    for (int i = 0; i < s->tie_count; i++)
        assert_int_equal(s->ties[i].kind, i);
    assert_string_equal(rules->items[s->ties[TIE_TEST].item].id, "S1");
    assert_string_equal(rules->items[s->ties[TIE_TIME].item].id, "S1");
    assert_int_equal(s->share_of, FINISHER_OF_ALL);
    assert_true(s->counts_back);
    assert_int_equal(s->share_num * 3, s->share_den * 2);
    assert_true(s->last_point);
    assert_int_equal(rules->items[4].rule.rate[SIDE_LATE], 3000);
    assert_int_equal(rules->items[3].rule.rate[SIDE_LATE], 1000);
    rules_free(rules);
}

BEHAVIOUR(an_item_replaces_the_default_key_by_key_and_per_follows_its_own_precision) {
    struct rules *rules = rules_good(
        RULES(FIVA,
              "{'defaults': {'time-control': {'precision': 'minute', 'early': 60, 'late': 10, "
              "'missed': 900}}}",
              TC1 ", {'day': 1, 'id': 'TC2', 'kind': 'time-control', 'target': '00:10', "
                  "'penalty': {'precision': 'second', 'late': 2}}"));
    assert_int_equal(rules->items[0].rule.per, UNIT_MINUTE);
    assert_int_equal(rules->items[1].rule.precision, UNIT_SECOND);
    assert_int_equal(rules->items[1].rule.per, UNIT_SECOND);
    assert_int_equal(rules->items[1].rule.rate[SIDE_EARLY], 60000);
    assert_int_equal(rules->items[1].rule.rate[SIDE_LATE], 2000);
    assert_int_equal(rules->items[1].rule.missed, 900000);
    rules_free(rules);
}

static int64_t ideal_of(const char *route, int check) {
    char text[2048];
    (void)snprintf(text, sizeof text, RULES(FIVA, "{}", "%s"), route);
    struct rules *rules = rules_good(text);
    int64_t ideal = checks_and_pads_of(&rules->items[0])->ideals[check];
    rules_free(rules);
    return ideal;
}

BEHAVIOUR(ideals_are_the_exact_sum_rounded_once_half_up) {
    static const char contract[] =
        "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 48}, "
        "{'from': 3.2, 'speed': 42.5}], 'checks': [{'at': 5.37}, {'at': 9.02}]}";
    /* 3.2 / 48 h = 240 s; 2.17 / 42.5 h = 183.81... s; 5.82 / 42.5 h = 492.98... s */
    assert_int_equal(ideal_of(contract, 1), 424000);
    assert_int_equal(ideal_of(contract, 2), 733000);
    /* 0.025 km at 36 km/h are 2.5 s exactly: up */
    assert_int_equal(ideal_of("{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
                              "'speed': 36}], 'checks': [{'at': 0.025}]}",
                              1),
                     3000);
    /* stretches of 2.4, 2.4 and 2.7 s: 7.5 s rounded once, not 2 + 2 + 3 */
    assert_int_equal(
        ideal_of("{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
                 "'speed': 36}, {'from': 0.024, 'speed': 36}, {'from': 0.048, 'speed': 36}], "
                 "'checks': [{'at': 0.075}]}",
                 1),
        8000);
    assert_int_equal(
        ideal_of("{'day': 1, 'id': 'R1', 'kind': 'regularity', "
                 "'penalty': {'precision': 'hundredth'}, 'speeds': [{'from': 0, 'speed': 48}, "
                 "{'from': 3.2, 'speed': 42.5}], 'checks': [{'at': 5.37}]}",
                 1),
        423810);
}

BEHAVIOUR(a_check_at_a_change_of_speed_belongs_to_the_stretch_before) {
    assert_int_equal(ideal_of("{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
                              "'speed': 36}, {'from': 1, 'speed': 10}], 'checks': [{'at': 1}]}",
                              1),
                     100000);
}

BEHAVIOUR(a_given_ideal_is_used_as_given) {
    static const char route[] =
        "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'checks': [{'ideal': '83.457'}, "
        "{'at': 2.5, 'ideal': '00:03:00'}]}";
    assert_int_equal(ideal_of(route, 1), 83457);
    assert_int_equal(ideal_of(route, 2), 180000);
}

BEHAVIOUR(targets_of_pads_add_up_where_they_are_measured_from_the_pad_before) {
    static const char previous[] =
        "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'targets': ['11.70', '9.00']}";
    static const char start[] =
        "{'day': 1, 'id': 'T1', 'kind': 'set-time', 'measured': 'start', 'targets': "
        "['11.70', '20.70']}";
    assert_int_equal(ideal_of(previous, 2), 20700);
    assert_int_equal(ideal_of(start, 2), 20700);
}

BEHAVIOUR(an_unknown_key_anywhere_is_an_error_naming_its_place) {
    check_said("{'name': 'X', 'slug': 'x', 'timezone': 'UTC', 'unit': 'km', 'colour': 1, 'days': "
               "[{'date': '2027-05-20', 'first_start': '08:01', 'interval': '1', 'rain': 1}], "
               "'classes': " FIVA ", 'route': [" TC1 "]}",
               "event.json: colour: unknown key\n"
               "event.json: days[0].rain: unknown key\n");
    check_said(RULES(FIVA,
                     "{'timings': 1, 'finisher': {'last': true}, 'teams': {'count': 3, 'n': 1}, "
                     "'defaults': {'time-control': {'cap': {'mid': 1}}, 'rally': {}}}",
                     TC1),
               "event.json: scoring.timings: unknown key\n"
               "event.json: scoring.teams.n: unknown key\n"
               "event.json: scoring.finisher.last: unknown key\n"
               "event.json: scoring.defaults.time-control.cap.mid: unknown key\n"
               "event.json: scoring.defaults.rally: unknown key\n");
    check_said(RULES(FIVA, "{}",
                     TC1 ", {'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
                         "'speed': 48}, {'from': 3, 'sped': 2, 'speed': 40}], 'checks': [{'at': 5, "
                         "'on': 1}], 'bogey': 1}"),
               "event.json: route[1].bogey: unknown key\n"
               "event.json: route[1].speeds[1].sped: unknown key\n"
               "event.json: route[1].checks[0].on: unknown key\n");
}

BEHAVIOUR(a_kind_takes_no_key_of_another) {
    check_said(RULES(FIVA, "{}",
                     "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '1', "
                     "'reveal': 'closed'}, {'day': 1, 'id': 'PC1', 'kind': 'passage-control', "
                     "'test_cap': 1}"),
               "event.json: route[0].reveal: unknown key\n"
               "event.json: route[1].test_cap: unknown key\n");
}

BEHAVIOUR(a_speed_with_four_decimals_is_refused) {
    check_said(RULES(FIVA, "{}",
                     "{'day': 1, 'id': 'R1', 'kind': 'regularity', 'speeds': [{'from': 0, "
                     "'speed': 48}, {'from': 3.2001, 'speed': 42.5}], 'checks': [{'at': 5.37}]}"),
               "event.json: route[0].speeds[1].from: “3.2001” has more than three decimals\n");
}

BEHAVIOUR(a_wrong_route_is_told_item_by_item) {
    static const struct {
        const char *route;
        const char *said;
    } rows[] = {
        {"{'day': 1, 'id': 'TC1', 'kind': 'time-control'}",
         "event.json: route[0].target: is missing\n"},
        {"{'day': 2, 'id': 'TC1', 'kind': 'time-control', 'target': 1}",
         "event.json: route[0].day: must be a whole number from 1 to 1\n"},
        {"{'day': 1, 'id': 'TC/1', 'kind': 'time-control', 'target': 1}",
         "event.json: route[0].id: “TC/1” must be 1 to 32 of A-Z a-z 0-9 -\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'time-control', 'target': 1}, {'day': 1, 'id': 'A', "
         "'kind': 'passage-control'}",
         "event.json: route[1].id: “A” stands twice on the route\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'hill-climb'}",
         "event.json: route[0].kind: “hill-climb” is no kind of item\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'consistency', 'laps': 1}",
         "event.json: route[0].laps: must be a whole number from 2 to 200\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'consistency', 'laps': 3, 'faults': {'cone': 'maximum'}}",
         "event.json: route[0].faults.cone: only a fault of a special test can be “maximum”; write a "
         "penalty, {\"fails\": 1} or “missed”\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'time-control', 'target': 1, 'faults': {'board': {'fails': 0}, "
         "'stamp': {'fail': 1}, 'stop': 'lost', 'speed': -1}}",
         "event.json: route[0].faults.board.fails: must be a whole number from 1 to 1000\n"
         "event.json: route[0].faults.stamp.fail: unknown key\n"
         "event.json: route[0].faults.stamp.fails: is missing\n"
         "event.json: route[0].faults.stop: must be a penalty, {\"fails\": 1} or “missed”\n"
         "event.json: route[0].faults.speed: “-1” is out of range: 0 to 1000000000\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'special-test', 'faults': {'cone': 'maximum'}}",
         "event.json: route[0].faults.cone: “maximum” needs the test's “maximum” to be set\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'special-test', 'bogey': 70, 'maximum': 60}",
         "event.json: route[0].maximum: is below the bogey\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'special-test', 'method': 'over-bogey'}",
         "event.json: route[0].bogey: is missing: the method counts what is over it\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'regularity', 'speeds': [{'from': 1, 'speed': 40}], "
         "'checks': [{'at': 2}]}",
         "event.json: route[0].speeds[0].from: the first speed must be from 0\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 40}], "
         "'checks': [{'at': 2}, {'at': 2}]}",
         "event.json: route[0].checks[1].at: must be further than the check before\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'regularity', 'checks': [{'at': 2}]}",
         "event.json: route[0].checks[0].ideal: is missing: the test has no “speeds”\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 40}], "
         "'checks': [{'at': 2}], 'start_after': 60}",
         "event.json: route[0].start_after: goes with “start”: “control” only\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'set-time', 'measured': 'start', 'targets': [9, 8]}",
         "event.json: route[0].targets[1]: is measured from the start: it must grow\n"},
        {"{'day': 1, 'id': 'A', 'kind': 'set-time', 'targets': []}",
         "event.json: route[0].targets: must hold 1 to 200 targets\n"},
        {"5", "event.json: route[0]: must be an object\n"},
        {"", "event.json: route: must hold 1 to 2000 items\n"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char text[2048];
        (void)snprintf(text, sizeof text, RULES(FIVA, "{}", "%s"), rows[i].route);
        check_said(text, rows[i].said);
    }
}

BEHAVIOUR(days_stand_in_order) {
    check_said(RULES_OF_TWO_DAYS(
                   FIVA, "{}",
                   "{'day': 2, 'id': 'TC2', 'kind': 'time-control', 'target': 1}, {'day': 1, "
                   "'id': 'TC1', 'kind': 'time-control', 'target': 1}"),
               "event.json: route[1].day: the route must be in the order of the days\n");
}

BEHAVIOUR(a_tie_must_name_a_test_of_the_route) {
    check_said(RULES(FIVA, "{'ties': ['older-car', 'test:R9']}", TC1),
               "event.json: scoring.ties[1]: “R9” is no test of the route\n");
    check_said(RULES(FIVA, "{'ties': ['test:TC1']}", TC1),
               "event.json: scoring.ties[0]: “TC1” is no test of the route\n");
}

BEHAVIOUR(everything_that_is_wrong_is_told_at_once) {
    check_said("{'name': '', 'slug': 'A B', 'timezone': 'UTC', 'unit': 'yards', 'days': [], "
               "'classes': {'scheme': 'fiva'}}",
               "event.json: name: must not be empty\n"
               "event.json: slug: “A B” must be 1 to 64 of a-z 0-9 -\n"
               "event.json: unit: must be one of “km”, “mi”\n"
               "event.json: days: must hold 1 to 31 days\n"
               "event.json: route: is missing\n");
    check_said("[]", "event.json: (the whole file): must be an object\n");
}

BEHAVIOUR(a_point_of_two_items_cannot_have_one_id) {
    /* ids hold no slash, so ID/out and ID/1 belong to their items alone */
    struct rules *rules =
        rules_good(RULES(FIVA, "{}", TC1 ", {'day': 1, 'id': 'out', 'kind': 'passage-control'}"));
    assert_int_equal(strmap_get(&rules->point_by_id, "TC1/out"), 1);
    assert_int_equal(strmap_get(&rules->point_by_id, "out"), 2);
    rules_free(rules);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(each_kind_lays_out_its_points_in_route_order),
        cmocka_unit_test(scored_points_leave_out_starts_departures_nominations_and_reference_laps),
        cmocka_unit_test(defaults_hold_where_nothing_is_said),
        cmocka_unit_test(scoring_is_read_as_written),
        cmocka_unit_test(an_item_replaces_the_default_key_by_key_and_per_follows_its_own_precision),
        cmocka_unit_test(ideals_are_the_exact_sum_rounded_once_half_up),
        cmocka_unit_test(a_check_at_a_change_of_speed_belongs_to_the_stretch_before),
        cmocka_unit_test(a_given_ideal_is_used_as_given),
        cmocka_unit_test(targets_of_pads_add_up_where_they_are_measured_from_the_pad_before),
        cmocka_unit_test(an_unknown_key_anywhere_is_an_error_naming_its_place),
        cmocka_unit_test(a_kind_takes_no_key_of_another),
        cmocka_unit_test(a_speed_with_four_decimals_is_refused),
        cmocka_unit_test(a_wrong_route_is_told_item_by_item),
        cmocka_unit_test(days_stand_in_order),
        cmocka_unit_test(a_tie_must_name_a_test_of_the_route),
        cmocka_unit_test(everything_that_is_wrong_is_told_at_once),
        cmocka_unit_test(a_point_of_two_items_cannot_have_one_id),
    };
    RUN_BEHAVIOURS(tests);
}
