/* SPDX-License-Identifier: MIT */
/* Codes of crews: the same for the same facts, others for all else, typed as people type. */
#include <ctype.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>
#include <sodium.h>

#include "store/crew_code.h"

static const unsigned char secret[CODE_SECRET_LEN] = {1, 2, 3};

static void a_code_depends_on_secret_car_and_serial(void **state) {
    unsigned char other[CODE_SECRET_LEN] = {1, 2, 4};
    char one[CODE_TEXT_LEN + 1];
    char same[CODE_TEXT_LEN + 1];
    char codes[4][CODE_TEXT_LEN + 1];
    (void)state;
    crew_code_make(secret, 22, 0, one);
    crew_code_make(secret, 22, 0, same);
    assert_string_equal(one, same);
    crew_code_make(secret, 23, 0, codes[0]);
    crew_code_make(secret, 22, 1, codes[1]);
    crew_code_make(other, 22, 0, codes[2]);
    crew_code_make(secret, 0, 22, codes[3]);
    for (int i = 0; i < 4; i++)
        assert_string_not_equal(one, codes[i]);
}

static void it_is_written_in_three_groups_without_look_alikes(void **state) {
    char text[CODE_TEXT_LEN + 1];
    (void)state;
    for (int car = 1; car < 2000; car++) {
        crew_code_make(secret, car, 0, text);
        assert_int_equal(strlen(text), CODE_TEXT_LEN);
        assert_true(text[3] == '-' && text[7] == '-');
        assert_null(strpbrk(text, "0O1IL2Z5S8BU"));
    }
}

static int by_text(const void *a, const void *b) {
    return strcmp(a, b);
}

static void no_two_of_many_are_alike(void **state) {
    enum { COUNT = 9999 };
    char(*all)[CODE_TEXT_LEN + 1] = calloc(COUNT, sizeof *all);
    (void)state;
    assert_non_null(all);
    for (int car = 0; car < COUNT; car++)
        crew_code_make(secret, car + 1, 0, all[car]);
    qsort(all, COUNT, sizeof *all, by_text);
    for (int i = 1; i < COUNT; i++)
        assert_string_not_equal(all[i - 1], all[i]);
    free(all);
}

static void it_is_taken_however_it_is_typed(void **state) {
    char code[CODE_TEXT_LEN + 1];
    char typed[64] = " ";
    (void)state;
    crew_code_make(secret, 7, 2, code);
    assert_true(crew_code_is(secret, 7, 2, code));
    for (const char *c = code; *c != '\0'; c++) {
        char piece[3] = {(char)tolower((unsigned char)*c), ' ', '\0'};
        (void)strcat(typed, piece);
    }
    assert_true(crew_code_is(secret, 7, 2, typed));
    assert_false(crew_code_is(secret, 7, 1, code));
    assert_false(crew_code_is(secret, 8, 2, code));
    (void)strcpy(typed, code);
    typed[10] = typed[10] == 'A' ? 'C' : 'A';
    assert_false(crew_code_is(secret, 7, 2, typed));
    (void)strcat(strcpy(typed, code), "A");
    assert_false(crew_code_is(secret, 7, 2, typed));
    code[10] = '\0';
    assert_false(crew_code_is(secret, 7, 2, code));
    assert_false(crew_code_is(secret, 7, 2, ""));
}

static void a_receipt_is_of_one_case(void **state) {
    char one[RECEIPT_LEN + 1];
    char other[RECEIPT_LEN + 1];
    (void)state;
    crew_receipt_make(secret, 7, 1, one);
    assert_int_equal(strspn(one, "0123456789abcdef"), RECEIPT_LEN);
    crew_receipt_make(secret, 7, 2, other);
    assert_string_not_equal(one, other);
    crew_receipt_make(secret, 8, 1, other);
    assert_string_not_equal(one, other);
}

static int set_up(void **state) {
    (void)state;
    return sodium_init() < 0 ? -1 : 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_code_depends_on_secret_car_and_serial),
        cmocka_unit_test(it_is_written_in_three_groups_without_look_alikes),
        cmocka_unit_test(no_two_of_many_are_alike),
        cmocka_unit_test(it_is_taken_however_it_is_typed),
        cmocka_unit_test(a_receipt_is_of_one_case),
    };
    return cmocka_run_group_tests(tests, set_up, NULL);
}
