/* SPDX-License-Identifier: MIT */
/* server/http/stream_message.c: a text framed once for all its listeners. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "http/stream_message.h"

static void a_message_is_one_chunk(void **state) {
    static const char text[] = "id: 41\ndata: {}\n\n";
    struct stream_message *m = stream_message_new(41, text, sizeof text - 1);
    (void)state;
    assert_non_null(m);
    assert_int_equal(m->revision, 41);
    assert_int_equal(m->len, 4 + 17 + 2);
    assert_memory_equal(m->bytes, "11\r\nid: 41\ndata: {}\n\n\r\n", m->len);
    assert_int_equal(m->plain_len, 17);
    assert_memory_equal(m->bytes + m->plain_at, text, m->plain_len);
    stream_message_release(m);
}

static void it_lives_until_the_last_lets_go(void **state) {
    struct stream_message *m = stream_message_new(0, "x", 1);
    (void)state;
    assert_non_null(m);
    assert_ptr_equal(stream_message_hold(m), m);
    stream_message_release(m);
    assert_int_equal(atomic_load(&m->refs), 1);
    assert_memory_equal(m->bytes, "1\r\nx\r\n", 6);
    stream_message_release(m);
    stream_message_release(NULL);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_message_is_one_chunk),
        cmocka_unit_test(it_lives_until_the_last_lets_go),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
