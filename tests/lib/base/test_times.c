/* SPDX-License-Identifier: MIT */
#include "base/times.h"

#include <string.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

enum { UNTOUCHED = 12345 };

/* One text, what reading it returns, and the milliseconds where it is good. */
struct parse_row {
    const char *text;
    int err;
    int64_t ms;
};

static void check_rows(int (*parse)(const char *, int64_t *), const struct parse_row *rows,
                       size_t count) {
    for (size_t i = 0; i < count; i++) {
        int64_t ms = UNTOUCHED;
        int err = parse(rows[i].text, &ms);
        if (err != rows[i].err || ms != (err == ERR_OK ? rows[i].ms : UNTOUCHED))
            fail_msg("“%s” gave %d and %lld", rows[i].text, err, (long long)ms);
    }
}

BEHAVIOUR(a_time_of_day_counts_from_midnight) {
    static const struct parse_row rows[] = {
        {"00:00", ERR_OK, 0},
        {"00:00:00.001", ERR_OK, 1},
        {"10:42:59.9", ERR_OK, 38579900},
        {"10:42:59.90", ERR_OK, 38579900},
        {"10:42:59.900", ERR_OK, 38579900},
        {"10:42", ERR_OK, 38520000},
        {"23:59:59.999", ERR_OK, 86399999},
    };
    check_rows(time_parse, rows, COUNT_OF(rows));
}

BEHAVIOUR(hours_run_on_past_midnight_up_to_47) {
    static const struct parse_row rows[] = {
        {"24:00:00", ERR_OK, 86400000},      {"25:10:00", ERR_OK, 90600000},
        {"47:59:59.999", ERR_OK, 172799999}, {"48:00", ERR_RANGE, 0},
        {"48:00:00", ERR_RANGE, 0},          {"99:00:00", ERR_RANGE, 0},
    };
    check_rows(time_parse, rows, COUNT_OF(rows));
}

BEHAVIOUR(minutes_and_seconds_stop_at_59) {
    static const struct parse_row rows[] = {
        {"10:60", ERR_RANGE, 0},
        {"10:59:59", ERR_OK, 39599000},
        {"10:00:60", ERR_RANGE, 0},
    };
    check_rows(time_parse, rows, COUNT_OF(rows));
}

BEHAVIOUR(more_than_three_decimals_are_refused_even_where_they_are_noughts) {
    static const struct parse_row rows[] = {
        {"10:00:00.123", ERR_OK, 36000123},
        {"10:00:00.1234", ERR_PRECISION, 0},
        {"10:00:00.1230", ERR_PRECISION, 0},
    };
    check_rows(time_parse, rows, COUNT_OF(rows));
}

BEHAVIOUR(a_time_written_otherwise_is_refused) {
    static const char *const texts[] = {
        "",           "10",       "1:02",   "10:2",      "10:02:3",  "10:02:",     "10:02:03.",
        "10.02",      " 10:02",   "10:02 ", "+10:02",    "-10:02",   "10:02:03,5", "010:02",
        "10:02:03.x", "10:02:0x", "aa:bb",  "10:02:03Z", "10-02-03", "10:02.5"};
    for (size_t i = 0; i < COUNT_OF(texts); i++) {
        struct parse_row row = {texts[i], ERR_SYNTAX, 0};
        check_rows(time_parse, &row, 1);
    }
}

BEHAVIOUR(a_duration_is_a_time_or_plain_seconds) {
    static const struct parse_row rows[] = {
        {"83.45", ERR_OK, 83450},    {"11.7", ERR_OK, 11700},           {"0", ERR_OK, 0},
        {"00:01:10", ERR_OK, 70000}, {"00:45", ERR_OK, 2700000},        {"00:00:00.5", ERR_OK, 500},
        {"7", ERR_OK, 7000},         {"172799.999", ERR_OK, 172799999},
    };
    check_rows(duration_parse, rows, COUNT_OF(rows));
}

BEHAVIOUR(a_duration_is_never_rounded_negative_or_two_days_long) {
    static const struct parse_row rows[] = {
        {"83.4567", ERR_PRECISION, 0}, {"-1", ERR_SYNTAX, 0},
        {"-0.5", ERR_SYNTAX, 0},       {"172800", ERR_RANGE, 0},
        {"48:00:00", ERR_RANGE, 0},    {"", ERR_SYNTAX, 0},
        {".5", ERR_SYNTAX, 0},         {"5.", ERR_SYNTAX, 0},
        {"1e3", ERR_SYNTAX, 0},        {"1,5", ERR_SYNTAX, 0},
        {"two hours", ERR_SYNTAX, 0},  {"00:00:01.2345", ERR_PRECISION, 0},
    };
    check_rows(duration_parse, rows, COUNT_OF(rows));
}

