/* SPDX-License-Identifier: MIT */
#include "remote/reading_file.h"

#include <string.h>

#include "base/err.h"
#include "base/problem.h"
#include "base/textbuf.h"
#include "format/extra.h"
#include "testing.h"

static struct device_form form = DEVICE_FORM_DEFAULTS;
static struct reading_file_options options;
static struct reading_file file;
static struct problems problems;

static int read_text(const char *text) {
    problems_clear(&problems);
    reading_file_clear(&file);
    return reading_file_read("pads.csv", text, strlen(text), &options, &problems, &file);
}

/* Rows as "LINE point|car|time|elapsed", a line each, then what is wrong. */
static void check(const char *text, int err, const char *expected) {
    struct textbuf told = {0};
    assert_int_equal(read_text(text), err);
    for (size_t i = 0; i < file.count; i++) {
        const char *const *f = file.rows[i].text.field;
        textbuf_printf(&told, "%ld %s|%s|%s|%s\n", file.rows[i].line, f[READING_POINT],
                       f[READING_CAR], f[READING_TIME], f[READING_ELAPSED]);
    }
    for (size_t i = 0; i < problems.count; i++)
        textbuf_printf(&told, "%s: %s\n", problems.list[i].place, problems.list[i].text);
    assert_string_equal(textbuf_text(&told), expected);
    textbuf_clear(&told);
}

static int set_up(void **state) {
    (void)state;
    options = (struct reading_file_options){.form = &form};
    return 0;
}

static int tear_down(void **state) {
    (void)state;
    device_form_clear(&form);
    problems_clear(&problems);
    reading_file_clear(&file);
    return 0;
}

BEHAVIOUR(commas_semicolons_and_tabs_set_columns_apart) {
    static const char expected[] = "2 T1/1|22|10:42:07.5|\n";
    check("point,car,time\nT1/1,22,10:42:07.5\n", ERR_OK, expected);
    check("point;car;time\r\nT1/1;22;10:42:07.5\r\n", ERR_OK, expected);
    check("car\ttime\tpoint\n22\t10:42:07.5\tT1/1\n", ERR_OK, expected);
    check("\xEF\xBB\xBFpoint\tcar\ttime\nT1/1\t22\t10:42:07.5", ERR_OK, expected);
}

BEHAVIOUR(a_decimal_comma_is_taken_where_it_is_clear) {
    check("point;car;time;elapsed\nT1/1;1;10:42:07,5;\nT1/1;2;;83,45\nT1/1;3;;1,234\n", ERR_OK,
          "2 T1/1|1|10:42:07.5|\n3 T1/1|2||83.45\n4 T1/1|3||1.234\n");
    check("point,car,time,elapsed\nT1/1,1,\"10:42:07,123\",\nT1/1,2,,\"83,45\"\n"
          "T1/1,3,,\"0,234\"\nT1/1,4,,\"1,234\"\n",
          ERR_OK,
          "2 T1/1|1|10:42:07.123|\n3 T1/1|2||83.45\n4 T1/1|3||0.234\n"
          "pads.csv:5: elapsed “1,234” may mean thousands: write it with a point\n");
    check(
        "point;car;elapsed\nT1/1;1;1,234,5\nT1/1;2;1.234,5\nT1/1;3;12,\n", ERR_OK,
        "pads.csv:2: elapsed “1,234,5” is not written as a duration, such as 00:01:23.45 or 83.45\n"
        "pads.csv:3: elapsed “1.234,5” is not written as a duration, such as 00:01:23.45 or 83.45\n"
        "pads.csv:4: elapsed “12.” is not written as a duration, such as 00:01:23.45 or 83.45\n");
}

BEHAVIOUR(headings_of_a_device_are_mapped) {
    struct textbuf why = {0};
    assert_int_equal(column_map_parse(&form.map, "time=Zeit,car=Nr", &why), ERR_OK);
    options.point = "T1/1";
    check("Nr;Zeit\n 22 ;10:42:07\n", ERR_OK, "2 T1/1|22|10:42:07|\n");
    check(
        "Nr;Kanal\n22;1\n", ERR_INPUT,
        "pads.csv:1: column “Kanal” is not known; it is kept, and nothing else\n"
        "pads.csv:1: column “Zeit” is missing\n"
        "pads.csv:1: the columns are “Nr”, “Kanal”; name them with --map, such as --map car=Nr,time=Zeit\n");
}

