/* SPDX-License-Identifier: MIT */
#include "event/entries.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "base/err.h"
#include "event_text.h"
#include "testing.h"

#define HEADER "number,driver,navigator,make,model,year\n"
#define RICH                                                                                       \
    "{'scheme': 'fiva', 'capacity': [{'id': '1', 'to': 1600}, {'id': '2'}], "                      \
    "'supercharged_factor': '1.4', 'categories': [{'id': 'touring'}, {'id': 'competition'}]}"
#define TC1 "{'day': 1, 'id': 'TC1', 'kind': 'time-control', 'target': '00:45:00'}"

struct fixture {
    struct rules *rules;
    struct entries *entries;
    struct problems problems;
    int err;
};

static void read_with(struct fixture *f, const char *rules, const char *entries,
                      const char *starts) {
    *f = (struct fixture){.rules = rules_good(rules)};
    f->err = entries_read(f->rules, entries, strlen(entries), starts,
                          starts == NULL ? 0 : strlen(starts), &f->problems, &f->entries);
    assert_true((f->err == ERR_OK) == (f->entries != NULL));
}

static void read_entries(struct fixture *f, const char *entries) {
    read_with(f, RULES(FIVA, "{}", TC1), entries, NULL);
}

static void clear(struct fixture *f) {
    entries_free(f->entries);
    rules_free(f->rules);
    problems_clear(&f->problems);
}

static void check_said(const char *rules, const char *entries, const char *starts,
                       const char *expected) {
    struct fixture f;
    read_with(&f, rules, entries, starts);
    char *said = problems_text(&f.problems);
    assert_string_equal(said, expected);
    assert_int_equal(f.err, ERR_INPUT);
    free(said);
    clear(&f);
}

BEHAVIOUR(cars_stand_in_number_order) {
    struct fixture f;
    read_entries(&f,
                 HEADER "22,C,,Calder,Six,1929\n3,A,,Calder,Four,1911\n9999,D,,Calder,X,1960\n");
    assert_int_equal(f.err, ERR_OK);
    assert_int_equal(f.entries->count, 3);
    assert_int_equal(f.entries->list[0].number, 3);
    assert_int_equal(f.entries->list[1].number, 22);
    assert_int_equal(f.entries->list[2].number, 9999);
    assert_int_equal(f.entries->list[1].line, 2);
    assert_int_equal(entries_find(f.entries, 22), 1);
    assert_int_equal(entries_find(f.entries, 4), -1);
    assert_int_equal(entries_find(f.entries, 0), -1);
    assert_int_equal(entries_find(f.entries, -5), -1);
    assert_int_equal(entries_find(f.entries, 10000), -1);
    assert_int_equal(entries_find(f.entries, INT64_MAX), -1);
    clear(&f);
}

BEHAVIOUR(every_column_is_read) {
    struct fixture f;
    read_with(&f, RULES(RICH, "{}", TC1),
              "club;country;team;category;supercharged;engine_cc;year;model;make;navigator;driver;"
              "number\n"
              "Withy MC;PRT;The Late Brigade;touring;yes;1500;1934;Ten;Thornbeck;Zoë O'Dell;"
              "\"Birch; Cai\";7\n",
              NULL);
    assert_int_equal(f.err, ERR_OK);
    const struct entry *e = &f.entries->list[0];
    assert_int_equal(e->number, 7);
    assert_string_equal(e->driver, "Birch; Cai");
    assert_string_equal(e->navigator, "Zoë O'Dell");
    assert_string_equal(e->make, "Thornbeck");
    assert_string_equal(e->model, "Ten");
    assert_int_equal(e->year, 1934);
    assert_int_equal(e->engine_cc, 1500);
    assert_true(e->supercharged);
    assert_int_equal(e->category, 0);
    assert_string_equal(e->team, "The Late Brigade");
    assert_string_equal(e->country, "PRT");
    assert_string_equal(e->club, "Withy MC");
    assert_int_equal(e->period, 3);
    assert_int_equal(e->class_index, 3 * 2 + 1); /* 1500 x 1.4 is over 1600 */
    clear(&f);
}

#define GROUPED                                                                                    \
    RULES("{'scheme': 'fiva', 'groups': [{'id': 'ladies', 'name': 'Ladies'}, {'id': 'low'}]}",     \
          "{}", TC1)
