/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "base/err.h"
#include "live/upload.h"

static const char *const names[] = {"point", "car", "time", "faults", "void"};
static struct upload rows;
static struct textbuf why;

static int parse(enum media media, const char *body) {
    textbuf_reset(&why);
    upload_clear(&rows);
    return upload_parse(media, body, strlen(body), names, 5, 2, NULL, &rows, &why);
}

static void media_types_are_told_without_their_parameters(void **state) {
    (void)state;
    assert_int_equal(media_of("application/json"), MEDIA_JSON);
    assert_int_equal(media_of("Application/JSON; charset=utf-8"), MEDIA_JSON);
    assert_int_equal(media_of("application/x-ndjson"), MEDIA_NDJSON);
    assert_int_equal(media_of("text/csv;header=present"), MEDIA_CSV);
    assert_int_equal(media_of("text/plain"), MEDIA_UNKNOWN);
    assert_int_equal(media_of("application/jsonx"), MEDIA_UNKNOWN);
    assert_int_equal(media_of(NULL), MEDIA_UNKNOWN);
}

static void numbers_keep_the_digits_that_were_sent(void **state) {
    (void)state;
    assert_int_equal(parse(MEDIA_JSON, "[{\"point\":\"S1/finish\",\"car\":22,\"time\":83.450}]"),
                     ERR_OK);
    assert_int_equal(rows.count, 1);
    assert_string_equal(rows.rows[0].fields[1], "22");
    assert_string_equal(rows.rows[0].fields[2], "83.450");
    assert_string_equal(rows.rows[0].fields[3], "");
}

static void faults_may_be_an_object_and_void_a_flag(void **state) {
    (void)state;
    assert_int_equal(parse(MEDIA_JSON,
                           "[{\"point\":\"S1\",\"car\":\"1\",\"faults\":{\"cone\":2,\"line\":1},"
                           "\"void\":true,\"more\":\"x\"}]"),
                     ERR_OK);
    assert_string_equal(rows.rows[0].fields[3], "cone=2;line=1");
    assert_string_equal(rows.rows[0].fields[4], "yes");
    assert_string_equal(rows.rows[0].extras->name, "more");
    assert_string_equal(rows.rows[0].extras->value, "x");
}

static void write_object(struct textbuf *b, int members) {
    textbuf_puts(b, "{\"point\":\"A\",\"car\":1");
    for (int i = 0; i < members; i++)
        textbuf_printf(b, ",\"c%d\":%d", i, i);
    textbuf_putc(b, '}');
}

static void sixty_four_unknown_members_are_kept_and_more_refused(void **state) {
    (void)state;
    struct textbuf body = {0};
    static const int members[] = {EXTRAS_MAX, EXTRAS_MAX + 1, 900};
    for (int form = 0; form < 2; form++) {
        textbuf_reset(&body);
        for (size_t i = 0; i < 3; i++) {
            textbuf_puts(&body, form == 1 ? "\n" : i == 0 ? "[" : ",");
            write_object(&body, members[i]);
        }
        textbuf_puts(&body, form == 1 ? "\n" : "]");
        assert_int_equal(parse(form == 1 ? MEDIA_NDJSON : MEDIA_JSON, body.bytes), ERR_OK);
        assert_int_equal(rows.count, 3);
        assert_null(rows.rows[0].wrong);
        int kept = 0;
        for (const struct extra *e = rows.rows[0].extras; e != NULL; e = e->next)
            kept++;
        assert_int_equal(kept, EXTRAS_MAX);
        for (int i = 1; i < 3; i++)
            assert_string_equal(rows.rows[i].wrong,
                                "it has more than 64 members that are not known");
    }
    textbuf_clear(&body);
}

static void a_broken_line_of_ndjson_holds_up_no_other(void **state) {
    (void)state;
    assert_int_equal(parse(MEDIA_NDJSON, "{\"point\":\"A\",\"car\":1}\n\n{\"point\":\n"
                                         "{\"point\":\"B\",\"car\":2}"),
                     ERR_OK);
    assert_int_equal(rows.count, 3);
    assert_null(rows.rows[0].wrong);
    assert_non_null(rows.rows[1].wrong);
    assert_int_equal(rows.rows[1].line, 3);
    assert_string_equal(rows.rows[2].fields[0], "B");
}

