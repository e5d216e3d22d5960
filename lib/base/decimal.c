/* SPDX-License-Identifier: MIT */
#include "base/decimal.h"

#include <stdlib.h>

#include "base/err.h"
#include "base/textbuf.h"

__extension__ typedef unsigned __int128 wide;

static bool digit(char c) {
    return c >= '0' && c <= '9';
}

int decimal_parse_places(const char *text, int64_t *out) {
    int64_t value = 0;
    int64_t place = 100;
    const char *p = text;
    if (!digit(*p))
        return ERR_SYNTAX;
    for (; digit(*p); p++) {
        if (place == 0)
            return ERR_PRECISION;
        value += (*p - '0') * place;
        place /= 10;
    }
    if (*p != '\0')
        return ERR_SYNTAX;
    *out = value;
    return ERR_OK;
}

int decimal_parse(const char *text, int64_t *out) {
    const char *p = text;
    bool minus = *p == '-';
    if (minus)
        p++;
    if (!digit(*p))
        return ERR_SYNTAX;
    int64_t value = 0;
    bool over = false;
    for (; digit(*p); p++) {
        value = value * 10 + (*p - '0');
        if (value > DECIMAL_MAX / 1000) {
            value = DECIMAL_MAX / 1000;
            over = true;
        }
    }
    value *= 1000;
    if (*p == '.') {
        int64_t part = 0;
        int err = decimal_parse_places(p + 1, &part);
        if (err != ERR_OK)
            return err;
        value += part;
    } else if (*p != '\0') {
        return ERR_SYNTAX;
    }
    if (over || value > DECIMAL_MAX)
        return ERR_RANGE;
    *out = minus ? -value : value;
    return ERR_OK;
}

int decimal_parse_whole(const char *text, int64_t low, int64_t high, int64_t *out) {
    if (*text == '\0')
        return ERR_SYNTAX;
    int64_t value = 0;
    bool over = false;
    for (const char *p = text; *p != '\0'; p++) {
        if (!digit(*p))
            return ERR_SYNTAX;
        value = value * 10 + (*p - '0');
        if (value > DECIMAL_MAX) {
            value = DECIMAL_MAX;
            over = true;
        }
    }
    if (over || value < low || value > high)
        return ERR_RANGE;
    *out = value;
    return ERR_OK;
}

/* Appends thousandths with three decimals, or, where `shortened`, with no more than needed. */
static void write_thousandths(struct textbuf *b, int64_t thousandths, bool shortened) {
    uint64_t size = thousandths < 0 ? 0 - (uint64_t)thousandths : (uint64_t)thousandths;
    if (thousandths < 0)
        textbuf_putc(b, '-');
    textbuf_int(b, (int64_t)(size / 1000));
    uint64_t rest = size % 1000;
    char tail[4] = {'.', (char)('0' + rest / 100), (char)('0' + rest / 10 % 10),
                    (char)('0' + rest % 10)};
    size_t len = sizeof tail;
    if (shortened)
        len = rest == 0 ? 0 : rest % 100 == 0 ? 2 : rest % 10 == 0 ? 3 : 4;
    textbuf_add(b, tail, len);
}

void decimal_write(struct textbuf *b, int64_t thousandths) {
    write_thousandths(b, thousandths, false);
}

void decimal_write_short(struct textbuf *b, int64_t thousandths) {
    write_thousandths(b, thousandths, true);
}

/* A size times a factor. Half of a unit of the result rounds up, which of a negative number is to
 * the smaller size. */
static int64_t times(uint64_t size, uint64_t factor, bool whole, bool minus) {
    uint64_t half = whole ? 500000 : 500;
    half -= minus ? 1 : 0;
    /* Nearly all products are small, and need no division of 128 bits. */
    uint64_t small;
    if (!__builtin_mul_overflow(size, factor, &small) && small < INT64_MAX)
        return (int64_t)(whole ? (small + half) / 1000000 * 1000 : (small + half) / 1000);
    /* At most 2 x 10^30: the product itself always fits. */
    wide millionths = (wide)size * factor;
    wide product = whole ? (millionths + half) / 1000000 * 1000 : (millionths + half) / 1000;
    return product > DECIMAL_SUM_MAX ? DECIMAL_SUM_MAX : (int64_t)product;
}