BEHAVIOUR(truncation_goes_to_the_preceding_whole_unit) {
    static const struct {
        int64_t ms;
        int64_t unit;
        int64_t truncated;
    } rows[] = {
        {38579900, UNIT_SECOND, 38579000},
        {38579900, UNIT_MINUTE, 38520000},
        {38579999, UNIT_TENTH, 38579900},
        {38579999, UNIT_HUNDREDTH, 38579990},
        {38579999, UNIT_MILLISECOND, 38579999},
        {0, UNIT_MINUTE, 0},
        {60000, UNIT_MINUTE, 60000},
        {38579999, 600, 38579400},
        {38579999, 900000, 37800000},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(time_truncate(rows[i].ms, rows[i].unit), rows[i].truncated);
}

BEHAVIOUR(truncation_below_nought_goes_further_from_it) {
    assert_int_equal(time_truncate(-1, UNIT_SECOND), -1000);
    assert_int_equal(time_truncate(-1000, UNIT_SECOND), -1000);
    assert_int_equal(time_truncate(-1001, UNIT_SECOND), -2000);
    assert_int_equal(time_truncate(-1, UNIT_MINUTE), -60000);
    assert_int_equal(time_truncate(-11, UNIT_HUNDREDTH), -20);
    assert_int_equal(time_truncate(-7, UNIT_MILLISECOND), -7);
    const int64_t century = INT64_C(100) * 365 * 86400000;
    assert_int_equal(time_truncate(-century - 1, UNIT_MINUTE), -century - 60000);
    assert_int_equal(time_truncate(century + 59999, UNIT_MINUTE), century);
}

BEHAVIOUR(units_have_names_sizes_and_decimals) {
    static const struct {
        const char *name;
        int64_t unit;
        int decimals;
    } rows[] = {{"minute", UNIT_MINUTE, 0},
                {"second", UNIT_SECOND, 0},
                {"tenth", UNIT_TENTH, 1},
                {"hundredth", UNIT_HUNDREDTH, 2},
                {"millisecond", UNIT_MILLISECOND, 3},
                {NULL, 600, 1},
                {NULL, 900000, 0},
                {NULL, 86400000, 0},
                {NULL, 250, 2}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        int64_t unit = rows[i].unit;
        assert_int_equal(unit_count(0, unit), 0);
        assert_int_equal(unit_count(7 * unit - 1, unit), 6);
        assert_int_equal(unit_count(7 * unit, unit), 7);
        assert_int_equal(unit_decimals(unit), rows[i].decimals);
        if (rows[i].name == NULL) {
            assert_null(unit_name(unit));
            continue;
        }
        assert_string_equal(unit_name(unit), rows[i].name);
        assert_int_equal(unit_of_name(rows[i].name), unit);
    }
    assert_string_equal(unit_name_within(UNIT_SECOND), "second");
    assert_string_equal(unit_name_within(600), "tenth");
    assert_string_equal(unit_name_within(6000), "second");
    assert_string_equal(unit_name_within(250), "hundredth");
    assert_string_equal(unit_name_within(125), "millisecond");
    assert_string_equal(unit_name_within(900000), "minute");
    assert_int_equal(unit_of_name("week"), 0);
    assert_int_equal(unit_of_name("0.6"), 0);
}

BEHAVIOUR(times_are_written_with_as_many_decimals_as_asked_or_needed) {
    static const struct {
        int64_t ms;
        int decimals;
        const char *text;
    } rows[] = {
        {31500000, 0, "08:45:00"},    {31500000, 1, "08:45:00.0"},   {31500000, 3, "08:45:00.000"},
        {31500120, 0, "08:45:00.12"}, {31500123, 2, "08:45:00.123"}, {31500100, 2, "08:45:00.10"},
        {90600000, 0, "25:10:00"},    {-1000, 0, "-00:00:01"},       {-90600500, 0, "-25:10:00.5"},
        {0, 0, "00:00:00"},           {400000000, 0, "111:06:40"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        time_write(&b, rows[i].ms, rows[i].decimals);
        assert_string_equal(textbuf_text(&b), rows[i].text);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(a_time_for_people_leaves_out_seconds_that_are_nought) {
    static const struct {
        int64_t ms;
        const char *text;
    } rows[] = {{38520000, "10:42"}, {38579000, "10:42:59"}, {38579900, "10:42:59.9"},
                {90600000, "25:10"}, {0, "00:00"},           {-60000, "-00:01:00"}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        time_write_short(&b, rows[i].ms);
        assert_string_equal(textbuf_text(&b), rows[i].text);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(a_duration_for_people_is_in_words) {
    static const struct {
        int64_t ms;
        const char *text;
    } rows[] = {
        {83450, "1 min 23.45 s"},
        {120000, "2 min"},
        {83400, "1 min 23.4 s"},
        {5400000, "1 h 30 min"},
        {0, "0 s"},
        {-3000, "3 s"},
        {3600000, "1 h"},
        {3600001, "1 h 0.001 s"},
        {45670, "45.67 s"},
        {60, "0.06 s"},
        {7261000, "2 h 1 min 1 s"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        duration_write_words(&b, rows[i].ms);
        assert_string_equal(textbuf_text(&b), rows[i].text);
        textbuf_clear(&b);
    }
}

static struct instant instant_of(const char *text) {
    struct instant instant = {0, 0};
    if (instant_parse(text, &instant) != ERR_OK)
        fail_msg("“%s” is not read", text);
    return instant;
}

BEHAVIOUR(instants_count_from_1970) {
    assert_int_equal(instant_of("1970-01-01T00:00:00Z").seconds, 0);
    assert_int_equal(instant_of("2000-03-01T00:00:00Z").seconds, 951868800);
    assert_int_equal(instant_of("2027-05-20T08:46:39Z").seconds, 1810802799);
    assert_int_equal(instant_of("1969-12-31T23:59:59Z").seconds, -1);
    assert_int_equal(instant_of("1900-01-01T00:00:00Z").seconds, -2208988800);
}

BEHAVIOUR(offsets_are_taken_out_so_that_instants_compare) {
    static const char *const same[] = {
        "2027-05-20T08:00:00Z",      "2027-05-20T08:00:00z",      "2027-05-20t08:00:00+00:00",
        "2027-05-20 07:00:00-01:00", "2027-05-20T13:30:00+05:30", "2027-05-21T07:59:00+23:59",
        "2027-05-19T08:01:00-23:59", "2027-05-20T08:00:00-00:00", "2027-05-20T08:00:00.000Z"};
    struct instant first = instant_of(same[0]);
    for (size_t i = 1; i < COUNT_OF(same); i++) {
        if (instant_compare(first, instant_of(same[i])) != 0)
            fail_msg("%s is not the same instant", same[i]);
    }
}

BEHAVIOUR(a_later_clock_reading_may_be_an_earlier_instant) {
    struct instant a = instant_of("2027-05-20T09:00:00+02:00");
    struct instant b = instant_of("2027-05-20T08:00:00Z");
    assert_true(instant_compare(a, b) < 0);
    assert_true(instant_compare(b, a) > 0);
}

BEHAVIOUR(fractions_of_a_second_order_instants) {
    struct instant a = instant_of("2027-05-20T08:00:00.000000001Z");
    struct instant b = instant_of("2027-05-20T08:00:00.000000002Z");
    assert_true(instant_compare(a, b) < 0);
    assert_int_equal(instant_of("2027-05-20T08:00:00.5Z").nanos, 500000000);
    assert_int_equal(instant_of("2027-05-20T08:00:00.1234567899999Z").nanos, 123456789);
}

BEHAVIOUR(a_leap_second_is_the_instant_of_the_next_second) {
    struct instant leap = instant_of("2016-12-31T23:59:60Z");
    assert_int_equal(instant_compare(leap, instant_of("2017-01-01T00:00:00Z")), 0);
    assert_true(instant_compare(instant_of("2016-12-31T23:59:59.9Z"), leap) < 0);
}

BEHAVIOUR(an_instant_needs_its_offset_and_every_digit) {
    static const struct {
        const char *text;
        int err;
    } rows[] = {
        {"2027-05-20T08:00:00", ERR_SYNTAX},
        {"2027-05-20T08:00Z", ERR_SYNTAX},
        {"2027-05-20", ERR_SYNTAX},
        {"", ERR_SYNTAX},
        {"2027-05-20T08:00:00+01", ERR_SYNTAX},
        {"2027-05-20T08:00:00+0100", ERR_SYNTAX},
        {"2027-05-20T08:00:00.Z", ERR_SYNTAX},
        {"2027-05-20T08:00:00Zz", ERR_SYNTAX},
        {"2027-5-20T08:00:00Z", ERR_SYNTAX},
        {"2027-05-20x08:00:00Z", ERR_SYNTAX},
        {"2027-05-20T24:00:00Z", ERR_RANGE},
        {"2027-05-20T08:60:00Z", ERR_RANGE},
        {"2027-05-20T08:00:61Z", ERR_RANGE},
        {"2027-05-20T08:00:00+24:00", ERR_RANGE},
        {"2027-05-20T08:00:00+01:60", ERR_RANGE},
        {"2027-02-29T08:00:00Z", ERR_RANGE},
        {"2027-13-01T08:00:00Z", ERR_RANGE},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct instant out = {7, 8};
        if (instant_parse(rows[i].text, &out) != rows[i].err || out.seconds != 7 || out.nanos != 8)
            fail_msg("“%s” is read otherwise", rows[i].text);
    }
}

BEHAVIOUR(a_date_must_be_in_the_calendar) {
    static const struct {
        const char *text;
        int err;
        int64_t days;
    } rows[] = {
        {"1970-01-01", ERR_OK, 0},
        {"2027-05-20", ERR_OK, 20958},
        {"2000-02-29", ERR_OK, 11016},
        {"1885-01-01", ERR_OK, -31045},
        {"2028-02-29", ERR_OK, 21243},
        {"9999-12-31", ERR_OK, 2932896},
        {"1900-02-29", ERR_RANGE, 0},
        {"2100-02-29", ERR_RANGE, 0},
        {"2027-02-29", ERR_RANGE, 0},
        {"2027-04-31", ERR_RANGE, 0},
        {"2027-00-10", ERR_RANGE, 0},
        {"2027-13-10", ERR_RANGE, 0},
        {"2027-05-00", ERR_RANGE, 0},
        {"1884-12-31", ERR_RANGE, 0},
        {"20-05-2027", ERR_SYNTAX, 0},
        {"2027/05/20", ERR_SYNTAX, 0},
        {"2027-05-20 ", ERR_SYNTAX, 0},
        {"2027-05", ERR_SYNTAX, 0},
        {"", ERR_SYNTAX, 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        int64_t days = UNTOUCHED;
        int err = date_parse(rows[i].text, &days);
        if (err != rows[i].err || days != (err == ERR_OK ? rows[i].days : UNTOUCHED))
            fail_msg("“%s” gave %d and %lld", rows[i].text, err, (long long)days);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_time_of_day_counts_from_midnight),
        cmocka_unit_test(hours_run_on_past_midnight_up_to_47),
        cmocka_unit_test(minutes_and_seconds_stop_at_59),
        cmocka_unit_test(more_than_three_decimals_are_refused_even_where_they_are_noughts),
        cmocka_unit_test(a_time_written_otherwise_is_refused),
        cmocka_unit_test(a_duration_is_a_time_or_plain_seconds),
        cmocka_unit_test(a_duration_is_never_rounded_negative_or_two_days_long),
        cmocka_unit_test(truncation_goes_to_the_preceding_whole_unit),
        cmocka_unit_test(truncation_below_nought_goes_further_from_it),
        cmocka_unit_test(units_have_names_sizes_and_decimals),
        cmocka_unit_test(times_are_written_with_as_many_decimals_as_asked_or_needed),
        cmocka_unit_test(a_time_for_people_leaves_out_seconds_that_are_nought),
        cmocka_unit_test(a_duration_for_people_is_in_words),
        cmocka_unit_test(instants_count_from_1970),
        cmocka_unit_test(offsets_are_taken_out_so_that_instants_compare),
        cmocka_unit_test(a_later_clock_reading_may_be_an_earlier_instant),
        cmocka_unit_test(fractions_of_a_second_order_instants),
        cmocka_unit_test(a_leap_second_is_the_instant_of_the_next_second),
        cmocka_unit_test(an_instant_needs_its_offset_and_every_digit),
        cmocka_unit_test(a_date_must_be_in_the_calendar),
    };
    RUN_BEHAVIOURS(tests);
}
