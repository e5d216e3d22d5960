/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "event/car_search.h"

static const struct entry entry = {.number = 117,
                                   .driver = "Théophile Łukasik",
                                   .navigator = "Åsa Ødegård",
                                   .make = "Calder",
                                   .model = "Six 40",
                                   .team = "伊藤 Rooks"};

static void digits_are_the_whole_number(void **state) {
    (void)state;
    assert_true(car_search_fits(&entry, "117"));
    assert_true(car_search_fits(&entry, " 0117 "));
    assert_false(car_search_fits(&entry, "11"));
    assert_false(car_search_fits(&entry, "40"));
    assert_true(car_search_fits(&entry, "six 40"));
    assert_false(car_search_fits(&entry, "99999999999999999999"));
}

static void every_word_must_stand_somewhere(void **state) {
    (void)state;
    assert_true(car_search_fits(&entry, "calder THEO"));
    assert_false(car_search_fits(&entry, "calder theodor"));
    assert_true(car_search_fits(&entry, ""));
    assert_true(car_search_fits(&entry, "   "));
}

static void accents_and_case_make_no_difference(void **state) {
    (void)state;
    assert_true(car_search_fits(&entry, "theophile lukasik"));
    assert_true(car_search_fits(&entry, "ÅSA ØDEGÅRD"));
    assert_true(car_search_fits(&entry, "asa odegard"));
    assert_true(car_search_fits(&entry, "伊藤"));
    assert_false(car_search_fits(&entry, "伊東"));
}

static void broken_text_is_only_text(void **state) {
    static const struct entry broken = {
        .number = 1, .driver = "\xc3", .navigator = "", .make = "", .model = "\xc5", .team = ""};
    (void)state;
    assert_false(car_search_fits(&broken, "a"));
    assert_true(car_search_fits(&broken, "\xc3"));
}

static void words_may_stand_in_several_texts_and_lines(void **state) {
    static const char *const texts[] = {"Åsa Ødegård\nCalder", "penalty", "two\nthree"};
    (void)state;
    assert_true(car_search_in_texts(texts, 3, "PENALTY asa"));
    assert_true(car_search_in_texts(texts, 3, "three calder"));
    assert_true(car_search_in_texts(texts, 3, ""));
    assert_false(car_search_in_texts(texts, 3, "penalty four"));
    assert_false(car_search_in_texts(texts, 3, "four penalty"));
    assert_false(car_search_in_texts(texts, 1, "penalty"));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(digits_are_the_whole_number),
        cmocka_unit_test(every_word_must_stand_somewhere),
        cmocka_unit_test(accents_and_case_make_no_difference),
        cmocka_unit_test(broken_text_is_only_text),
        cmocka_unit_test(words_may_stand_in_several_texts_and_lines),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
