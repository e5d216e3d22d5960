/* SPDX-License-Identifier: MIT */
#include "base/decimal.h"

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

enum { UNTOUCHED = 4711 };

struct decimal_row {
    const char *text;
    int err;
    int64_t thousandths;
};

static void check_rows(const struct decimal_row *rows, size_t count) {
    for (size_t i = 0; i < count; i++) {
        int64_t value = UNTOUCHED;
        int err = decimal_parse(rows[i].text, &value);
        if (err != rows[i].err || value != (err == ERR_OK ? rows[i].thousandths : UNTOUCHED))
            fail_msg("“%s” gave %d and %lld", rows[i].text, err, (long long)value);
    }
}

BEHAVIOUR(decimals_are_read_to_the_thousandth) {
    static const struct decimal_row rows[] = {
        {"12", ERR_OK, 12000},      {"12.5", ERR_OK, 12500}, {"-0.125", ERR_OK, -125},
        {"0.1", ERR_OK, 100},       {"0.001", ERR_OK, 1},    {"007", ERR_OK, 7000},
        {"-0", ERR_OK, 0},          {"0.000", ERR_OK, 0},    {"3.201", ERR_OK, 3201},
        {"-12.05", ERR_OK, -12050},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(a_fourth_decimal_is_an_error_and_never_rounded) {
    static const struct decimal_row rows[] = {
        {"3.2001", ERR_PRECISION, 0},
        {"0.0000", ERR_PRECISION, 0},
        {"1.9999999999999999999999", ERR_PRECISION, 0},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(only_plain_decimals_are_numbers) {
    static const char *const texts[] = {"",      "-",     ".",   ".5",  "5.",  "+5",
                                        " 5",    "5 ",    "1e3", "1,5", "--1", "0x10",
                                        "1_000", "1.2.3", "nan", "inf", "5-",  "1.-2"};
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        struct decimal_row row = {texts[i], ERR_SYNTAX, 0};
        check_rows(&row, 1);
    }
}

BEHAVIOUR(a_thousand_million_is_the_most) {
    static const struct decimal_row rows[] = {
        {"1000000000", ERR_OK, DECIMAL_MAX},
        {"1000000000.000", ERR_OK, DECIMAL_MAX},
        {"-1000000000", ERR_OK, -DECIMAL_MAX},
        {"1000000000.001", ERR_RANGE, 0},
        {"1000000001", ERR_RANGE, 0},
        {"99999999999999999999999999999999", ERR_RANGE, 0},
        {"-99999999999999999999999999999999.9", ERR_RANGE, 0},
        {"18446744073709551616", ERR_RANGE, 0},
        {"00000000000000000000000000000001", ERR_OK, 1000},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(whole_numbers_have_bounds_and_no_sign) {
    static const struct {
        const char *text;
        int err;
        int64_t value;
    } rows[] = {
        {"1", ERR_OK, 1},       {"9999", ERR_OK, 9999},  {"0042", ERR_OK, 42},
        {"0", ERR_RANGE, 0},    {"10000", ERR_RANGE, 0}, {"99999999999999999999999", ERR_RANGE, 0},
        {"", ERR_SYNTAX, 0},    {"-1", ERR_SYNTAX, 0},   {"+1", ERR_SYNTAX, 0},
        {"1.0", ERR_SYNTAX, 0}, {" 1", ERR_SYNTAX, 0},   {"1 ", ERR_SYNTAX, 0},
        {"one", ERR_SYNTAX, 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        int64_t value = UNTOUCHED;
        int err = decimal_parse_whole(rows[i].text, 1, 9999, &value);
        if (err != rows[i].err || value != (err == ERR_OK ? rows[i].value : UNTOUCHED))
            fail_msg("“%s” gave %d and %lld", rows[i].text, err, (long long)value);
    }
}

static void check_written(void (*write)(struct textbuf *, int64_t), int64_t value,
                          const char *text) {
    struct textbuf b = {0};
    write(&b, value);
    assert_string_equal(textbuf_text(&b), text);
    textbuf_clear(&b);
}

BEHAVIOUR(penalties_are_written_with_exactly_three_decimals) {
    check_written(decimal_write, 12000, "12.000");
    check_written(decimal_write, 123450, "123.450");
    check_written(decimal_write, 0, "0.000");
    check_written(decimal_write, 1, "0.001");
    check_written(decimal_write, -1, "-0.001");
    check_written(decimal_write, -12345, "-12.345");
    check_written(decimal_write, DECIMAL_MAX, "1000000000.000");
    check_written(decimal_write, INT64_MIN, "-9223372036854775.808");
}

BEHAVIOUR(short_forms_drop_the_noughts_at_the_end) {
    check_written(decimal_write_short, 12500, "12.5");
    check_written(decimal_write_short, 12000, "12");
    check_written(decimal_write_short, 12050, "12.05");
    check_written(decimal_write_short, 12345, "12.345");
    check_written(decimal_write_short, -100, "-0.1");
    check_written(decimal_write_short, 0, "0");
}

BEHAVIOUR(a_product_is_rounded_half_up_to_the_thousandth) {
    assert_int_equal(decimal_times(100000, 1340, false), 134000);
    assert_int_equal(decimal_times(1, 1500, false), 2);
    assert_int_equal(decimal_times(1, 1499, false), 1);
    assert_int_equal(decimal_times(1, 500, false), 1);
    assert_int_equal(decimal_times(1, 499, false), 0);
    assert_int_equal(decimal_times(333, 1050, false), 350);
    assert_int_equal(decimal_times(0, 1340, false), 0);
    assert_int_equal(decimal_times(12345, 1000, false), 12345);
    assert_int_equal(decimal_times(DECIMAL_MAX, 1000, false), DECIMAL_MAX);
}

BEHAVIOUR(a_product_is_rounded_half_up_to_the_whole_point) {
    assert_int_equal(decimal_times(10500, 1000, true), 11000);
    assert_int_equal(decimal_times(10499, 1000, true), 10000);
    assert_int_equal(decimal_times(10000, 1050, true), 11000);
    assert_int_equal(decimal_times(10000, 1049, true), 10000);
    assert_int_equal(decimal_times(499, 1001, true), 0);
    /* 0.4999... is not first lifted to 0.5 and then to 1. */
    assert_int_equal(decimal_times(4999, 100, true), 0);
}

static int64_t rounded(const struct fraction *terms, size_t count) {
    int64_t out = UNTOUCHED;
    assert_int_equal(decimal_round_sum(terms, count, &out), ERR_OK);
    return out;
}

BEHAVIOUR(half_of_a_negative_product_rounds_up) {
    assert_int_equal(decimal_times(-1, 500, false), 0);
    assert_int_equal(decimal_times(-1, 501, false), -1);
    assert_int_equal(decimal_times(-3, 500, false), -1);
    assert_int_equal(decimal_times(-1500, 1000, true), -1000);
    assert_int_equal(decimal_times(-1501, 1000, true), -2000);
    assert_int_equal(decimal_times(-10000, 1340, false), -13400);
    assert_true(decimal_times(-DECIMAL_SUM_MAX, 2000, false) == -DECIMAL_SUM_MAX);
}

BEHAVIOUR(a_mean_is_rounded_half_up) {
    assert_int_equal(decimal_mean(34000, 3), 11333);
    assert_int_equal(decimal_mean(35000, 3), 11667);
    assert_int_equal(decimal_mean(1, 2), 1);
    assert_int_equal(decimal_mean(-1, 2), 0);
    assert_int_equal(decimal_mean(-3, 2), -1);
    assert_int_equal(decimal_mean(-2, 3), -1);
    assert_int_equal(decimal_mean(-7, 1), -7);
    assert_true(decimal_mean(DECIMAL_SUM_MAX, 1) == DECIMAL_SUM_MAX);
}

BEHAVIOUR(a_sum_of_fractions_is_rounded_once_half_up) {
    static const struct {
        struct fraction terms[4];
        size_t count;
        int64_t sum;
    } rows[] = {
        {{{0, 1}}, 0, 0},
        {{{7, 1}}, 1, 7},
        {{{1, 2}}, 1, 1},
        {{{49, 100}}, 1, 0},
        {{{3, 2}}, 1, 2},
        {{{1, 3}, {1, 3}, {1, 3}}, 3, 1},
        {{{1, 3}, {1, 6}}, 2, 1},                 /* one half exactly, of two that are not */
        {{{1, 3}, {1, 7}}, 2, 0},                 /* 10/21 */
        {{{1, 4}, {1, 4}, {1, 4}, {3, 4}}, 4, 2}, /* 1.5; each alone would give 0 0 0 1 */
        {{{4, 10}, {4, 10}, {4, 10}}, 3, 1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(rounded(rows[i].terms, rows[i].count), rows[i].sum);
}

BEHAVIOUR(a_hair_below_one_half_stays_below) {
    const int64_t big = INT64_C(4611686018427387847); /* near 2^62 and odd */
    struct fraction below[] = {{(big - 1) / 2, big}};
    struct fraction above[] = {{(big + 1) / 2, big}};
    assert_int_equal(rounded(below, 1), 0);
    assert_int_equal(rounded(above, 1), 1);
    /* a/b + c/d with coprime b and d, one part in b * d below one half and above it */
    struct fraction close_below[] = {{1, 3}, {768614336404564639, big}};
    struct fraction close_above[] = {{1, 3}, {768614336404564642, big}};
    assert_int_equal(rounded(close_below, 2), 0);
    assert_int_equal(rounded(close_above, 2), 1);
}

BEHAVIOUR(halves_made_of_awkward_denominators_round_up) {
    struct fraction thirteenths[] = {{1, 13}, {6, 13}, {1, 26}, {12, 13}};
    assert_int_equal(rounded(thirteenths, 4), 2);
    struct fraction mixed[] = {{1, 6}, {1, 10}, {7, 30}};
    assert_int_equal(rounded(mixed, 3), 1);
}

BEHAVIOUR(a_sum_past_the_limit_is_refused) {
    const int64_t limit = INT64_C(1) << 62;
    int64_t out = UNTOUCHED;
    struct fraction two[] = {{limit, 1}, {1, 1}};
    struct fraction one[] = {{limit, 1}};
    struct fraction rounded_over[] = {{limit, 1}, {1, 2}};
    assert_int_equal(decimal_round_sum(two, 2, &out), ERR_RANGE);
    assert_int_equal(decimal_round_sum(rounded_over, 2, &out), ERR_RANGE);
    assert_int_equal(out, UNTOUCHED);
    assert_int_equal(decimal_round_sum(one, 1, &out), ERR_OK);
    assert_true(out == limit);
}

BEHAVIOUR(a_product_that_no_sum_may_reach_is_held) {
    const int64_t most = DECIMAL_SUM_MAX;
    assert_true(decimal_times(2000 * DECIMAL_MAX, 1000000, false) == most);
    assert_true(decimal_times(2000 * DECIMAL_MAX - 1, 1000000, false) == most - 1000);
    assert_true(decimal_times(2000 * DECIMAL_MAX, 1000001, false) == most);
    assert_true(decimal_times(DECIMAL_MAX, DECIMAL_MAX, false) == most);
    assert_true(decimal_times(most, DECIMAL_MAX, false) == most);
    assert_true(decimal_times(most, DECIMAL_MAX, true) == most);
    assert_true(decimal_times(most, 1000, true) == most);
    assert_true(decimal_times(most, 0, true) == 0);
}

BEHAVIOUR(a_sum_is_held_on_both_sides) {
    const int64_t most = DECIMAL_SUM_MAX;
    assert_true(decimal_add(most - 1, 1) == most);
    assert_true(decimal_add(most, 1) == most);
    assert_true(decimal_add(most, most) == most);
    assert_true(decimal_add(-most, -1) == -most);
    assert_true(decimal_add(most, -most) == 0);
    assert_int_equal(decimal_add(1200, -1500), -300);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(decimals_are_read_to_the_thousandth),
        cmocka_unit_test(a_fourth_decimal_is_an_error_and_never_rounded),
        cmocka_unit_test(only_plain_decimals_are_numbers),
        cmocka_unit_test(a_thousand_million_is_the_most),
        cmocka_unit_test(whole_numbers_have_bounds_and_no_sign),
        cmocka_unit_test(penalties_are_written_with_exactly_three_decimals),
        cmocka_unit_test(short_forms_drop_the_noughts_at_the_end),
        cmocka_unit_test(a_product_is_rounded_half_up_to_the_thousandth),
        cmocka_unit_test(a_product_is_rounded_half_up_to_the_whole_point),
        cmocka_unit_test(half_of_a_negative_product_rounds_up),
        cmocka_unit_test(a_mean_is_rounded_half_up),
        cmocka_unit_test(a_sum_of_fractions_is_rounded_once_half_up),
        cmocka_unit_test(a_hair_below_one_half_stays_below),
        cmocka_unit_test(halves_made_of_awkward_denominators_round_up),
        cmocka_unit_test(a_sum_past_the_limit_is_refused),
        cmocka_unit_test(a_product_that_no_sum_may_reach_is_held),
        cmocka_unit_test(a_sum_is_held_on_both_sides),
    };
    RUN_BEHAVIOURS(tests);
}