BEHAVIOUR(a_column_that_the_map_replaces_does_not_pass_for_it) {
    struct textbuf json = {0};
    struct textbuf why = {0};
    assert_int_equal(column_map_parse(&form.map, "time=Zeit", &why), ERR_OK);
    assert_int_equal(read_text("point,car,time,Zeit,Kanal\nTC1,1,raw,10:42,3\n"), ERR_OK);
    assert_int_equal(file.count, 1);
    reading_row_write_json(&file.rows[0], &json);
    assert_string_equal(textbuf_text(&json), "{\"point\":\"TC1\",\"car\":\"1\",\"time\":\"10:42\","
                                             "\"id\":\"67bc87183bfa5c0d1d03be77c6f4f484\","
                                             "\"time (file)\":\"raw\",\"Kanal\":\"3\"}");
    textbuf_clear(&json);
}

BEHAVIOUR(gaps_are_filled_and_only_gaps) {
    options.point = "TC1";
    options.by = "Old quay";
    assert_int_equal(read_text("car,point,by\n1,,\n2,TC2,A. Vale\n"), ERR_OK);
    assert_int_equal(file.count, 2);
    assert_string_equal(file.rows[0].text.field[READING_POINT], "TC1");
    assert_string_equal(file.rows[0].text.field[READING_BY], "Old quay");
    assert_string_equal(file.rows[1].text.field[READING_POINT], "TC2");
    assert_string_equal(file.rows[1].text.field[READING_BY], "A. Vale");
}

BEHAVIOUR(what_can_be_told_without_a_server_is_told) {
    check(
        "point,car,time,elapsed,faults,id,at,replaces,void,reason\n"
        ",1,10:00,,,,,,,\n"
        "A,0,10:00,,,,,,,\n"
        "A,1,9:0,,,,,,,\n"
        "A,1,10:00:00.1234,,,,,,,\n"
        "A,1,10:00,1.5,,,,,,\n"
        "A,1,,,cone,,,,,\n"
        "A,1,,,,a b,,,,\n"
        "A,1,10:00,,,,yesterday,,,\n"
        "A,1,10:00,,,,,x,,\n"
        "A,1,,,,,,,yes,why\n"
        "A,1,10:00\n"
        "A,1,,,cone=2;line=1,,,,,\n",
        ERR_OK,
        "13 A|1||\n"
        "pads.csv:2: it names no point\n"
        "pads.csv:3: car “0” is no number from 1 to 9999\n"
        "pads.csv:4: time “9:0” is not written as a time of day, such as 10:42:59\n"
        "pads.csv:5: time “10:00:00.1234” has more than three decimals\n"
        "pads.csv:6: it has both a time and an elapsed\n"
        "pads.csv:7: faults “cone” must be written like cone=2;line=1\n"
        "pads.csv:8: id “a b” must be 1 to 64 of A-Z a-z 0-9 . _ : -\n"
        "pads.csv:9: at “yesterday” is no RFC 3339 time with offset, such as 2027-05-20T10:42:59+02:00\n"
        "pads.csv:10: correcting a reading needs a reason\n"
        "pads.csv:11: void needs the id of a reading in “replaces”\n"
        "pads.csv:12: fewer fields than the header has\n");
    assert_int_equal(file.wrong, 11);
}

BEHAVIOUR(a_row_that_says_the_same_goes_once) {
    check("point,car,time,id\nA,1,10:00,x\nA,1,10:00,x\nA,1,10:01,x\nA,2,10:00,\nA,2,10:00,\n",
          ERR_OK,
          "2 A|1|10:00|\n5 A|2|10:00|\n"
          "pads.csv:4: id “x” stands on line 2 with other content\n");
    assert_int_equal(file.repeated, 2);
    assert_int_equal(file.wrong, 1);
}

BEHAVIOUR(other_content_under_one_id_has_another_mark) {
    char first[ROW_DIGEST_LEN + 1];
    assert_int_equal(read_text("point,car,time,id\nA,1,10:00,x\n"), ERR_OK);
    memcpy(first, file.rows[0].digest, sizeof first);
    assert_int_equal(strlen(first), ROW_DIGEST_LEN);
    assert_int_equal(read_text("id,car,point,time\nx,1,A,10:00\n"), ERR_OK);
    assert_string_equal(file.rows[0].digest, first);
    assert_int_equal(read_text("point,car,time,id\nA,1,10:01,x\n"), ERR_OK);
    assert_string_not_equal(file.rows[0].digest, first);
}

BEHAVIOUR(texts_of_another_coding_are_refused_in_words) {
    check("point,car,by\nA,1,K\xF8hler\nA,2,Vale\n", ERR_OK,
          "3 A|2||\npads.csv:2: the text is not UTF-8\n");
}

