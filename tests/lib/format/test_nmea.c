/* SPDX-License-Identifier: MIT */
#include "format/nmea.h"

#include <string.h>

#include "base/err.h"
#include "testing.h"

enum { UNTOUCHED = 7 };

struct row {
    const char *line;
    int err;
    int64_t ms;
    enum nmea_fix fix;
};

static void check_rows(const struct row *rows, size_t count) {
    for (size_t i = 0; i < count; i++) {
        struct nmea_time time = {.ms = UNTOUCHED, .fix = NMEA_FIX_UNTOLD};
        int err = nmea_read(rows[i].line, &time);
        int64_t ms = rows[i].err == ERR_OK ? rows[i].ms : UNTOUCHED;
        if (err != rows[i].err || time.ms != ms || time.fix != rows[i].fix)
            fail_msg("“%s” gave %d, %lld, %d", rows[i].line, err, (long long)time.ms, time.fix);
    }
}

/* Sentences printed in receivers' manuals and in descriptions of NMEA 0183 for many years: the
 * first RMC and the ZDA from memory, their sums hold. The milliseconds are those of `date -u +%s`.
 */
BEHAVIOUR(published_sentences_are_read) {
    static const struct row rows[] = {
        {"$GPRMC,123519,A,4807.038,N,01131.000,E,022.4,084.4,230394,003.1,W*6A", ERR_OK,
         INT64_C(764426119000), NMEA_FIX_GOOD},
        {"$GPZDA,201530.00,04,07,2002,00,00*60", ERR_OK, INT64_C(1025813730000), NMEA_FIX_UNTOLD},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(talker_line_end_and_decimals_do_not_matter) {
    static const struct row rows[] = {
        {"$GNZDA,201530.129,04,07,2002,00,00*44\r\n", ERR_OK, INT64_C(1025813730129),
         NMEA_FIX_UNTOLD},
        {"$GLZDA,201530,4,7,2002,,*52\n", ERR_OK, INT64_C(1025813730000), NMEA_FIX_UNTOLD},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(a_receiver_without_satellites_says_so) {
    static const struct row rows[] = {
        {"$GPRMC,123519,V,,,,,,,230394,,*33", ERR_OK, INT64_C(764426119000), NMEA_FIX_NONE},
        {"$GPRMC,,V,,,,,,,,,*31", ERR_UNKNOWN, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,,,,,,*48", ERR_UNKNOWN, 0, NMEA_FIX_UNTOLD},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(other_sentences_are_passed_over) {
    static const struct row rows[] = {
        {"$GPGGA,123519,4807.038,N,01131.000,E,1,08,0.9,545.4,M,46.9,M,,*47", ERR_UNKNOWN, 0,
         NMEA_FIX_UNTOLD},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(what_the_line_spoilt_is_not_believed) {
    static const struct row rows[] = {
        {"$GPZDA,201531.00,04,07,2002,00,00*60", ERR_CONFLICT, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,201530.00,04,07,2002,00,00", ERR_SYNTAX, 0, NMEA_FIX_UNTOLD},
        {"GPZDA,201530.00,04,07,2002,00,00*60", ERR_SYNTAX, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,201530.00,04,07,2002,00,00*6", ERR_SYNTAX, 0, NMEA_FIX_UNTOLD},
        {"$*00", ERR_UNKNOWN, 0, NMEA_FIX_UNTOLD},
        {"$", ERR_SYNTAX, 0, NMEA_FIX_UNTOLD},
        {"", ERR_SYNTAX, 0, NMEA_FIX_UNTOLD},
    };
    check_rows(rows, COUNT_OF(rows));
}

BEHAVIOUR(a_line_without_end_is_no_sentence) {
    char line[400];
    memset(line, '$', sizeof line - 1);
    line[sizeof line - 1] = '\0';
    struct nmea_time time;
    assert_int_equal(nmea_read(line, &time), ERR_SYNTAX);
}

BEHAVIOUR(times_that_do_not_exist_are_refused) {
    static const struct row rows[] = {
        {"$GPZDA,235960.00,31,12,2016,00,00*69", ERR_RANGE, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,240000.00,31,12,2016,00,00*64", ERR_RANGE, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,120000.00,30,02,2016,00,00*61", ERR_RANGE, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,120000.00,01,01,0016,00,00*62", ERR_RANGE, 0, NMEA_FIX_UNTOLD},
        {"$GPZDA,12:00:0,01,01,2016,00,00*7E", ERR_SYNTAX, 0, NMEA_FIX_UNTOLD},
    };
    check_rows(rows, COUNT_OF(rows));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(published_sentences_are_read),
        cmocka_unit_test(talker_line_end_and_decimals_do_not_matter),
        cmocka_unit_test(a_receiver_without_satellites_says_so),
        cmocka_unit_test(other_sentences_are_passed_over),
        cmocka_unit_test(what_the_line_spoilt_is_not_believed),
        cmocka_unit_test(a_line_without_end_is_no_sentence),
        cmocka_unit_test(times_that_do_not_exist_are_refused),
    };
    RUN_BEHAVIOURS(tests);
}
