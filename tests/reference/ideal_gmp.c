/* SPDX-License-Identifier: MIT */
/* Sums of fractions and ideal times against GMP's rationals, on random numbers from a fixed seed.
 */
#include <gmp.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "base/decimal.h"
#include "base/err.h"
#include "base/textbuf.h"
#include "dice.h"
#include "event_text.h"
#include "scoring/kinds/checks_and_pads.h"
#include "testing.h"

enum { SUMS = 10000, TABLES = 10000, TABLES_AN_EVENT = 1000, TERMS_MAX = 12 };

/* floor(sum + 1/2): half up, as a text, since it may pass any C type. */
static char *gmp_rounded(mpq_t sum) {
    mpz_t floor;
    mpq_t half;
    mpz_init(floor);
    mpq_init(half);
    mpq_set_ui(half, 1, 2);
    mpq_add(half, half, sum);
    mpz_fdiv_q(floor, mpq_numref(half), mpq_denref(half));
    char *text = mpz_get_str(NULL, 10, floor);
    mpz_clear(floor);
    mpq_clear(half);
    return text;
}

static void gmp_add(mpq_t sum, int64_t num, int64_t den) {
    mpq_t term;
    mpq_init(term);
    mpz_set_si(mpq_numref(term), (long)num);
    mpz_set_si(mpq_denref(term), (long)den);
    mpq_canonicalize(term);
    mpq_add(sum, sum, term);
    mpq_clear(term);
}

static void check_sum(const struct fraction *terms, size_t count) {
    mpq_t sum;
    int64_t ours = -1;
    struct textbuf text = {0};
    mpq_init(sum);
    for (size_t i = 0; i < count; i++)
        gmp_add(sum, terms[i].num, terms[i].den);
    char *expected = gmp_rounded(sum);
    assert_int_equal(decimal_round_sum(terms, count, &ours), ERR_OK);
    textbuf_int(&text, ours);
    if (strcmp(textbuf_text(&text), expected) != 0) {
        for (size_t i = 0; i < count; i++)
            print_message("%lld/%lld ", (long long)terms[i].num, (long long)terms[i].den);
        fail_msg("gave %s, not %s", textbuf_text(&text), expected);
    }
    textbuf_clear(&text);
    free(expected);
    mpq_clear(sum);
}

/* A number of about `bits` bits, at least 1. */
static int64_t number_of(struct dice *dice, int bits) {
    return (int64_t)(dice_roll(dice) >> (64 - bits)) | 1;
}

BEHAVIOUR(random_sums_are_those_of_gmp) {
    struct dice dice = {20270520};
    for (int n = 0; n < SUMS; n++) {
        struct fraction terms[TERMS_MAX];
        size_t count = dice_below(&dice, TERMS_MAX + 1);
        int bits = (int)dice_between(&dice, 1, 58);
        for (size_t i = 0; i < count; i++)
            terms[i] = (struct fraction){number_of(&dice, bits) - 1,
                                         number_of(&dice, (int)dice_between(&dice, 1, 62))};
        check_sum(terms, count);
    }
}

/* Sums that come to an exact half, to a hair below and to a hair above it: p/d and its complement
 * are each split again, and one term is moved by one in the numerator. */
BEHAVIOUR(exact_halves_and_their_neighbours_are_those_of_gmp) {
    struct dice dice = {1908};
    for (int n = 0; n < SUMS; n++) {
        int64_t den = number_of(&dice, (int)dice_between(&dice, 2, 40)) + 1;
        int64_t whole = dice_between(&dice, 0, 1000);
        int64_t first = dice_between(&dice, 0, den);
        int64_t second = dice_between(&dice, 0, den);
        /* first/den + second/den + rest/(2 den) = whole + 1/2 */
        int64_t rest = 2 * den * whole + den + 4 * den - 2 * first - 2 * second;
        for (int64_t nudge = -1; nudge <= 1; nudge++) {
            struct fraction terms[] = {
                {first, den}, {rest + nudge, 2 * den}, {second * 3, den * 3}, {0, 1}};
            check_sum(terms, COUNT_OF(terms));
        }
    }
}

/* A regularity as it was rolled. */
struct speed_table {
    int64_t precision;
    int speeds;
    int64_t from[8];
    int64_t speed[8];
    int checks;
    int64_t at[4];
};

static void roll(struct dice *dice, struct speed_table *t) {
    int64_t distance = 0;
    static const int64_t units[] = {UNIT_MINUTE, UNIT_SECOND, UNIT_TENTH, UNIT_HUNDREDTH,
                                    UNIT_MILLISECOND};
    t->precision = units[dice_below(dice, COUNT_OF(units))];
    t->speeds = (int)dice_between(dice, 1, 8);
    for (int i = 0; i < t->speeds; i++) {
        t->from[i] = distance;
        /* now and then a speed at which whole metres take whole or half units */
        t->speed[i] = dice_below(dice, 4) == 0 ? 36000 : dice_between(dice, 1, 90000);
        distance += dice_between(dice, 1, 5000);
    }
    distance = 0;
    t->checks = (int)dice_between(dice, 1, 4);
    for (int i = 0; i < t->checks; i++) {
        distance += dice_between(dice, 1, 9000);
        t->at[i] = distance;
    }
}

