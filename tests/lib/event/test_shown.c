/* SPDX-License-Identifier: MIT */
#include "event/shown.h"

#include <stdlib.h>

#include "base/decimal.h"
#include "testing.h"

BEHAVIOUR(a_penalty_as_time_has_hours_without_zeros_and_no_decimals_that_it_does_not_need) {
    static const struct {
        int64_t penalty;
        const char *text;
    } rows[] = {
        {0, "0:00:00"},           {131000, "0:02:11"},
        {3723500, "1:02:03.5"},   {270000000, "75:00:00"},
        {-5000, "-0:00:05"},      {-1, "-0:00:00.001"},
        {60450, "0:01:00.45"},    {10045, "0:00:10.045"},
        {3599999, "0:59:59.999"}, {DECIMAL_SUM_MAX, "555555555555:33:20"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        shown_write_time(&b, rows[i].penalty);
        assert_string_equal(textbuf_text(&b), rows[i].text);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(an_event_says_how_penalties_are_shown) {
    struct scoring scoring = {.shown_as_time = false};
    struct textbuf b = {0};
    shown_write_penalty(&b, &scoring, 131500);
    textbuf_putc(&b, ' ');
    shown_write_price(&b, &scoring, 15500);
    scoring.shown_as_time = true;
    textbuf_putc(&b, ' ');
    shown_write_penalty(&b, &scoring, 131500);
    textbuf_putc(&b, ' ');
    shown_write_price(&b, &scoring, 15500);
    assert_string_equal(textbuf_text(&b), "131.500 15.5 0:02:11.5 0:00:15.5");
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(
            a_penalty_as_time_has_hours_without_zeros_and_no_decimals_that_it_does_not_need),
        cmocka_unit_test(an_event_says_how_penalties_are_shown),
    };
    RUN_BEHAVIOURS(tests);
}
