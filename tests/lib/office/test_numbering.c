/* SPDX-License-Identifier: MIT */
#include "office/numbering.h"

#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "testing.h"

/* Numbers by one wish and compares the list, or what is wrong. */
static void check(const char *list, const char *key, const char *value, const char *expected) {
    static struct numbering_wishes wishes;
    struct problems problems = {0};
    struct numbering numbering = {0};
    struct textbuf why = {0};
    wishes = (struct numbering_wishes){0};
    assert_int_equal(numbering_set(&wishes, key, value, &why), ERR_OK);
    int err = numbering_make(list, strlen(list), &wishes, &problems, &numbering);
    if (err == ERR_OK) {
        assert_string_equal(textbuf_text(&numbering.text), expected);
    } else {
        assert_int_equal(err, ERR_INPUT);
        assert_true(problems.count > 0);
        textbuf_printf(&why, "%s: %s", problems.list[0].place, problems.list[0].text);
        assert_string_equal(textbuf_text(&why), expected);
    }
    textbuf_clear(&why);
    numbering_clear(&numbering);
    problems_clear(&problems);
}

#define HEAD "number,driver,year,engine_cc\n"

static const char four[] = HEAD "7,A,1930,1500\n8,B,1912,4000\n9,C,1930,1100\n10,D,1930,\n";

BEHAVIOUR(by_year_then_the_smaller_engine_unknown_last) {
    check(four, "keep", "", HEAD "3,A,1930,1500\n1,B,1912,4000\n2,C,1930,1100\n4,D,1930,\n");
}

BEHAVIOUR(equals_in_the_order_of_entry) {
    check(HEAD "2,A,1930,1500\n1,B,1930,1500\n,C,1930,1500\n", "keep", "",
          HEAD "1,A,1930,1500\n2,B,1930,1500\n3,C,1930,1500\n");
}

BEHAVIOUR(by_hand_and_the_others_go_round) {
    check(four, "keep", "8 10", HEAD "2,A,1930,1500\n8,B,1912,4000\n1,C,1930,1100\n10,D,1930,\n");
    check(four, "give", "10=1,7=3",
          HEAD "3,A,1930,1500\n2,B,1912,4000\n4,C,1930,1100\n1,D,1930,\n");
    check(four, "skip", "1, 3", HEAD "5,A,1930,1500\n2,B,1912,4000\n4,C,1930,1100\n6,D,1930,\n");
    check(four, "first", "101",
          HEAD "103,A,1930,1500\n101,B,1912,4000\n102,C,1930,1100\n104,D,1930,\n");
}

BEHAVIOUR(all_else_stays_as_it_was) {
    check("club;year;number\n\"a;b, \"\"c\"\"\";1930;5\n d ;1929;6\n", "keep", "",
          "club,year,number\n\"a;b, \"\"c\"\"\",1930,2\n\" d \",1929,1\n");
}

BEHAVIOUR(what_cannot_be_numbered) {
    check(HEAD "7,A,soon,1500\n", "keep", "",
          "entries.csv:2: year “soon” must be from 1885 to 2100");
    check(HEAD "7,A,1930,big\n", "keep", "",
          "entries.csv:2: engine_cc “big” must be whole cubic centimetres");
    check(HEAD "x,A,1930,1500\n", "keep", "",
          "entries.csv:2: number “x” must be a whole number from 1 to 9999, or empty");
    check(HEAD "7,A\n", "keep", "", "entries.csv:2: has another number of fields than the header");
    check("driver,year\nA,1930\n", "keep", "", "entries.csv:1: there is no column “number”");
    check(four, "keep", "6", "entries.csv: there is no car 6");
    check(four, "give", "7=2,8=2", "entries.csv: two cars are given number 2");
    check(four, "first", "9997", "entries.csv: there are not enough numbers up to 9999");
}

static void refused(const char *key, const char *value, const char *expected) {
    static struct numbering_wishes wishes;
    struct textbuf why = {0};
    wishes = (struct numbering_wishes){0};
    assert_int_equal(numbering_set(&wishes, key, value, &why), ERR_INPUT);
    assert_string_equal(textbuf_text(&why), expected);
    textbuf_clear(&why);
}

BEHAVIOUR(wishes_that_cannot_be_read) {
    refused("keep", "1,two", "“two” is no number from 1 to 9999");
    refused("keep", "22=1", "“22=1” is no number from 1 to 9999");
    refused("skip", "0", "“0” is no number from 1 to 9999");
    refused("give", "22", "give “22”: write a car's number now and its new one, as 22=1");
    refused("give", "22=1,22=2", "car 22 is given two numbers");
    refused("first", "10000", "the first number “10000” must be from 1 to 9999");
    refused("colour", "red", "“colour” is not known");
}

BEHAVIOUR(a_number_given_and_left_out) {
    static struct numbering_wishes wishes;
    struct problems problems = {0};
    struct numbering numbering = {0};
    struct textbuf why = {0};
    assert_int_equal(numbering_set(&wishes, "give", "7=13", &why), ERR_OK);
    assert_int_equal(numbering_set(&wishes, "skip", "13", &why), ERR_OK);
    assert_int_equal(numbering_make(four, strlen(four), &wishes, &problems, &numbering), ERR_INPUT);
    assert_string_equal(problems.list[0].text, "number 13 is given, and is to be left out");
    textbuf_clear(&why);
    numbering_clear(&numbering);
    problems_clear(&problems);
}

BEHAVIOUR(told_as_a_table) {
    static struct numbering_wishes wishes;
    struct problems problems = {0};
    struct numbering numbering = {0};
    struct textbuf b = {0};
    wishes = (struct numbering_wishes){0};
    wishes.given[10] = 2;
    assert_int_equal(numbering_make(four, strlen(four), &wishes, &problems, &numbering), ERR_OK);
    numbering_write_text(&b, &numbering);
    assert_string_equal(textbuf_text(&b), "number   was  year      cc  driver\n"
                                          "     1     8  1912    4000  B\n"
                                          "     2    10  1930       -  D (by hand)\n"
                                          "     3     9  1930    1100  C\n"
                                          "     4     7  1930    1500  A\n");
    textbuf_clear(&b);
    numbering_clear(&numbering);
    problems_clear(&problems);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(by_year_then_the_smaller_engine_unknown_last),
        cmocka_unit_test(equals_in_the_order_of_entry),
        cmocka_unit_test(by_hand_and_the_others_go_round),
        cmocka_unit_test(all_else_stays_as_it_was),
        cmocka_unit_test(what_cannot_be_numbered),
        cmocka_unit_test(wishes_that_cannot_be_read),
        cmocka_unit_test(a_number_given_and_left_out),
        cmocka_unit_test(told_as_a_table),
    };
    RUN_BEHAVIOURS(tests);
}
