/* SPDX-License-Identifier: MIT */
/* Ideal times against GMP's rationals: 10,000 random tables of speeds, and ties made on purpose.
 * Reference: the GNU Multiple Precision Arithmetic Library. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <gmp.h>

#include "decimal.h"
#include "dice.h"
#include "err.h"

enum { TABLES = 10000, SPEEDS_MAX = 12, MS_PER_HOUR = 3600000 };

/* The sum rounded half up: floor(sum + 1/2), as GMP has it. */
static int64_t rounded_by_gmp(const struct fraction *terms, size_t count) {
    mpq_t sum;
    mpq_t term;
    mpz_t whole;
    mpq_init(sum);
    mpq_init(term);
    mpz_init(whole);
    mpq_set_ui(sum, 1, 2);
    for (size_t i = 0; i < count; i++) {
        mpz_set_ui(mpq_numref(term), (unsigned long)terms[i].num);
        mpz_set_ui(mpq_denref(term), (unsigned long)terms[i].den);
        mpq_canonicalize(term);
        mpq_add(sum, sum, term);
    }
    mpz_fdiv_q(whole, mpq_numref(sum), mpq_denref(sum));
    int64_t result = (int64_t)mpz_get_si(whole);
    mpq_clear(sum);
    mpq_clear(term);
    mpz_clear(whole);
    return result;
}

static void check(const struct fraction *terms, size_t count) {
    int64_t ours = -1;
    assert_int_equal(decimal_round_sum(terms, count, &ours), ERR_OK);
    assert_int_equal(ours, rounded_by_gmp(terms, count));
}

static void random_speed_tables_round_as_rationals_do(void **state) {
    static const int64_t units[] = {60000, 1000, 100, 10, 1};
    struct dice dice = {2027};
    (void)state;
    for (int t = 0; t < TABLES; t++) {
        struct fraction terms[SPEEDS_MAX];
        size_t count = 1 + dice_below(&dice, SPEEDS_MAX);
        int64_t unit = units[dice_below(&dice, 5)];
        for (size_t i = 0; i < count; i++)
            terms[i] = (struct fraction){dice_between(&dice, 1, 40000) * MS_PER_HOUR,
                                         dice_between(&dice, 10000, 60000) * unit};
        check(terms, count);
    }
}

/* Two or three terms that make exactly one half, and the same a hair below and above. */
static void exact_halves_round_up_and_a_hair_below_down(void **state) {
    struct dice dice = {5};
    (void)state;
    for (int t = 0; t < TABLES; t++) {
        int64_t den = dice_between(&dice, 2, INT64_C(1) << 40) * 2;
        int64_t part = dice_between(&dice, 1, den / 2);
        struct fraction terms[3] = {{part, den}, {den / 2 - part, den}, {7, 1}};
        check(terms, 3);
        int64_t ours = 0;
        assert_int_equal(decimal_round_sum(terms, 3, &ours), ERR_OK);
        assert_int_equal(ours, 8);
        terms[2] = (struct fraction){7 * den - 1, den};
        check(terms, 3);
        assert_int_equal(decimal_round_sum(terms, 3, &ours), ERR_OK);
        assert_int_equal(ours, 7);
    }
}

/* Denominators without a common factor: the product is far beyond 64 bits. */
static void many_coprime_denominators_stay_exact(void **state) {
    static const int64_t primes[] = {49999, 49993, 49991, 49957, 49943, 49939,
                                     49937, 49927, 49921, 49919, 49891, 49877};
    struct dice dice = {77};
    (void)state;
    for (int t = 0; t < TABLES / 10; t++) {
        struct fraction terms[12];
        for (size_t i = 0; i < 12; i++)
            terms[i] = (struct fraction){dice_between(&dice, 1, INT64_C(1) << 50), primes[i]};
        check(terms, 12);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_speed_tables_round_as_rationals_do),
        cmocka_unit_test(exact_halves_round_up_and_a_hair_below_down),
        cmocka_unit_test(many_coprime_denominators_stay_exact),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