static void a_csv_names_its_lines_and_needs_its_columns(void **state) {
    (void)state;
    assert_int_equal(parse(MEDIA_CSV, "car;point\n1;A\n2;B;C\n"), ERR_OK);
    assert_int_equal(rows.count, 2);
    assert_string_equal(rows.rows[0].fields[0], "A");
    assert_int_equal(rows.rows[1].line, 3);
    assert_non_null(rows.rows[1].wrong);
    assert_int_equal(parse(MEDIA_CSV, "point,time\nA,1\n"), ERR_INPUT);
    assert_non_null(strstr(textbuf_text(&why), "“car” is missing"));
}

static void a_body_that_is_no_list_is_refused_whole(void **state) {
    (void)state;
    assert_int_equal(parse(MEDIA_JSON, "{\"point\":\"A\"}"), ERR_INPUT);
    assert_int_equal(parse(MEDIA_JSON, "[1"), ERR_INPUT);
    assert_int_equal(parse(MEDIA_JSON, "[1,[2],{\"car\":[3]}]"), ERR_OK);
    assert_non_null(rows.rows[0].wrong);
    assert_non_null(rows.rows[1].wrong);
    assert_non_null(rows.rows[2].wrong);
}

/* Lines are small documents, but there may be many of them. */
static void lines_hold_together_what_one_document_may(void **state) {
    enum { LINES = 4000, DEEP = 40 };
    struct textbuf body = {0};
    (void)state;
    for (int i = 0; i < LINES; i++) {
        for (int k = 0; k < DEEP; k++)
            textbuf_putc(&body, '[');
        textbuf_putc(&body, '\n');
    }
    assert_false(body.failed);
    assert_int_equal(parse(MEDIA_NDJSON, textbuf_text(&body)), ERR_INPUT);
    assert_string_equal(
        textbuf_text(&why),
        "body:3751: the lines to here hold more than 150000 objects and lists, or more than 400000 values");
    textbuf_clear(&body);
}

static bool is_given_up(void *context) {
    int *left = context;
    return (*left)-- == 0;
}

/* Asked once for so many rows, and not again once the client has gone. */
static void a_body_is_given_up_when_nobody_waits(void **state) {
    static const struct {
        enum media media;
        const char *before, *row, *after;
    } bodies[] = {{MEDIA_JSON, "[1", ",1", "]"},
                  {MEDIA_NDJSON, "", "1\n", ""},
                  {MEDIA_CSV, "point,car\n", "A,1\n", ""}};
    (void)state;
    for (size_t i = 0; i < sizeof bodies / sizeof bodies[0]; i++) {
        struct textbuf body = {0};
        int left = 1;
        const struct upload_watch watch = {is_given_up, &left};
        textbuf_puts(&body, bodies[i].before);
        for (int k = 0; k < 10 * UPLOAD_STRIDE; k++)
            textbuf_puts(&body, bodies[i].row);
        textbuf_puts(&body, bodies[i].after);
        upload_clear(&rows);
        assert_int_equal(upload_parse(bodies[i].media, textbuf_text(&body), body.len, names, 5, 2,
                                      &watch, &rows, &why),
                         ERR_BUSY);
        assert_int_equal(rows.count, 2 * UPLOAD_STRIDE);
        assert_int_equal(left, -1);
        left = -1;
        upload_clear(&rows);
        assert_int_equal(upload_parse(bodies[i].media, textbuf_text(&body), body.len, names, 5, 2,
                                      &watch, &rows, &why),
                         ERR_OK);
        textbuf_clear(&body);
    }
}

static int tear_down(void **state) {
    (void)state;
    upload_clear(&rows);
    textbuf_clear(&why);
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(media_types_are_told_without_their_parameters),
        cmocka_unit_test(numbers_keep_the_digits_that_were_sent),
        cmocka_unit_test(faults_may_be_an_object_and_void_a_flag),
        cmocka_unit_test(sixty_four_unknown_members_are_kept_and_more_refused),
        cmocka_unit_test(a_broken_line_of_ndjson_holds_up_no_other),
        cmocka_unit_test(a_csv_names_its_lines_and_needs_its_columns),
        cmocka_unit_test(a_body_that_is_no_list_is_refused_whole),
        cmocka_unit_test(lines_hold_together_what_one_document_may),
        cmocka_unit_test(a_body_is_given_up_when_nobody_waits),
    };
    return cmocka_run_group_tests(tests, NULL, tear_down);
}
