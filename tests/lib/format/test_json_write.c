/* SPDX-License-Identifier: MIT */
#include "format/json_write.h"

#include <jansson.h>

#include "base/textbuf.h"
#include "base/times.h"
#include "testing.h"

/* What was written, which is JSON. */
static void assert_written(struct textbuf *b, const char *expected) {
    json_error_t error;
    json_t *value = json_loads(textbuf_text(b), JSON_DECODE_ANY | JSON_REJECT_DUPLICATES, &error);
    assert_string_equal(textbuf_text(b), expected);
    if (value == NULL)
        fail_msg("%s in %s", error.text, textbuf_text(b));
    json_decref(value);
    textbuf_clear(b);
}

BEHAVIOUR(text_in_json_is_safe_inside_a_page) {
    static const struct {
        const char *text;
        const char *written;
    } rows[] = {
        {"plain", "\"plain\""},
        {"", "\"\""},
        {"a\"b\\c", "\"a\\\"b\\\\c\""},
        {"</script><!--&", "\"\\u003c/script\\u003e\\u003c!--\\u0026\""},
        {"tab\tnew\nline\x01", "\"tab\\u0009new\\u000aline\\u0001\""},
        {"Győr 伊藤", "\"Győr 伊藤\""},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        json_write_text(&b, rows[i].text);
        assert_string_equal(textbuf_text(&b), rows[i].written);
        json_t *value = json_loads(textbuf_text(&b), JSON_DECODE_ANY, NULL);
        assert_string_equal(json_string_value(value), rows[i].text);
        json_decref(value);
        textbuf_reset(&b);
        size_t from = json_open_text(&b);
        textbuf_puts(&b, rows[i].text);
        json_close_text(&b, from);
        assert_string_equal(textbuf_text(&b), rows[i].written);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(members_and_values_are_set_apart_by_commas) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_text(&b, "text", "a");
    json_member_int(&b, "int", -12);
    json_member_bool(&b, "yes", true);
    json_member_bool(&b, "no", false);
    json_member_null(&b, "none");
    json_member_decimal(&b, "penalty", 12500);
    json_key(&b, "last");
    json_write_text(&b, "z");
    json_close_object(&b);
    assert_written(&b, "{\"text\":\"a\",\"int\":-12,\"yes\":true,\"no\":false,\"none\":null,"
                       "\"penalty\":\"12.500\",\"last\":\"z\"}");
    json_open_array(&b);
    json_write_int(&b, 1);
    json_write_bool(&b, false);
    json_write_null(&b);
    json_write_decimal(&b, -1);
    json_write_text(&b, "");
    json_write_time(&b, 0, 0);
    json_write_time(&b, TIME_NONE, 0);
    json_close_array(&b);
    assert_written(&b, "[1,false,null,\"-0.001\",\"\",\"00:00:00\",null]");
}

BEHAVIOUR(objects_and_arrays_stand_in_one_another) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_array(&b, "empty");
    json_close_array(&b);
    json_member_object(&b, "one");
    json_member_array(&b, "list");
    json_open_array(&b);
    json_close_array(&b);
    json_open_object(&b);
    json_close_object(&b);
    json_open_object(&b);
    json_member_int(&b, "n", 1);
    json_close_object(&b);
    json_close_array(&b);
    json_close_object(&b);
    json_member_object(&b, "two");
    json_close_object(&b);
    json_close_object(&b);
    assert_written(&b, "{\"empty\":[],\"one\":{\"list\":[[],{},{\"n\":1}]},\"two\":{}}");
}

BEHAVIOUR(a_line_begins_behind_the_comma) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_line(&b);
    json_member_array(&b, "rows");
    for (int i = 0; i < 3; i++) {
        json_line(&b);
        json_write_int(&b, i);
    }
    json_close_array(&b);
    json_line(&b);
    json_member_text(&b, "end", "x");
    json_close_object(&b);
    assert_written(&b, "{\n\"rows\":[\n0,\n1,\n2],\n\"end\":\"x\"}");
}

BEHAVIOUR(what_is_not_there_is_null) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_text_or_null(&b, "a", NULL);
    json_member_text_or_null(&b, "b", "");
    json_member_positive(&b, "c", 0);
    json_member_positive(&b, "d", 1);
    json_member_time(&b, "e", TIME_NONE, 2);
    json_member_time(&b, "f", 83450, 1);
    json_close_object(&b);
    assert_written(&b,
                   "{\"a\":null,\"b\":\"\",\"c\":null,\"d\":1,\"e\":null,\"f\":\"00:01:23.45\"}");
}

BEHAVIOUR(json_that_is_there_already_is_taken_as_it_is) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_int(&b, "a", 1);
    json_write_raw(&b, "\"b\":2,\"c\":3", 11);
    json_write_raw(&b, NULL, 0);
    json_key(&b, "d");
    json_write_raw(&b, "[4]", 3);
    json_close_object(&b);
    assert_written(&b, "{\"a\":1,\"b\":2,\"c\":3,\"d\":[4]}");
}