#define HEADER_MORE "number,driver,navigator,make,model,year,groups,coefficient,born\n"

BEHAVIOUR(groups_coefficient_and_birth_are_read) {
    struct fixture f;
    read_with(&f, GROUPED,
              HEADER_MORE "1,A,,M,X,1925,low;ladies,1.35,1961-04-30\n"
                          "2,B,,M,X,1925,low,99.999,1970\n"
                          "3,C,,M,X,1925,,0.001,1885-01-01\n"
                          "4,D,,M,X,1925,,,\n"
                          "5,E,,M,X,1925,ladies;,1,2100-12-31\n",
              NULL);
    assert_int_equal(f.err, ERR_OK);
    static const struct {
        unsigned groups;
        int coefficient;
        int64_t born;
    } expected[] = {
        {3, 1350, -3168}, {2, 99999, 0}, {0, 1, -31045}, {0, 1000, BORN_UNKNOWN}, {1, 1000, 47846}};
    for (size_t i = 0; i < COUNT_OF(expected); i++) {
        const struct entry *e = &f.entries->list[i];
        assert_int_equal(e->groups, expected[i].groups);
        assert_int_equal(e->coefficient, expected[i].coefficient);
        assert_int_equal(e->born, expected[i].born);
    }
    clear(&f);
}

BEHAVIOUR(wrong_groups_coefficients_and_births_are_told_with_their_line) {
    check_said(GROUPED,
               HEADER_MORE "1,A,,M,X,1925,low;novices,,\n"
                           "2,B,,M,X,1925,low;ladies;low,,\n"
                           "3,C,,M,X,1925,ladies; low,,\n"
                           "4,D,,M,X,1925,,\"1,35\",\n"
                           "5,E,,M,X,1925,,0,\n"
                           "6,F,,M,X,1925,,100,\n"
                           "7,G,,M,X,1925,,,30.4.1961\n"
                           "8,H,,M,X,1925,,,1961-02-29\n"
                           "9,I,,M,X,1925,,,61\n"
                           "10,J,,M,X,1925,,,2101-01-01\n",
               NULL,
               "entries.csv:2: group “novices” is not one of this event: name it in classes.groups "
               "of event.json, and part groups by “;” alone\n"
               "entries.csv:3: group “low” stands twice\n"
               "entries.csv:4: group “ low” is not one of this event: name it in classes.groups "
               "of event.json, and part groups by “;” alone\n"
               "entries.csv:5: coefficient “1,35” must be from 0.001 to 99.999, such as 1.35\n"
               "entries.csv:6: coefficient “0” must be from 0.001 to 99.999, such as 1.35\n"
               "entries.csv:7: coefficient “100” must be from 0.001 to 99.999, such as 1.35\n"
               "entries.csv:8: born “30.4.1961” must be a year from 1885 to 2100, or a date such "
               "as 1961-04-30\n"
               "entries.csv:9: born “1961-02-29” must be a year from 1885 to 2100, or a date such "
               "as 1961-04-30\n"
               "entries.csv:10: born “61” must be a year from 1885 to 2100, or a date such as "
               "1961-04-30\n"
               "entries.csv:11: born “2101-01-01” must be a year from 1885 to 2100, or a date such "
               "as 1961-04-30\n");
}

BEHAVIOUR(what_is_not_given_is_empty_or_unknown) {
    struct fixture f;
    read_entries(&f, THREE_CARS);
    const struct entry *e = &f.entries->list[1];
    assert_string_equal(e->navigator, "");
    assert_string_equal(e->team, "");
    assert_int_equal(e->engine_cc, -1);
    assert_false(e->supercharged);
    assert_int_equal(e->category, -1);
    assert_int_equal(e->team_index, -1);
    assert_int_equal(e->groups, 0);
    assert_int_equal(e->coefficient, 1000);
    assert_int_equal(e->born, BORN_UNKNOWN);
    assert_int_equal(f.entries->team_count, 0);
    clear(&f);
}

