/* SPDX-License-Identifier: MIT */
#include "format/percent.h"

#include "base/textbuf.h"
#include "testing.h"

static void assert_written(const char *text, const char *keep, const char *expected) {
    struct textbuf b = {0};
    percent_write(&b, text, keep);
    assert_string_equal(textbuf_text(&b), expected);
    textbuf_clear(&b);
}

BEHAVIOUR(letters_digits_and_four_signs_stay) {
    assert_written("azAZ09-._~", "", "azAZ09-._~");
    assert_written("", "", "");
}

BEHAVIOUR(every_other_byte_is_escaped) {
    assert_written("a b&c=d?e#f%/+,\n", "", "a%20b%26c%3Dd%3Fe%23f%25%2F%2B%2C%0A");
    assert_written("é", "", "%C3%A9");
    assert_written("\xff", "", "%FF");
}

BEHAVIOUR(what_is_to_stay_is_named) {
    assert_written("S1/finish,2", "/", "S1/finish%2C2");
    assert_written("S1/finish,2", "/,", "S1/finish,2");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(letters_digits_and_four_signs_stay),
        cmocka_unit_test(every_other_byte_is_escaped),
        cmocka_unit_test(what_is_to_stay_is_named),
    };
    RUN_BEHAVIOURS(tests);
}