int64_t decimal_times(int64_t sum, int64_t factor, bool whole) {
    return sum < 0 ? -times((uint64_t)-sum, (uint64_t)factor, whole, true)
                   : times((uint64_t)sum, (uint64_t)factor, whole, false);
}

int64_t decimal_mean(int64_t sum, int count) {
    int64_t whole = sum / count;
    int64_t rest = sum % count;
    if (rest < 0) {
        whole--;
        rest += count;
    }
    return whole + (2 * rest >= count);
}

static int bits(uint64_t value) {
    return value == 0 ? 0 : 64 - __builtin_clzll(value);
}

static uint64_t common_divisor(uint64_t a, uint64_t b) {
    while (b != 0) {
        uint64_t rest = a % b;
        a = b;
        b = rest;
    }
    return a;
}

/* Adds rest / den to the binary fraction in `limbs` (the most significant first), cut off after
 * the last limb. Returns the carry into the whole number. */
static uint64_t add_fraction(uint64_t *limbs, size_t count, uint64_t *digits, uint64_t rest,
                             uint64_t den) {
    for (size_t i = 0; i < count; i++) {
        wide scaled = (wide)rest << 64;
        digits[i] = (uint64_t)(scaled / den);
        rest = (uint64_t)(scaled % den);
    }
    uint64_t carry = 0;
    for (size_t i = count; i-- > 0;) {
        wide sum = (wide)limbs[i] + digits[i] + carry;
        limbs[i] = (uint64_t)sum;
        carry = (uint64_t)(sum >> 64);
    }
    return carry;
}

/* The sum of the fractional parts is kept as a binary fraction, cut off. Each term is short by
 * less than one unit of the last place, so the true sum lies less than `count` units above. Two
 * sums that differ at all differ by at least one over twice the product of the denominators;
 * with more places than that product has, plus a margin of `count` units, a sum within `count`
 * units below one half *is* one half, and one half rounds up; and one within `count` units below a
 * whole number is that number. */
static int sum_of(const struct fraction *terms, size_t count, bool round, int64_t *out) {
    const int64_t limit = INT64_C(1) << 62;
    size_t places = 64 + 64;
    int64_t whole = 0;
    for (size_t i = 0; i < count; i++) {
        int64_t part = terms[i].num / terms[i].den;
        if (part > limit - whole)
            return ERR_RANGE;
        whole += part;
        uint64_t den = (uint64_t)terms[i].den;
        uint64_t rest = (uint64_t)(terms[i].num % terms[i].den);
        if (rest != 0)
            places += (size_t)bits(den / common_divisor(den, rest));
    }
    size_t limb_count = places / 64 + 1;
    uint64_t *limbs = calloc(limb_count * 2, sizeof *limbs);
    if (limbs == NULL)
        return ERR_NOMEM;
    for (size_t i = 0; i < count; i++)
        whole +=
            (int64_t)add_fraction(limbs, limb_count, limbs + limb_count,
                                  (uint64_t)(terms[i].num % terms[i].den), (uint64_t)terms[i].den);
    /* Add `count` units of the last place: a value just below one half becomes one half or
     * more, and a value just below one carries into the whole number. */
    uint64_t carry = count;
    for (size_t i = limb_count; i-- > 0 && carry > 0;) {
        wide sum = (wide)limbs[i] + carry;
        limbs[i] = (uint64_t)sum;
        carry = (uint64_t)(sum >> 64);
    }
    whole += (int64_t)carry;
    if (round && limbs[0] >> 63)
        whole++;
    free(limbs);
    if (whole > limit)
        return ERR_RANGE;
    *out = whole;
    return ERR_OK;
}

int decimal_round_sum(const struct fraction *terms, size_t count, int64_t *out) {
    return sum_of(terms, count, true, out);
}

int decimal_cut_sum(const struct fraction *terms, size_t count, int64_t *out) {
    return sum_of(terms, count, false, out);
}
