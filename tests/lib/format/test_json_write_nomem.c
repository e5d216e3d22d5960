/* SPDX-License-Identifier: MIT */
/* The writer where memory runs out at any of its requests. */
#include "format/json_write.h"

#include <string.h>

#include "base/textbuf.h"
#include "failing_memory.h"
#include "testing.h"

/* One of everything; texts with much to escape, so that the buffer grows at every place. */
static void write_all(struct textbuf *b) {
    static const unsigned char bytes[64] = {0xc0};
    char text[400];
    memset(text, '<', sizeof text);
    text[sizeof text - 1] = '\0';
    json_open_object(b);
    for (int i = 0; i < 40; i++) {
        json_member_text(b, text, text);
        json_key(b, "title");
        size_t from = json_open_text(b);
        textbuf_puts(b, text);
        json_close_text(b, from);
        json_member_int(b, "n", i);
        json_member_bool(b, "yes", true);
        json_member_null(b, "none");
        json_member_decimal(b, "penalty", i);
        json_member_time(b, "time", i, 3);
        json_member_hex(b, "hash", bytes, sizeof bytes);
        json_member_array(b, "list");
        json_line(b);
        json_write_raw(b, "1,2", 3);
        json_close_array(b);
    }
    json_close_document(b);
}

BEHAVIOUR(what_is_not_whole_is_marked_and_ends_where_it_is_said_to_end) {
    struct textbuf whole = {0};
    long before = memory_requests();
    write_all(&whole);
    assert_false(whole.failed);
    long needed = memory_requests() - before;
    assert_true(needed > 40);
    for (long given = 0; given < needed; given++) {
        struct textbuf b = {0};
        memory_ends_after(given);
        write_all(&b);
        memory_is_back();
        assert_true(b.failed);
        assert_string_equal(textbuf_text(&b), "");
        if (b.bytes != NULL) {
            assert_int_equal(strlen(b.bytes), b.len);
            assert_memory_equal(b.bytes, whole.bytes, b.len);
        }
        textbuf_clear(&b);
    }
    textbuf_clear(&whole);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_not_whole_is_marked_and_ends_where_it_is_said_to_end),
    };
    RUN_BEHAVIOURS(tests);
}
