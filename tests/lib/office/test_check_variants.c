/* SPDX-License-Identifier: MIT */
#include "office/check_variants.h"

#include "office/check.h"
#include "told_doubts.h"

#define LINES(control, test)                                                                       \
    RULES("{'scheme': 'fiva', 'groups': [{'id': 'low'}]}", "{}",                                   \
          CONTROL("TC1", "") ", " CONTROL(                                                         \
              "TC2",                                                                               \
              control) ", {'day': 1, 'id': 'R1', 'kind': 'regularity', 'start': 'control', "       \
                       "'speeds': [{'from': 0, 'speed': 50}], 'checks': [{'at': 5}]" test "}")

BEHAVIOUR(lines_for_some_cars_that_do_nothing_are_doubted) {
    check_route(
        LINES(", 'for': [{'group': 'low', 'halt': 60}, {'period': 'C', 'halt': 120}, "
              "{'class': 'C', 'halt': 180}]",
              ""),
        "event.json: route[1].for[0]: group low: no car of the entry list is one of these, so the line changes nothing\n"
        "event.json: route[1].for[2]: class C: a line before it fits all these cars, and the first that fits holds; put the narrower line first\n"
        "event.json: classes.groups[0]: no car is in group “low”: entries name it in the column groups\n");
}

BEHAVIOUR(a_test_that_starts_from_a_control_off_the_route_is_doubted) {
    struct event_text texts = {
        .rules = LINES(", 'for': [{'group': 'low', 'off': true}]",
                       ", 'for': [{'group': 'low', 'speeds': [{'from': 0, 'speed': 60}]}]"),
        .entries = "number,driver,navigator,make,model,year,groups\n1,A,,M,X,1925,\n"
                   "2,B,,M,X,1926,low\n3,C,,M,X,1927,low\n",
        .readings = "point,car,time\nTC1,2,08:46\nTC2,2,09:00\nR1/1,2,09:06\nTC1,3,08:48\n"
                    "TC2,3,09:30\n"};
    check(
        &texts,
        "event.json: route[2].for[0].speeds[0].speed: average of 60 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n"
        "event.json: route[2].start: the test starts from TC2, which is not on the route of car 2: its start would follow from the control before that; give the test a start reading, or those cars a control here\n"
        "readings.csv: car 2 at TC2: the point is not on its route; the reading does not count\n"
        "readings.csv: car 3 at TC2: the point is not on its route; the reading does not count\n");
}

BEHAVIOUR(a_car_without_anything_on_its_route_is_doubted) {
    struct event_text texts = {
        .rules = RULES(FIVA, "{}", CONTROL("TC1", ", 'for': [{'period': 'D', 'off': true}]")),
        .entries = "number,driver,navigator,make,model,year\n1,A,,M,X,1925\n2,B,,M,X,1926\n"
                   "3,C,,M,X,1935\n4,D,,M,X,1935\n"};
    check(&texts, "entries.csv:4: car 3 has nothing on its route: every item is off for it\n"
                  "entries.csv:5: car 4 has nothing on its route: every item is off for it\n");
}

/* The line's own values are told where they stand; those of the item are not told again. */
BEHAVIOUR(what_a_line_of_for_leaves_as_it_is_is_doubted_once) {
#define SECTION(id, more)                                                                          \
    "{'day': 1, 'id': '" id "', 'kind': 'regularity', 'speeds': [{'from': 0, 'speed': 51}], "      \
    "'faults': {'board': 'missed'}, "                                                              \
    "'checks': [{'at': 5, 'penalty': {'late': {'once': 9}, 'cap': 5}}], "                          \
    "'for': [{'period': 'C', " more "}]}"
    check_route(
        RULES(FIVA, "{}",
              SECTION("R1", "'penalty': {'grace': 1}") ", " SECTION(
                  "R2", "'speeds': [{'from': 0, 'speed': 52}]")),
        "event.json: route[0].faults.board: makes its point missed, which costs nothing here: say “missed” in the penalty\n"
        "event.json: route[0].speeds[0].speed: average of 51 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n"
        "event.json: route[1].faults.board: makes its point missed, which costs nothing here: say “missed” in the penalty\n"
        "event.json: route[1].speeds[0].speed: average of 51 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n"
        "event.json: route[1].for[0].speeds[0].speed: average of 52 km/h is above the published limit of 50 km/h (FIVA); local law and permits decide, and speed limits come first\n"
        "event.json: route[0].checks[0].penalty.late: what it costs once is more than the cap, which holds it: give a “cap” of at least as much here\n"
        "event.json: route[1].checks[0].penalty.late: what it costs once is more than the cap, which holds it: give a “cap” of at least as much here\n");
#undef SECTION
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(lines_for_some_cars_that_do_nothing_are_doubted),
        cmocka_unit_test(a_test_that_starts_from_a_control_off_the_route_is_doubted),
        cmocka_unit_test(a_car_without_anything_on_its_route_is_doubted),
        cmocka_unit_test(what_a_line_of_for_leaves_as_it_is_is_doubted_once),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
