/* SPDX-License-Identifier: MIT */
#include "format/csv.h"

#include <string.h>
#include <unistd.h>

#include "base/textbuf.h"
#include "testing.h"

/* Everything that a text holds, in one line: "LINE[field|field]" a row, "LINE!what is wrong". */
static void dump(struct textbuf *out, const char *text, size_t len) {
    struct csv csv;
    csv_init(&csv, text, len);
    for (;;) {
        enum csv_result result = csv_next(&csv);
        assert_true(result != CSV_NOMEM);
        if (result == CSV_END)
            break;
        textbuf_printf(out, "%s%ld", out->len > 0 ? " " : "", csv.line);
        if (result == CSV_BAD) {
            textbuf_printf(out, "!%s", csv.wrong);
            continue;
        }
        for (size_t i = 0; i < csv.count; i++)
            textbuf_printf(out, "%s%s", i == 0 ? "[" : "|", csv.fields[i]);
        textbuf_putc(out, ']');
    }
    csv_clear(&csv);
}

static void check(const char *text, const char *expected) {
    struct textbuf out = {0};
    dump(&out, text, strlen(text));
    assert_string_equal(textbuf_text(&out), expected);
    textbuf_clear(&out);
}

static void check_bytes(const char *text, size_t len, const char *expected) {
    struct textbuf out = {0};
    dump(&out, text, len);
    assert_string_equal(textbuf_text(&out), expected);
    textbuf_clear(&out);
}

BEHAVIOUR(rows_and_fields_are_told_apart) {
    check("a,b\n1,2\n", "1[a|b] 2[1|2]");
    check("a,b\n1,2", "1[a|b] 2[1|2]");
    check("a\n", "1[a]");
    check("", "");
}

BEHAVIOUR(empty_fields_are_fields) {
    check("a,b,c\n,,\n1,,3\n", "1[a|b|c] 2[||] 3[1||3]");
    check("a,b\n1,", "1[a|b] 2[1|]");
    check("\"\",b\n", "1[|b]");
    check("\"\"\n", "1[]");
}

BEHAVIOUR(every_line_end_is_known) {
    check("a,b\r\n1,2\r\n", "1[a|b] 2[1|2]");
    check("a,b\r1,2\r", "1[a|b] 2[1|2]");
    check("a\n\rb\n", "1[a] 3[b]");
    check("a\r\nb\rc\nd", "1[a] 2[b] 3[c] 4[d]");
}

BEHAVIOUR(blank_lines_are_passed_over_and_counted) {
    check("\n\na,b\n\n1,2\n\r\n\r3,4\n\n", "3[a|b] 5[1|2] 8[3|4]");
    check("\n\n\n", "");
}

BEHAVIOUR(a_byte_order_mark_is_passed_over) {
    check("\xEF\xBB\xBF"
          "a,b\n1,2\n",
          "1[a|b] 2[1|2]");
    check("\xEF\xBB\xBF", "");
    check("\xEF\xBB\xBF\"a\",b\n", "1[a|b]");
    /* only at the very beginning is it one */
    check("a\n\xEF\xBB\xBF"
          "b\n",
          "1[a] 2[\xEF\xBB\xBF"
          "b]");
}

BEHAVIOUR(quotes_hold_separators_line_ends_and_quotes) {
    check("\"a,b\",c\n", "1[a,b|c]");
    check("\"say \"\"hello\"\"\",c\n", "1[say \"hello\"|c]");
    check("\"\"\"\"\n", "1[\"]");
    check("\"one\ntwo\",x\nnext,y\n", "1[one\ntwo|x] 3[next|y]");
    check("\"one\r\ntwo\r\nthree\",x\r\nnext,y\r\n", "1[one\r\ntwo\r\nthree|x] 4[next|y]");
    check("\"one\rtwo\",x\rnext,y\r", "1[one\rtwo|x] 3[next|y]");
}

BEHAVIOUR(a_quote_inside_an_unquoted_field_is_a_character) {
    check("a,b\n5\" gun,x\n", "1[a|b] 2[5\" gun|x]");
}

BEHAVIOUR(nothing_is_trimmed) {
    check(" a , b \n\t1,2 \n", "1[ a | b ] 2[\t1|2 ]");
}