BEHAVIOUR(teams_are_sorted_by_their_names) {
    struct fixture f;
    read_entries(&f, "number,driver,navigator,make,model,year,team\n1,A,,M,X,1925,Withy\n"
                     "2,B,,M,X,1925,Alder\n3,C,,M,X,1925,Withy\n4,D,,M,X,1925,\n");
    assert_int_equal(f.entries->team_count, 2);
    assert_string_equal(f.entries->teams[0], "Alder");
    assert_string_equal(f.entries->teams[1], "Withy");
    assert_int_equal(f.entries->list[0].team_index, 1);
    assert_int_equal(f.entries->list[1].team_index, 0);
    assert_int_equal(f.entries->list[2].team_index, 1);
    assert_int_equal(f.entries->list[3].team_index, -1);
    clear(&f);
}

BEHAVIOUR(an_unknown_column_is_a_warning_and_kept) {
    struct fixture f;
    read_entries(&f, "number,driver,navigator,make,model,year,shoe size\n1,A,,M,X,1925,44\n");
    assert_int_equal(f.err, ERR_OK);
    assert_int_equal(f.problems.by_level[PROBLEM_WARNING], 1);
    assert_string_equal(f.entries->list[0].extras->name, "shoe size");
    assert_string_equal(f.entries->list[0].extras->value, "44");
    clear(&f);
}

BEHAVIOUR(what_may_be_mischief_is_a_warning_and_kept) {
    struct fixture f;
    read_entries(&f, HEADER "1,=1+1,@B,C-D,\xE2\x80\xAEX,1925\n2,A,,M,-,1925\n3,A=B,,M,X,1925\n");
    char *said = problems_text(&f.problems);
    assert_int_equal(f.err, ERR_OK);
    assert_string_equal(
        said, "entries.csv:2: driver “=1+1” begins like a formula of a spreadsheet\n"
              "entries.csv:2: navigator “@B” begins like a formula of a spreadsheet\n"
              "entries.csv:2: model holds a mark that turns the direction of the text behind it\n");
    assert_string_equal(f.entries->list[0].driver, "=1+1");
    free(said);
    clear(&f);
}

BEHAVIOUR(years_and_numbers_have_bounds) {
    static const struct {
        const char *row;
        bool good;
    } rows[] = {
        {"1,A,,M,X,1885\n", true},   {"9999,A,,M,X,2100\n", true}, {"1,A,,M,X,1884\n", false},
        {"1,A,,M,X,2101\n", false},  {"0,A,,M,X,1925\n", false},   {"10000,A,,M,X,1925\n", false},
        {"-1,A,,M,X,1925\n", false}, {"1.5,A,,M,X,1925\n", false}, {",A,,M,X,1925\n", false},
        {"1,A,,M,X,\n", false},      {"1,A,,M,X,25\n", false},     {"01,A,,M,X,1925\n", true},
        {"1,,,M,X,1925\n", false},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char text[256];
        struct fixture f;
        (void)snprintf(text, sizeof text, HEADER "%s", rows[i].row);
        read_entries(&f, text);
        if ((f.err == ERR_OK) != rows[i].good)
            fail_msg("%s gave %d", rows[i].row, f.err);
        clear(&f);
    }
}

BEHAVIOUR(a_wrong_row_is_told_with_its_line_and_the_rest_is_read_on) {
    check_said(RULES(RICH, "{}", TC1),
               "number,driver,navigator,make,model,year,engine_cc,supercharged,category\n"
               "1,A,,M,X,1925,1500,no,touring\n"
               "1,B,,M,X,1925,1500,no,touring\n"
               "x,C,,M,X,1925,1500,no,touring\n"
               "4,D,,M,X,1800,1500,no,touring\n"
               "5,E,,M,X,1925,1.5,no,touring\n"
               "6,F,,M,X,1925,1500,maybe,touring\n"
               "7,G,,M,X,1925,1500,no,racing\n"
               "8,,,M,X,1925,1500,no,touring\n"
               "9,I\n",
               NULL,
               "entries.csv:3: number 1 stands twice, first in line 2\n"
               "entries.csv:4: number “x” must be a whole number from 1 to 9999\n"
               "entries.csv:5: year “1800” must be from 1885 to 2100\n"
               "entries.csv:6: engine_cc “1.5” must be whole cubic centimetres\n"
               "entries.csv:7: supercharged “maybe” must be yes or no\n"
               "entries.csv:8: category “racing” is not one of this event\n"
               "entries.csv:9: the driver's name is empty\n"
               "entries.csv:10: fewer fields than the header has\n");
}

