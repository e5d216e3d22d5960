/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "system/histogram.h"

static void nothing_has_no_median(void **state) {
    struct histogram h = {0};
    (void)state;
    assert_int_equal(histogram_count(&h), 0);
    assert_int_equal(histogram_quantile(&h, 500), -1);
}

static void a_bound_holds_what_is_as_long_as_it(void **state) {
    struct histogram h = {0};
    (void)state;
    histogram_add(&h, 0);
    histogram_add(&h, 100);
    assert_int_equal(histogram_quantile(&h, 1000), 100);
    histogram_add(&h, 101);
    assert_int_equal(histogram_quantile(&h, 1000), 250);
    assert_int_equal(histogram_quantile(&h, 500), 100);
    histogram_add(&h, 5000001);
    assert_int_equal(histogram_quantile(&h, 1000), INT64_MAX);
    assert_int_equal(histogram_count(&h), 4);
}

static void one_in_a_hundred_shows_above_the_99th(void **state) {
    struct histogram h = {0};
    (void)state;
    for (int i = 0; i < 99; i++)
        histogram_add(&h, 900);
    histogram_add(&h, 40000);
    assert_int_equal(histogram_quantile(&h, 500), 1000);
    assert_int_equal(histogram_quantile(&h, 990), 1000);
    assert_int_equal(histogram_quantile(&h, 991), 50000);
}

/* Each bucket counts all below it too; the sum is in seconds. */
static void buckets_add_up(void **state) {
    struct histogram h = {0};
    struct textbuf b = {0};
    (void)state;
    histogram_add(&h, 90);
    histogram_add(&h, 2000000);
    histogram_add(&h, 9000000);
    histogram_write(&h, "x_seconds", &b);
    const char *text = textbuf_text(&b);
    assert_non_null(strstr(text, "x_seconds_bucket{le=\"0.0001\"} 1\n"));
    assert_non_null(strstr(text, "x_seconds_bucket{le=\"1.0\"} 1\n"));
    assert_non_null(strstr(text, "x_seconds_bucket{le=\"2.5\"} 2\n"));
    assert_non_null(strstr(text, "x_seconds_bucket{le=\"5.0\"} 2\n"));
    assert_non_null(strstr(text, "x_seconds_bucket{le=\"+Inf\"} 3\n"));
    assert_non_null(strstr(text, "x_seconds_count 3\nx_seconds_sum 11.000090\n"));
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(nothing_has_no_median),
        cmocka_unit_test(a_bound_holds_what_is_as_long_as_it),
        cmocka_unit_test(one_in_a_hundred_shows_above_the_99th),
        cmocka_unit_test(buckets_add_up),
    };
    return cmocka_run_group_tests_name("histogram", tests, NULL, NULL);
}