BEHAVIOUR(the_separator_is_told_from_the_header) {
    check("a;b;c\n1,5;2;3\n", "1[a|b|c] 2[1,5|2|3]");
    check("a,b\n1;2,3\n", "1[a|b] 2[1;2|3]");
    check("a;\"b,c,d\"\n1;2\n", "1[a|b,c,d] 2[1|2]");
    check("one\n1;2\n", "1[one] 2[1;2]");
    check("\n\r\na;b\n1;2\n", "3[a|b] 4[1|2]");
    check("a;b\n\"1;2\";3\n", "1[a|b] 2[1;2|3]");
}

BEHAVIOUR(a_bad_row_does_not_spoil_the_next) {
    check("a,b\n\"1\"x,2\n3,4\n", "1[a|b] 2!text stands behind a closing quote 3[3|4]");
    check_bytes("a\nx\0y\nz\n", 8, "1[a] 2!a NUL byte is not text 3[z]");
    check("a\nx\xFFy\nz\n", "1[a] 2!the text is not UTF-8 3[z]");
    check("a\n\"x\" \nz\n", "1[a] 2!text stands behind a closing quote 3[z]");
}

BEHAVIOUR(a_quote_that_nothing_closes_costs_its_own_line_only) {
    check("a\n\"x\ny\nz\n", "1[a] 2!a quoted field is not closed 3[y] 4[z]");
    check("a\r\n\"x\r\ny\r\n", "1[a] 2!a quoted field is not closed 3[y]");
    check("\"", "1!a quoted field is not closed");
    check("a\n\"x\"\"", "1[a] 2!a quoted field is not closed");
}

/* Each line's quote stays open to the end of the text: looked for each time, that would be the
 * square of it (some minutes for this one). The alarm is for a hang, not for slowness. */
BEHAVIOUR(a_quote_left_open_in_each_line_does_not_cost_the_square) {
    enum { LINES = 400000 };
    static const char line[] = "a\",\"\n";
    struct textbuf text = {0};
    struct csv csv;
    for (int i = 0; i < LINES; i++)
        textbuf_puts(&text, line);
    (void)alarm(60);
    csv_init(&csv, textbuf_text(&text), text.len);
    for (int i = 0; i < LINES; i++) {
        assert_int_equal(csv_next(&csv), CSV_BAD);
        assert_int_equal(csv.line, i + 1);
        assert_string_equal(csv.wrong, "a quoted field is not closed");
    }
    assert_int_equal(csv_next(&csv), CSV_END);
    (void)alarm(0);
    csv_clear(&csv);
    textbuf_clear(&text);
}

BEHAVIOUR(rows_behind_many_open_quotes_are_read) {
    struct textbuf text = {0};
    struct textbuf out = {0};
    for (int i = 0; i < 10; i++)
        textbuf_puts(&text, "a\",\"\n");
    textbuf_puts(&text, "\"\",b\n\",\",c\nd,e\n");
    dump(&out, textbuf_text(&text), text.len);
    assert_non_null(strstr(textbuf_text(&out), "10!a quoted field is not closed"
                                               " 11[|b] 12[,|c] 13[d|e]"));
    textbuf_clear(&text);
    textbuf_clear(&out);
}

BEHAVIOUR(what_is_not_utf_8_is_refused) {
    static const char *const bad[] = {"\x80",         "\xC0\xAF",         "\xE0\x80\xAF",
                                      "\xED\xA0\x80", "\xF4\x90\x80\x80", "\xC3",
                                      "\xF0\x9F\x8F"};
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        struct textbuf text = {0};
        textbuf_printf(&text, "a,b\n%s,2\n", bad[i]);
        check(textbuf_text(&text), "1[a|b] 2!the text is not UTF-8");
        textbuf_clear(&text);
    }
    check("a\n\"\xC3\"\n", "1[a] 2!the text is not UTF-8");
}

BEHAVIOUR(rows_may_be_ragged_here) {
    check("a,b\n1\n1,2,3\n", "1[a|b] 2[1] 3[1|2|3]");
}