BEHAVIOUR(keys_are_escaped_as_texts_are) {
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_text(&b, "a \"b\" <c>", "é");
    json_close_object(&b);
    assert_written(&b, "{\"a \\\"b\\\" \\u003cc\\u003e\":\"é\"}");
}

BEHAVIOUR(what_stands_before_a_document_is_no_value) {
    struct textbuf b = {0};
    textbuf_puts(&b, "data: ");
    json_open_object(&b);
    json_close_object(&b);
    textbuf_puts(&b, "\n");
    json_write_text(&b, "next");
    assert_string_equal(textbuf_text(&b), "data: {}\n\"next\"");
    textbuf_clear(&b);
}

BEHAVIOUR(bytes_are_two_digits_each) {
    static const unsigned char bytes[] = {0x00, 0x0f, 0xa0, 0xff};
    struct textbuf b = {0};
    json_open_object(&b);
    json_member_hex(&b, "hash", bytes, sizeof bytes);
    json_member_hex(&b, "none", bytes, 0);
    json_close_object(&b);
    assert_written(&b, "{\"hash\":\"000fa0ff\",\"none\":\"\"}");
}

BEHAVIOUR(whole_numbers_of_any_size_are_written) {
    struct textbuf b = {0};
    json_open_array(&b);
    json_write_int(&b, INT64_MIN);
    json_write_int(&b, 0);
    json_write_int(&b, INT64_MAX);
    json_write_decimal(&b, INT64_MIN);
    json_close_array(&b);
    assert_written(&b, "[-9223372036854775808,0,9223372036854775807,\"-9223372036854775.808\"]");
}

BEHAVIOUR(every_control_character_is_escaped) {
    char text[0x21] = "";
    struct textbuf b = {0};
    for (int c = 1; c < 0x20; c++)
        text[c - 1] = (char)c;
    text[0x1f] = '\x7f'; /* which JSON takes as it is */
    json_write_text(&b, text);
    json_t *value = json_loads(textbuf_text(&b), JSON_DECODE_ANY, NULL);
    assert_string_equal(json_string_value(value), text);
    assert_int_equal(b.len, 2 + 0x1f * 6 + 1);
    json_decref(value);
    textbuf_clear(&b);
}

/* Deeper than any stack of states that a writer may keep. */
BEHAVIOUR(nothing_is_too_deep) {
    enum { DEPTH = 1000 };
    struct textbuf b = {0};
    for (int i = 0; i < DEPTH; i++) {
        json_open_object(&b);
        json_member_int(&b, "n", i);
        json_member_array(&b, "in");
    }
    for (int i = 0; i < DEPTH; i++) {
        json_close_array(&b);
        json_member_bool(&b, "last", true);
        json_close_object(&b);
    }
    json_t *value = json_loads(textbuf_text(&b), 0, NULL);
    const json_t *at = value;
    for (int i = 0; i < DEPTH; i++) {
        assert_int_equal(json_integer_value(json_object_get(at, "n")), i);
        assert_true(json_is_true(json_object_get(at, "last")));
        at = json_array_get(json_object_get(at, "in"), 0);
    }
    assert_null(at);
    json_decref(value);
    textbuf_clear(&b);
}

BEHAVIOUR(documents_stand_on_lines_of_their_own) {
    struct textbuf b = {0};
    for (int i = 0; i < 2; i++) {
        json_open_object(&b);
        json_member_int(&b, "n", i);
        json_close_document(&b);
    }
    assert_string_equal(textbuf_text(&b), "{\"n\":0}\n{\"n\":1}\n");
    textbuf_clear(&b);
}

BEHAVIOUR(a_failed_buffer_takes_nothing) {
    struct textbuf b = {.failed = true};
    json_open_object(&b);
    json_member_text(&b, "a", "<");
    json_close_text(&b, json_open_text(&b));
    json_close_object(&b);
    assert_int_equal(b.len, 0);
    assert_true(b.failed);
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_in_json_is_safe_inside_a_page),
        cmocka_unit_test(members_and_values_are_set_apart_by_commas),
        cmocka_unit_test(objects_and_arrays_stand_in_one_another),
        cmocka_unit_test(a_line_begins_behind_the_comma),
        cmocka_unit_test(what_is_not_there_is_null),
        cmocka_unit_test(json_that_is_there_already_is_taken_as_it_is),
        cmocka_unit_test(keys_are_escaped_as_texts_are),
        cmocka_unit_test(what_stands_before_a_document_is_no_value),
        cmocka_unit_test(bytes_are_two_digits_each),
        cmocka_unit_test(whole_numbers_of_any_size_are_written),
        cmocka_unit_test(every_control_character_is_escaped),
        cmocka_unit_test(nothing_is_too_deep),
        cmocka_unit_test(documents_stand_on_lines_of_their_own),
        cmocka_unit_test(a_failed_buffer_takes_nothing),
    };
    RUN_BEHAVIOURS(tests);
}
