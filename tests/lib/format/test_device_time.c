/* SPDX-License-Identifier: MIT */
#include "format/device_time.h"

#include "base/err.h"
#include "base/textbuf.h"
#include "base/times.h"
#include "testing.h"

enum { NOON = 43200000, DAY = 20593, OTHER = -1 };

struct row {
    const char *text;
    int64_t ms; /* OTHER where it is refused */
    int64_t unit;
    int err;
};

static void check(const struct device_time_form *form, const struct row *rows, size_t count) {
    for (size_t i = 0; i < count; i++) {
        struct textbuf why = {0};
        int64_t ms = OTHER;
        int64_t unit = 0;
        int err = device_time_read(rows[i].text, form, &ms, &unit, &why);
        if (err != rows[i].err || ms != rows[i].ms || unit != rows[i].unit ||
            (why.len > 0) != (err == ERR_INPUT))
            fail_msg("“%s” gave %d, %lld, %lld: %s", rows[i].text, err, (long long)ms,
                     (long long)unit, textbuf_text(&why));
        textbuf_clear(&why);
    }
}

BEHAVIOUR(a_time_is_recognised_by_its_form) {
    static const struct device_time_form any = {.day = TIME_NONE, .offset = TIME_NONE};
    static const struct row rows[] = {
        {"9:07:20", 32840000, 1000, ERR_OK},    {"09:07", 32820000, 60000, ERR_OK},
        {"9:07:20.5", 32840500, 100, ERR_OK},   {"210720", 76040000, 1000, ERR_OK},
        {"210720.123", 76040123, 1, ERR_OK},    {"9:07:20 PM", 76040000, 1000, ERR_OK},
        {"9:07:20.25pm", 76040250, 10, ERR_OK}, {"12:00 am", 0, 60000, ERR_OK},
        {"12:00 PM", NOON, 60000, ERR_OK},      {"47:59:59.999", 172799999, 1, ERR_OK},
    };
    check(&any, rows, COUNT_OF(rows));
}

BEHAVIOUR(what_may_be_two_things_or_is_none_is_refused) {
    static const struct device_time_form any = {.day = TIME_NONE, .offset = TIME_NONE};
    static const struct row rows[] = {
        {"75440", OTHER, 0, ERR_INPUT},
        {"75440.5", OTHER, 0, ERR_INPUT},
        {"2026-11-29T21:54:00Z", OTHER, 0, ERR_INPUT},
        {"48:00:00", OTHER, 0, ERR_RANGE},
        {"216020", OTHER, 0, ERR_RANGE},
        {"13:00 pm", OTHER, 0, ERR_RANGE},
        {"9:07:20.1234", OTHER, 0, ERR_PRECISION},
        {"9:7:20", OTHER, 0, ERR_SYNTAX},
        {"9:07:20.", OTHER, 0, ERR_SYNTAX},
        {"", OTHER, 0, ERR_SYNTAX},
        {"noon", OTHER, 0, ERR_SYNTAX},
        {"-9:07:20", OTHER, 0, ERR_SYNTAX},
        {"pm", OTHER, 0, ERR_SYNTAX},
        {"2026-", OTHER, 0, ERR_SYNTAX},
    };
    check(&any, rows, COUNT_OF(rows));
}

BEHAVIOUR(seconds_of_the_day_are_taken_where_told) {
    static const struct device_time_form seconds = {
        .kind = DEVICE_TIME_SECONDS, .day = TIME_NONE, .offset = TIME_NONE};
    static const struct row rows[] = {
        {"75440.5", 75440500, 100, ERR_OK},
        {"0", 0, 1000, ERR_OK},
        {"210720", OTHER, 0, ERR_RANGE},
        {"20:57:20", OTHER, 0, ERR_SYNTAX},
    };
    check(&seconds, rows, COUNT_OF(rows));
}

/* 2026-05-20 is day 20593; 21:54 at one hour west of UTC is 22:54 in UTC and 00:54 of the next day
 * two hours east of it. */
BEHAVIOUR(a_date_is_held_against_the_day_of_the_readings) {
    static const struct device_time_form as_written = {.day = DAY, .offset = TIME_NONE};
    static const struct row rows[] = {
        {"2026-05-20T21:54:00.5-01:00", 78840500, 100, ERR_OK},
        {"2026-05-20 21:54:00", 78840000, 1000, ERR_OK},
        {"2026-05-21T00:54:00+02:00", 89640000, 1000, ERR_OK},
        {"2026-05-13T21:54:00+02:00", OTHER, 0, ERR_INPUT},
        {"2026-05-22T00:00:00+02:00", OTHER, 0, ERR_INPUT},
        {"2026-05-20T21:54:00Z", OTHER, 0, ERR_INPUT},
        {"2026-02-30T21:54:00+02:00", OTHER, 0, ERR_RANGE},
        {"2026-05-20T24:00:00+02:00", OTHER, 0, ERR_RANGE},
    };
    static const struct device_time_form east = {.day = DAY, .offset = 7200000};
    static const struct row moved[] = {
        {"2026-05-20T21:54:00-01:00", 89640000, 1000, ERR_OK},
        {"2026-05-20T08:00:00Z", 36000000, 1000, ERR_OK},
        {"2026-05-19T23:00:00Z", 3600000, 1000, ERR_OK},
    };
    check(&as_written, rows, COUNT_OF(rows));
    check(&east, moved, COUNT_OF(moved));
}

BEHAVIOUR(a_duration_may_have_minutes_first) {
    static const struct row rows[] = {
        {"0:11.7", 11700, 0, ERR_OK},           {"12:03.25", 723250, 0, ERR_OK},
        {"0:01:23.4", 83400, 0, ERR_OK},        {"83.45", 83450, 0, ERR_OK},
        {"01:30", 5400000, 0, ERR_OK},          {"1:30", OTHER, 0, ERR_INPUT},
        {"0:61.5", OTHER, 0, ERR_RANGE},        {"0:11.7x", OTHER, 0, ERR_SYNTAX},
        {"0:11.7654", OTHER, 0, ERR_PRECISION},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf why = {0};
        int64_t ms = OTHER;
        int err = device_duration_read(rows[i].text, &ms, &why);
        if (err != rows[i].err || ms != rows[i].ms || (why.len > 0) != (err == ERR_INPUT))
            fail_msg("“%s” gave %d, %lld", rows[i].text, err, (long long)ms);
        textbuf_clear(&why);
    }
}

BEHAVIOUR(an_offset_is_read_whole) {
    int64_t ms = OTHER;
    assert_int_equal(device_offset_read("-01:30", &ms), ERR_OK);
    assert_int_equal(ms, -5400000);
    assert_int_equal(device_offset_read("Z", &ms), ERR_OK);
    assert_int_equal(ms, 0);
    assert_int_equal(device_offset_read("+2", &ms), ERR_SYNTAX);
    assert_int_equal(device_offset_read("+02:00x", &ms), ERR_SYNTAX);
    assert_int_equal(device_offset_read("+15:00", &ms), ERR_RANGE);
    assert_int_equal(device_offset_read("", &ms), ERR_SYNTAX);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_time_is_recognised_by_its_form),
        cmocka_unit_test(what_may_be_two_things_or_is_none_is_refused),
        cmocka_unit_test(seconds_of_the_day_are_taken_where_told),
        cmocka_unit_test(a_date_is_held_against_the_day_of_the_readings),
        cmocka_unit_test(a_duration_may_have_minutes_first),
        cmocka_unit_test(an_offset_is_read_whole),
    };
    RUN_BEHAVIOURS(tests);
}
