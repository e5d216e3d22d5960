/* SPDX-License-Identifier: MIT */
#include "base/textbuf.h"

#include <stdlib.h>
#include <string.h>

#include "testing.h"

BEHAVIOUR(an_empty_buffer_reads_as_empty_text) {
    struct textbuf b = {0};
    assert_string_equal(textbuf_text(&b), "");
    textbuf_clear(&b);
    assert_string_equal(textbuf_text(&b), "");
}

BEHAVIOUR(pieces_follow_one_another) {
    struct textbuf b = {0};
    textbuf_puts(&b, "TC");
    textbuf_int(&b, 12);
    textbuf_putc(&b, '/');
    textbuf_printf(&b, "%s-%03d", "out", 7);
    textbuf_add(&b, "xyz", 2);
    textbuf_add(&b, NULL, 0);
    assert_string_equal(textbuf_text(&b), "TC12/out-007xy");
    assert_int_equal(b.len, strlen("TC12/out-007xy"));
    textbuf_clear(&b);
}

BEHAVIOUR(whole_numbers_are_written_to_their_limits) {
    static const struct {
        int64_t value;
        const char *text;
    } rows[] = {{0, "0"},
                {-1, "-1"},
                {INT64_MAX, "9223372036854775807"},
                {INT64_MIN, "-9223372036854775808"},
                {1000000, "1000000"}};
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        struct textbuf b = {0};
        textbuf_int(&b, rows[i].value);
        assert_string_equal(textbuf_text(&b), rows[i].text);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(formatted_text_may_be_of_any_length) {
    static const size_t lengths[] = {0, 1, 254, 255, 256, 257, 5000};
    for (size_t i = 0; i < COUNT_OF(lengths); i++) {
        struct textbuf b = {0};
        char *long_text = malloc(lengths[i] + 1);
        assert_non_null(long_text);
        memset(long_text, 'x', lengths[i]);
        long_text[lengths[i]] = '\0';
        textbuf_putc(&b, '<');
        textbuf_printf(&b, "%s", long_text);
        textbuf_putc(&b, '>');
        assert_int_equal(b.len, lengths[i] + 2);
        assert_int_equal(strlen(textbuf_text(&b)), b.len);
        assert_memory_equal(b.bytes + 1, long_text, lengths[i]);
        assert_int_equal(b.bytes[b.len - 1], '>');
        free(long_text);
        textbuf_clear(&b);
    }
}

BEHAVIOUR(a_buffer_grows_byte_by_byte) {
    struct textbuf b = {0};
    for (int i = 0; i < 10000; i++) {
        textbuf_putc(&b, (char)('a' + i % 26));
        assert_int_equal(b.bytes[b.len], '\0');
    }
    assert_int_equal(b.len, 10000);
    for (int i = 0; i < 10000; i++)
        assert_int_equal(b.bytes[i], 'a' + i % 26);
    textbuf_clear(&b);
}

BEHAVIOUR(a_nul_byte_counts) {
    struct textbuf b = {0};
    textbuf_add(&b, "a\0b", 3);
    assert_int_equal(b.len, 3);
    assert_memory_equal(b.bytes, "a\0b", 4);
    textbuf_clear(&b);
}

BEHAVIOUR(a_reset_forgets_the_text_and_keeps_the_memory) {
    struct textbuf b = {0};
    textbuf_puts(&b, "something that takes memory");
    char *bytes = b.bytes;
    size_t cap = b.cap;
    textbuf_reset(&b);
    assert_string_equal(textbuf_text(&b), "");
    assert_int_equal(b.len, 0);
    textbuf_puts(&b, "new");
    assert_ptr_equal(b.bytes, bytes);
    assert_int_equal(b.cap, cap);
    assert_string_equal(textbuf_text(&b), "new");
    textbuf_clear(&b);
}

BEHAVIOUR(a_failed_buffer_reads_as_empty_and_takes_no_more) {
    struct textbuf b = {0};
    textbuf_puts(&b, "before");
    /* More than any machine has: refused before memory is asked for. */
    textbuf_add(&b, "x", SIZE_MAX - 2);
    assert_true(b.failed);
    textbuf_puts(&b, "after");
    textbuf_printf(&b, "%d", 5);
    textbuf_int(&b, 5);
    assert_string_equal(textbuf_text(&b), "");
    textbuf_clear(&b);
    assert_false(b.failed);
    textbuf_puts(&b, "again");
    assert_string_equal(textbuf_text(&b), "again");
    textbuf_clear(&b);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_empty_buffer_reads_as_empty_text),
        cmocka_unit_test(pieces_follow_one_another),
        cmocka_unit_test(whole_numbers_are_written_to_their_limits),
        cmocka_unit_test(formatted_text_may_be_of_any_length),
        cmocka_unit_test(a_buffer_grows_byte_by_byte),
        cmocka_unit_test(a_nul_byte_counts),
        cmocka_unit_test(a_reset_forgets_the_text_and_keeps_the_memory),
        cmocka_unit_test(a_failed_buffer_reads_as_empty_and_takes_no_more),
    };
    RUN_BEHAVIOURS(tests);
}