BEHAVIOUR(a_cleared_reader_can_be_set_up_again) {
    struct csv csv;
    csv_init(&csv, "a\nb\n", 4);
    assert_int_equal(csv_next(&csv), CSV_ROW);
    csv_clear(&csv);
    csv_init(&csv, "c", 1);
    assert_int_equal(csv_next(&csv), CSV_ROW);
    assert_string_equal(csv.fields[0], "c");
    assert_int_equal(csv_next(&csv), CSV_END);
    assert_int_equal(csv_next(&csv), CSV_END);
    csv_clear(&csv);
}

BEHAVIOUR(fields_are_quoted_where_they_must_be) {
    static const struct {
        const char *field;
        const char *written;
    } rows[] = {
        {"plain", "plain"},
        {"", ""},
        {"a,b", "\"a,b\""},
        {"a;b", "\"a;b\""},
        {"a\nb", "\"a\nb\""},
        {"a\rb", "\"a\rb\""},
        {"say \"x\"", "\"say \"\"x\"\"\""},
        {" a", "\" a\""},
        {"a ", "\"a \""},
        {"a b", "a b"},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        csv_write_field(&b, rows[i].field);
        assert_string_equal(textbuf_text(&b), rows[i].written);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(what_a_spreadsheet_would_run_is_kept_as_text) {
    static const struct {
        const char *field;
        const char *written;
    } rows[] = {
        {"=1+1", "'=1+1"},
        {"+44", "'+44"},
        {"-x", "'-x"},
        {"@me", "'@me"},
        {"\tx", "\"'\tx\""},
        {"\rx", "\"'\rx\""},
        {"\n=x", "\"'\n=x\""},
        {"a\t=x", "\"a\t=x\""},
        {"a=b", "a=b"},
        {"-", "-"},
        {"", ""},
        {"=\"a,b\"", "\"'=\"\"a,b\"\"\""},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        csv_write_text(&b, rows[i].field);
        assert_string_equal(textbuf_text(&b), rows[i].written);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(what_was_written_reads_back) {
    static const char *const fields[] = {"a,b;c", "\"", " x ", "one\r\ntwo", "Győr", "", "'"};
    struct textbuf b = {0};
    struct csv csv;
    textbuf_puts(&b, "h1,h2,h3,h4,h5,h6,h7\n");
    for (size_t i = 0; i < COUNT_OF(fields); i++) {
        if (i > 0)
            textbuf_putc(&b, ',');
        csv_write_field(&b, fields[i]);
    }
    csv_init(&csv, b.bytes, b.len);
    assert_int_equal(csv_next(&csv), CSV_ROW);
    assert_int_equal(csv_next(&csv), CSV_ROW);
    assert_int_equal(csv.count, COUNT_OF(fields));
    for (size_t i = 0; i < COUNT_OF(fields); i++)
        assert_string_equal(csv.fields[i], fields[i]);
    csv_clear(&csv);
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(rows_and_fields_are_told_apart),
        cmocka_unit_test(empty_fields_are_fields),
        cmocka_unit_test(every_line_end_is_known),
        cmocka_unit_test(blank_lines_are_passed_over_and_counted),
        cmocka_unit_test(a_byte_order_mark_is_passed_over),
        cmocka_unit_test(quotes_hold_separators_line_ends_and_quotes),
        cmocka_unit_test(a_quote_inside_an_unquoted_field_is_a_character),
        cmocka_unit_test(nothing_is_trimmed),
        cmocka_unit_test(the_separator_is_told_from_the_header),
        cmocka_unit_test(a_bad_row_does_not_spoil_the_next),
        cmocka_unit_test(a_quote_that_nothing_closes_costs_its_own_line_only),
        cmocka_unit_test(a_quote_left_open_in_each_line_does_not_cost_the_square),
        cmocka_unit_test(rows_behind_many_open_quotes_are_read),
        cmocka_unit_test(what_is_not_utf_8_is_refused),
        cmocka_unit_test(rows_may_be_ragged_here),
        cmocka_unit_test(a_cleared_reader_can_be_set_up_again),
        cmocka_unit_test(fields_are_quoted_where_they_must_be),
        cmocka_unit_test(what_a_spreadsheet_would_run_is_kept_as_text),
        cmocka_unit_test(what_was_written_reads_back),
    };
    RUN_BEHAVIOURS(tests);
}