BEHAVIOUR(a_car_outside_every_period_is_refused) {
    check_said(
        RULES(
            "{'scheme': 'custom', 'periods': [{'id': 'a', 'to': 1930}, {'id': 'b', 'from': 1940}]}",
            "{}", TC1),
        HEADER "1,A,,M,X,1930\n2,B,,M,X,1935\n3,C,,M,X,1940\n", NULL,
        "entries.csv:3: car 2 of 1935 fits no period of this event\n");
}

BEHAVIOUR(a_list_without_cars_is_an_error) {
    struct fixture f;
    read_entries(&f, HEADER);
    assert_int_equal(f.err, ERR_INPUT);
    assert_int_equal(f.problems.by_level[PROBLEM_ERROR], 1);
    clear(&f);
}

BEHAVIOUR(starts_are_kept_by_day_and_car) {
    struct fixture f;
    read_with(&f, RULES_OF_TWO_DAYS(FIVA, "{}", TC1), THREE_CARS,
              "car,time,day\n5,09:30:30,2\n1,25:00,1\n");
    assert_int_equal(f.err, ERR_OK);
    assert_int_equal(f.entries->starts[1 * 3 + 2], 34230000);
    assert_int_equal(f.entries->starts[0 * 3 + 0], 90000000);
    assert_true(f.entries->starts[0 * 3 + 1] == TIME_NONE);
    assert_true(f.entries->starts[1 * 3 + 0] == TIME_NONE);
    clear(&f);
}

BEHAVIOUR(wrong_starts_are_told_with_their_line) {
    check_said(RULES_OF_TWO_DAYS(FIVA, "{}", TC1), THREE_CARS,
               "day,car,time\n1,1,08:00\n3,1,08:00\n0,1,08:00\n1,4,08:00\n1,x,08:00\n1,2,8:00\n"
               "1,1,09:00\n1,2\n1,2,48:00\n",
               "starts.csv:3: day “3” is no day of this event\n"
               "starts.csv:4: day “0” is no day of this event\n"
               "starts.csv:5: car “4” is not in the entry list\n"
               "starts.csv:6: car “x” is not in the entry list\n"
               "starts.csv:7: time “8:00” is no time of day: write HH:MM:SS; write 08:00\n"
               "starts.csv:8: car 1 stands twice on day 1\n"
               "starts.csv:9: fewer fields than the header has\n"
               "starts.csv:10: time “48:00” is no time of day: write HH:MM:SS\n");
}

BEHAVIOUR(a_start_with_four_decimals_is_refused) {
    check_said(RULES(FIVA, "{}", TC1), THREE_CARS, "day,car,time\n1,1,08:00:00.1234\n",
               "starts.csv:2: time “08:00:00.1234” has more than three decimals\n");
}

BEHAVIOUR(freeing_nothing_is_nothing) {
    entries_free(NULL);
    struct fixture f;
    read_entries(&f, "");
    assert_int_equal(f.err, ERR_INPUT);
    assert_null(f.entries);
    clear(&f);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(cars_stand_in_number_order),
        cmocka_unit_test(every_column_is_read),
        cmocka_unit_test(groups_coefficient_and_birth_are_read),
        cmocka_unit_test(wrong_groups_coefficients_and_births_are_told_with_their_line),
        cmocka_unit_test(what_is_not_given_is_empty_or_unknown),
        cmocka_unit_test(teams_are_sorted_by_their_names),
        cmocka_unit_test(an_unknown_column_is_a_warning_and_kept),
        cmocka_unit_test(what_may_be_mischief_is_a_warning_and_kept),
        cmocka_unit_test(years_and_numbers_have_bounds),
        cmocka_unit_test(a_wrong_row_is_told_with_its_line_and_the_rest_is_read_on),
        cmocka_unit_test(a_car_outside_every_period_is_refused),
        cmocka_unit_test(a_list_without_cars_is_an_error),
        cmocka_unit_test(starts_are_kept_by_day_and_car),
        cmocka_unit_test(wrong_starts_are_told_with_their_line),
        cmocka_unit_test(a_start_with_four_decimals_is_refused),
        cmocka_unit_test(freeing_nothing_is_nothing),
    };
    RUN_BEHAVIOURS(tests);
}
