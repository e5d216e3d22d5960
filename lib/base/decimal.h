/* SPDX-License-Identifier: MIT */
/* decimal.h - decimal numbers as whole thousandths.
 * Penalties, coefficients, distances and speeds are kept as int64_t thousandths; nothing here
 * rounds unless its name says so. Source of the rules: the contract, section 1. */
#ifndef CAIRN_DECIMAL_H
#define CAIRN_DECIMAL_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct textbuf;

/* Largest magnitude that is read, in thousandths: a thousand million whole units. */
#define DECIMAL_MAX INT64_C(1000000000000)

/* Largest magnitude of a sum, in thousandths: two thousand times DECIMAL_MAX with a coefficient of
 * a thousand. A larger sum is cut to it, so that four such sums can still be added up. */
#define DECIMAL_SUM_MAX INT64_C(2000000000000000000)

/* Reads "12", "12.5" or "-0.125" (no blanks, no plus, no exponent) into thousandths.
 *   text   NUL-terminated
 *   out    thousandths, -DECIMAL_MAX .. DECIMAL_MAX; untouched on error
 * Returns: ERR_OK; ERR_SYNTAX; ERR_PRECISION for more than three decimals; ERR_RANGE. */
int decimal_parse(const char *text, int64_t *out);

/* Reads what stands behind the point, one to three digits: "5" is 500 thousandths.
 * Returns: ERR_OK; ERR_SYNTAX; ERR_PRECISION for more. `out` is untouched on error. */
int decimal_parse_places(const char *text, int64_t *out);

/* Reads a whole number without sign, `low` .. `high`.
 * Returns: ERR_OK; ERR_SYNTAX; ERR_RANGE. `out` is untouched on error. */
int decimal_parse_whole(const char *text, int64_t low, int64_t high, int64_t *out);

/* Appends thousandths with exactly three decimals: 12000 is "12.000". */
void decimal_write(struct textbuf *b, int64_t thousandths);

/* Appends thousandths with no more decimals than needed: 12500 is "12.5", 12000 is "12". */
void decimal_write_short(struct textbuf *b, int64_t thousandths);

/* The sum of two values, each -DECIMAL_SUM_MAX .. DECIMAL_SUM_MAX, cut to the same range. */
static inline int64_t decimal_add(int64_t a, int64_t b) {
    int64_t sum = a + b;
    if (sum > DECIMAL_SUM_MAX)
        return DECIMAL_SUM_MAX;
    return sum < -DECIMAL_SUM_MAX ? -DECIMAL_SUM_MAX : sum;
}

/* A sum times a coefficient, both thousandths, rounded half up (-0.5 to 0).
 *   sum     -DECIMAL_SUM_MAX .. DECIMAL_SUM_MAX
 *   factor  0 .. DECIMAL_MAX
 *   whole   false: to the thousandth; true: to a whole unit
 * Returns: the product in thousandths, cut to the range of sums. */
int64_t decimal_times(int64_t sum, int64_t factor, bool whole);

/* A sum divided by a count, to the thousandth, rounded half up (-0.5 to 0).
 *   sum    thousandths, -DECIMAL_SUM_MAX .. DECIMAL_SUM_MAX
 *   count  1 or more */
int64_t decimal_mean(int64_t sum, int count);

/* A term of a sum of fractions, num / den. num 0 .. 2^62, den 1 .. 2^62. */
struct fraction {
    int64_t num;
    int64_t den;
};

/* The exact sum of `count` fractions, rounded once to a whole number, half up.
 * The work is exact for any denominators: no term is rounded before the sum.
 *   terms   borrowed
 *   out     the rounded sum
 * Returns: ERR_OK; ERR_NOMEM; ERR_RANGE where the sum passes 2^62. */
int decimal_round_sum(const struct fraction *terms, size_t count, int64_t *out);

/* The same, but taken down to the whole number below. */
int decimal_cut_sum(const struct fraction *terms, size_t count, int64_t *out);

#endif
