/* SPDX-License-Identifier: MIT */
#include "track/gpx.h"

#include <stdio.h>
#include <string.h>
#include <unistd.h>

#include "base/err.h"
#include "base/textbuf.h"
#include "testing.h"

#define HEAD                                                                                       \
    "<?xml version='1.0'?>\n<gpx version='1.1' creator='x' xmlns='http://www.topografix.com/GPX/1/1'>\n"
#define POINT(lat, lon, time) "<trkpt lat='" lat "' lon='" lon "'><time>" time "</time></trkpt>\n"
#define TRACK(points) HEAD "<trk><trkseg>\n" points "</trkseg></trk></gpx>\n"

struct got {
    size_t count;
    struct track_fix first, last;
};

static int take(void *owner, const struct track_fix *fix) {
    struct got *got = owner;
    if (got->count++ == 0)
        got->first = *fix;
    got->last = *fix;
    return ERR_OK;
}

/* Reads a text as a file. Returns what gpx_read does; `why` may be NULL. */
static int read_text(const char *text, struct got *got, struct gpx_report *report, char *why,
                     size_t size) {
    struct textbuf b = {0};
    FILE *file = tmpfile();
    assert_non_null(file);
    assert_true(fputs(text, file) >= 0 && fflush(file) == 0);
    assert_int_equal(lseek(fileno(file), 0, SEEK_SET), 0);
    *got = (struct got){0};
    int err = gpx_read(fileno(file), take, got, report, &b);
    (void)fclose(file);
    if (why != NULL)
        (void)snprintf(why, size, "%s", textbuf_text(&b));
    textbuf_clear(&b);
    return err;
}

BEHAVIOUR(a_track_is_read_point_by_point) {
    struct got got;
    struct gpx_report report;
    assert_int_equal(read_text(TRACK(POINT("54.25", "-4.5", "2027-05-20T09:00:00Z")
                                         POINT("54.5", "-4.25", "2027-05-20T10:00:00.250+01:00")
                                             POINT("54.5", "-4.25", " 2027-05-20T09:00:01 ")),
                               &got, &report, NULL, 0),
                     ERR_OK);
    assert_int_equal(got.count, 3);
    assert_true(got.first.lat == 54.25 && got.first.lon == -4.5);
    assert_int_equal(got.first.line, 4);
    assert_false(got.first.follows);
    assert_int_equal(got.last.ms - got.first.ms, 1000);
    assert_true(got.last.follows);
    assert_int_equal(report.zoneless.count, 1);
    assert_int_equal(report.zoneless.line, 6);
}

BEHAVIOUR(points_that_cannot_be_used_are_counted_with_the_line_of_the_first) {
    struct got got;
    struct gpx_report report;
    assert_int_equal(read_text(TRACK("<trkpt lat='54' lon='-4'/>\n" POINT("54", "-4", "noon")
                                         POINT("95.5", "54", "2027-05-20T09:00:00Z")
                                             POINT("nan", "54", "2027-05-20T09:00:00Z")
                                                 POINT("54", "-4", "2027-05-20T09:00:05Z")
                                                     POINT("54", "-4", "2027-05-20T09:00:05Z")
                                                         POINT("54", "-4", "2027-05-20T08:00:00Z")),
                               &got, &report, NULL, 0),
                     ERR_OK);
    assert_int_equal(report.points, 7);
    assert_int_equal(report.untimed.line, 4);
    assert_int_equal(report.mistimed.line, 5);
    assert_int_equal(report.misplaced.count, 2);
    assert_int_equal(report.misplaced.line, 6);
    assert_int_equal(report.repeated.line, 9);
    assert_int_equal(report.backwards.line, 10);
    assert_int_equal(got.count, 2);
    assert_false(got.last.follows);
}

BEHAVIOUR(what_stands_before_a_fault_of_the_file_is_given) {
    static const struct {
        const char *text, *why;
        size_t count;
    } rows[] = {
        {"", "line 1: the file is empty", 0},
        {"point,car\n", "line 1: syntax error", 0},
        {"<kml></kml>", "line 1: this is no GPX: its first mark is not “gpx”", 0},
        {HEAD "<trk><trkseg>\n" POINT("54", "-4", "2027-05-20T09:00:00Z") "<trkpt lat='5",
         "line 5: unclosed token", 1},
        {HEAD "<trk><trkseg>\n" POINT("54", "-4", "2027-05-20T09:00:00Z"),
         "line 5: no element found", 1},
        {"<!DOCTYPE gpx [<!ENTITY a 'aaaa'><!ENTITY b '&a;&a;'>]>\n" HEAD "<name>&b;</name></gpx>",
         "line 1: it has a document type (DOCTYPE), which defines entities: a GPX file has none",
         0},
        {HEAD "<name>&lol;</name></gpx>", "line 3: undefined entity", 0},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct got got;
        struct gpx_report report;
        char why[200];
        assert_int_equal(read_text(rows[i].text, &got, &report, why, sizeof why), ERR_INPUT);
        assert_string_equal(why, rows[i].why);
        assert_int_equal(got.count, rows[i].count);
    }
}

BEHAVIOUR(a_mark_without_end_is_not_gathered) {
    enum { LONG = 3 << 20 };
    struct textbuf text = {0};
    struct got got;
    struct gpx_report report;
    char why[200];
    textbuf_puts(&text, HEAD "<trk name='");
    for (int i = 0; i < LONG; i++)
        textbuf_putc(&text, 'x');
    assert_int_equal(read_text(textbuf_text(&text), &got, &report, why, sizeof why), ERR_INPUT);
    assert_string_equal(why, "line 3: a mark is longer than a megabyte");
    textbuf_clear(&text);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_track_is_read_point_by_point),
        cmocka_unit_test(points_that_cannot_be_used_are_counted_with_the_line_of_the_first),
        cmocka_unit_test(what_stands_before_a_fault_of_the_file_is_given),
        cmocka_unit_test(a_mark_without_end_is_not_gathered),
    };
    RUN_BEHAVIOURS(tests);
}