#define TEST(name) cmocka_unit_test_setup_teardown(name, set_up, tear_down)

BEHAVIOUR(times_of_devices_are_taken) {
    options.point = "T1/1";
    check("car,time,elapsed\n1,9:07:20,\n2,210720.5,\n3,9:07:20 PM,\n4,,0:11.7\n5,75440,\n", ERR_OK,
          "2 T1/1|1|09:07:20|\n3 T1/1|2|21:07:20.5|\n4 T1/1|3|21:07:20|\n5 T1/1|4||00:00:11.7\n"
          "pads.csv:6: “75440” may be seconds of the day or a clock without colons: tell which "
          "with --time-format\n");
}

BEHAVIOUR(columns_have_numbers_and_channels_points) {
    struct textbuf why = {0};
    assert_int_equal(device_form_take_columns(&form, "channel=2,time=3,car=1", &why), ERR_OK);
    assert_int_equal(device_form_take_channel(&form, "C1=T1/1", &why), ERR_OK);
    assert_int_equal(device_form_take_channel(&form, "C1=T1/2", &why), ERR_INPUT);
    textbuf_clear(&why);
    check("7,C1,10:00:00\n\"nonsense\n8;C1;10:00:01,5;x\n9,C9,10:00:02\n10,C1\n", ERR_OK,
          "1 T1/1|7|10:00:00|\n3 T1/1|8|10:00:01.5|\n"
          "pads.csv:2: a quoted field is not closed\n"
          "pads.csv:4: channel “C9” stands at no point: tell it with --channel\n"
          "pads.csv:5: fewer fields than there are columns named\n");
    assert_string_equal(extra_value(file.rows[1].text.extras, "column 4"), "x");
    assert_string_equal(extra_value(file.rows[1].text.extras, "channel"), "C1");
}

BEHAVIOUR(a_clock_that_is_wrong_is_set_right_and_what_it_showed_is_kept) {
    struct textbuf why = {0};
    options.point = "T1/1";
    assert_int_equal(device_form_take_mark(&form, "10:00:00.000=10:00:47.210", &why), ERR_OK);
    textbuf_clear(&why);
    check("car,time\n1,10:00:10.000\n", ERR_OK, "2 T1/1|1|10:00:57.21|\n");
    assert_string_equal(extra_value(file.rows[0].text.extras, "device_time"), "10:00:10.000");
    assert_string_equal(extra_value(file.rows[0].text.extras, "uncertainty_ms"), "3");
}

BEHAVIOUR(a_pulse_of_a_desk_needs_no_car) {
    options.point = "T1/1";
    form.desk = "0123abcd";
    check("time,car\n10:00:00,\n,\n", ERR_OK,
          "2 T1/1||10:00:00|\npads.csv:3: it names neither a car nor a time\n");
}

BEHAVIOUR(notes_of_rejected_rows_are_passed_over) {
    options.point = "T1/1";
    check("car,time\n# cairn: line 9: wrong, \"really\n1,10:00:00\n# cairn: at the end", ERR_OK,
          "3 T1/1|1|10:00:00|\n");
}

BEHAVIOUR(a_part_of_a_file_has_its_own_lines) {
    options.point = "T1/1";
    options.first_line = 101;
    check("car,time,mood\n1,10:00:00,good\n\"2,10:00:01,bad\n3,10:00:02,\"so\n", ERR_OK,
          "101 T1/1|1|10:00:00|\npads.csv:102: a quoted field is not closed\n"
          "pads.csv:103: a quoted field is not closed\n");
    assert_int_equal(file.behind, 104);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        TEST(commas_semicolons_and_tabs_set_columns_apart),
        TEST(a_decimal_comma_is_taken_where_it_is_clear),
        TEST(headings_of_a_device_are_mapped),
        TEST(a_column_that_the_map_replaces_does_not_pass_for_it),
        TEST(gaps_are_filled_and_only_gaps),
        TEST(what_can_be_told_without_a_server_is_told),
        TEST(a_row_that_says_the_same_goes_once),
        TEST(other_content_under_one_id_has_another_mark),
        TEST(texts_of_another_coding_are_refused_in_words),
        TEST(times_of_devices_are_taken),
        TEST(columns_have_numbers_and_channels_points),
        TEST(a_clock_that_is_wrong_is_set_right_and_what_it_showed_is_kept),
        TEST(a_pulse_of_a_desk_needs_no_car),
        TEST(notes_of_rejected_rows_are_passed_over),
        TEST(a_part_of_a_file_has_its_own_lines),
    };
    RUN_BEHAVIOURS(tests);
}