static void write_table(struct textbuf *b, const struct speed_table *t, int number) {
    textbuf_printf(b,
                   "%s{\"day\":1,\"id\":\"R%d\",\"kind\":\"regularity\",\"penalty\":"
                   "{\"precision\":\"%s\"},\"speeds\":[",
                   number > 0 ? "," : "", number, unit_name(t->precision));
    for (int i = 0; i < t->speeds; i++) {
        textbuf_puts(b, i > 0 ? ",{\"from\":" : "{\"from\":");
        decimal_write(b, t->from[i]);
        textbuf_puts(b, ",\"speed\":");
        decimal_write_short(b, t->speed[i]);
        textbuf_putc(b, '}');
    }
    textbuf_puts(b, "],\"checks\":[");
    for (int i = 0; i < t->checks; i++) {
        textbuf_puts(b, i > 0 ? ",{\"at\":" : "{\"at\":");
        decimal_write(b, t->at[i]);
        textbuf_putc(b, '}');
    }
    textbuf_puts(b, "]}");
}

/* The ideal of one check, by rationals of hours made whole units. */
static char *gmp_ideal(const struct speed_table *t, int64_t at) {
    mpq_t sum;
    mpq_init(sum);
    for (int i = 0; i < t->speeds; i++) {
        int64_t end = i + 1 < t->speeds ? t->from[i + 1] : at;
        if (t->from[i] >= at)
            break;
        gmp_add(sum, (end < at ? end : at) - t->from[i], t->speed[i]);
    }
    mpq_t scale;
    mpq_init(scale);
    mpq_set_ui(scale, 3600000, (unsigned long)t->precision);
    mpq_canonicalize(scale);
    mpq_mul(sum, sum, scale);
    char *text = gmp_rounded(sum);
    mpq_clear(scale);
    mpq_clear(sum);
    return text;
}

BEHAVIOUR(ideal_times_of_random_speed_tables_are_those_of_gmp) {
    static struct speed_table tables[TABLES_AN_EVENT];
    struct dice dice = {172};
    int halves = 0;
    for (int done = 0; done < TABLES; done += TABLES_AN_EVENT) {
        struct textbuf text = {0};
        struct problems problems = {0};
        struct rules *rules = NULL;
        textbuf_puts(&text, "{\"name\":\"x\",\"slug\":\"x\",\"timezone\":\"UTC\",\"unit\":\"km\","
                            "\"days\":[{\"date\":\"2027-05-20\",\"first_start\":\"08:00\","
                            "\"interval\":60}],\"classes\":{\"scheme\":\"fiva\"},\"route\":[");
        for (int i = 0; i < TABLES_AN_EVENT; i++) {
            roll(&dice, &tables[i]);
            write_table(&text, &tables[i], i);
        }
        textbuf_puts(&text, "]}");
        assert_int_equal(rules_read(text.bytes, text.len, &problems, &rules), ERR_OK);
        for (int i = 0; i < TABLES_AN_EVENT; i++) {
            for (int c = 0; c < tables[i].checks; c++) {
                struct textbuf ours = {0};
                int64_t unit = tables[i].precision;
                int64_t ideal = checks_and_pads_of(&rules->items[i])->ideals[c + 1];
                assert_int_equal(ideal % unit, 0);
                textbuf_int(&ours, ideal / unit);
                char *expected = gmp_ideal(&tables[i], tables[i].at[c]);
                if (strcmp(textbuf_text(&ours), expected) != 0)
                    fail_msg("table %d, check %d gave %s, not %s", done + i, c + 1,
                             textbuf_text(&ours), expected);
                /* at 36 km/h a metre takes a tenth: 5 tenths past the second are a half */
                halves += tables[i].speeds == 1 && tables[i].speed[0] == 36000 &&
                          tables[i].precision == UNIT_SECOND && tables[i].at[c] % 10 == 5;
                free(expected);
                textbuf_clear(&ours);
            }
        }
        rules_free(rules);
        problems_clear(&problems);
        textbuf_clear(&text);
    }
    /* the halves that decide between half up and other roundings did come up */
    assert_true(halves > 5);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(random_sums_are_those_of_gmp),
        cmocka_unit_test(exact_halves_and_their_neighbours_are_those_of_gmp),
        cmocka_unit_test(ideal_times_of_random_speed_tables_are_those_of_gmp),
    };
    RUN_BEHAVIOURS(tests);
}
