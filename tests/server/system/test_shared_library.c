/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "base/textbuf.h"
#include "system/shared_library.h"

/* Of the C library, which every machine has under this name. */
#define TEXT_FUNCTIONS(X) X(strlen) X(strtol)
#define WRONG_FUNCTIONS(X) X(strlen) X(no_such_function)

int no_such_function(void);

struct text_library {
    TEXT_FUNCTIONS(LIBRARY_MEMBER)
};
struct second_library {
    TEXT_FUNCTIONS(LIBRARY_MEMBER)
};
struct wrong_library {
    WRONG_FUNCTIONS(LIBRARY_MEMBER)
};
struct absent_library {
    TEXT_FUNCTIONS(LIBRARY_MEMBER)
};

static SHARED_LIBRARY(text_library, TEXT_FUNCTIONS, "no text", "libc.so.6");
static SHARED_LIBRARY(second_library, TEXT_FUNCTIONS, "no text", "libmissing.so.1", "libc.so.6");
static SHARED_LIBRARY(wrong_library, WRONG_FUNCTIONS, "too old", "libc.so.6");
static SHARED_LIBRARY(absent_library, TEXT_FUNCTIONS, "not there", "libmissing.so.1");

static void functions_are_found_and_stay(void **state) {
    struct textbuf why = {0};
    const struct text_library *text = text_library(&why);
    (void)state;
    assert_non_null(text);
    assert_int_equal(text->strlen("seven.."), 7);
    assert_int_equal(text->strtol("117", NULL, 10), 117);
    assert_ptr_equal(text_library(&why), text);
    assert_string_equal(textbuf_text(&why), "");
}

static void the_next_file_is_tried(void **state) {
    struct textbuf why = {0};
    const struct second_library *text = second_library(&why);
    (void)state;
    assert_non_null(text);
    assert_int_equal(text->strlen("four"), 4);
    assert_string_equal(textbuf_text(&why), "");
}

static void what_is_not_there_is_told_each_time(void **state) {
    (void)state;
    for (int i = 0; i < 2; i++) {
        struct textbuf why = {0};
        assert_null(absent_library(&why));
        assert_string_equal(textbuf_text(&why), "not there");
        textbuf_reset(&why);
        assert_null(wrong_library(&why));
        assert_string_equal(textbuf_text(&why), "too old");
        textbuf_clear(&why);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(functions_are_found_and_stay),
        cmocka_unit_test(the_next_file_is_tried),
        cmocka_unit_test(what_is_not_there_is_told_each_time),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
