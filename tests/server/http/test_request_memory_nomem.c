/* SPDX-License-Identifier: MIT */
/* What a request owns, also when memory is out. */
#include "http/request.h"

#include <string.h>

#include "base/arena.h"
#include "failing_memory.h"
#include "testing.h"

/* Things that say when they are freed. */
static char freed[16];

static void note(void *thing) {
    strcat(freed, thing);
}

static int begin(void **state) {
    (void)state;
    memory_is_back();
    freed[0] = '\0';
    return 0;
}

BEHAVIOUR(nothing_is_asked_of_the_system_before_something_is_put_in) {
    struct request r = {.detail = ""};
    long before = memory_requests();
    request_memory_clear(&r);
    assert_true(request_owns(&r, NULL, note));
    assert_int_equal(memory_requests(), before);
    assert_null(r.memory.arena);
}

BEHAVIOUR(what_was_put_in_last_is_freed_first) {
    struct request r = {.detail = ""};
    assert_true(request_owns(&r, "a", note));
    assert_true(request_owns(&r, "b", note));
    assert_true(request_owns(&r, "c", note));
    assert_string_equal(freed, "");
    request_memory_clear(&r);
    assert_string_equal(freed, "cba");
    request_memory_clear(&r);
    assert_string_equal(freed, "cba");
}

BEHAVIOUR(a_request_can_be_used_after_its_memory_was_cleared) {
    struct request r = {.detail = ""};
    textbuf_puts(request_text(&r), "one");
    request_memory_clear(&r);
    struct textbuf *b = request_text(&r);
    textbuf_puts(b, "two");
    assert_string_equal(textbuf_text(b), "two");
    request_memory_clear(&r);
}

BEHAVIOUR(a_thing_that_cannot_be_noted_is_freed_at_once) {
    struct request r = {.detail = ""};
    memory_ends_after(0);
    assert_false(request_owns(&r, "a", note));
    assert_string_equal(freed, "a");
    memory_is_back();
    request_memory_clear(&r);
    assert_string_equal(freed, "a");
}

BEHAVIOUR(a_buffer_is_always_given_and_has_failed_when_memory_is_out) {
    struct request r = {.detail = ""};
    memory_ends_after(0);
    struct textbuf *b = request_text(&r);
    textbuf_puts(b, "lost");
    assert_true(b->failed);
    assert_string_equal(textbuf_text(b), "");
    assert_null(request_array(&r, 4, 4));
    memory_is_back();
    request_memory_clear(&r);
}

BEHAVIOUR(an_error_is_described_in_words_that_are_text) {
    struct request r = {.detail = ""};
    assert_int_equal(request_fail(&r, 404, "There is no car “%s”.", "1\xff"), 404);
    assert_string_equal(r.detail, "There is no car ???1????.");
    assert_int_equal(request_fail(&r, 400, "%d", 7), 400);
    assert_string_equal(r.detail, "7");
    request_memory_clear(&r);
    assert_string_equal(r.detail, "");
}

BEHAVIOUR(an_error_has_its_status_also_when_memory_is_out) {
    struct request r = {.detail = ""};
    memory_ends_after(0);
    assert_int_equal(request_fail(&r, 404, "There is none."), 404);
    assert_string_equal(r.detail, "");
    assert_int_equal(request_no_memory(&r), 503);
    assert_string_equal(r.detail, "Out of memory; try again.");
    memory_is_back();
    request_memory_clear(&r);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test_setup(nothing_is_asked_of_the_system_before_something_is_put_in, begin),
        cmocka_unit_test_setup(what_was_put_in_last_is_freed_first, begin),
        cmocka_unit_test_setup(a_request_can_be_used_after_its_memory_was_cleared, begin),
        cmocka_unit_test_setup(a_thing_that_cannot_be_noted_is_freed_at_once, begin),
        cmocka_unit_test_setup(a_buffer_is_always_given_and_has_failed_when_memory_is_out, begin),
        cmocka_unit_test_setup(an_error_is_described_in_words_that_are_text, begin),
        cmocka_unit_test_setup(an_error_has_its_status_also_when_memory_is_out, begin),
    };
    RUN_BEHAVIOURS(tests);
}
