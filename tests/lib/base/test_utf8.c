/* SPDX-License-Identifier: MIT */
#include "base/utf8.h"

#include <stdio.h>
#include <string.h>

#include "testing.h"

BEHAVIOUR(well_formed_text_is_valid) {
    static const char *const good[] = {"",
                                       "plain ASCII that is longer than eight bytes",
                                       "Sándor Győrfalvi",
                                       "伊藤",
                                       "\x7F",
                                       "\xC2\x80",
                                       "\xDF\xBF",
                                       "\xE0\xA0\x80",
                                       "\xED\x9F\xBF",
                                       "\xEE\x80\x80",
                                       "\xEF\xBF\xBF",
                                       "\xF0\x90\x80\x80",
                                       "\xF4\x8F\xBF\xBF",
                                       "12345678é",
                                       "1234567é12345678"};
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        if (!utf8_valid(good[i], strlen(good[i])))
            fail_msg("“%s” should be valid", good[i]);
    }
}

BEHAVIOUR(malformed_text_is_not_valid) {
    static const struct {
        const char *why;
        const char *text;
    } bad[] = {
        {"a lone continuation", "\x80"},
        {"a lone continuation behind others", "12345678\xBF"},
        {"a two-byte form cut short", "\xC3"},
        {"a three-byte form cut short", "\xE2\x82"},
        {"a four-byte form cut short", "\xF0\x9F\x8F"},
        {"a form cut short by ASCII", "\xE2\x82x"},
        {"an overlong nought", "\xC0\x80"},
        {"an overlong slash of two bytes", "\xC1\xBF"},
        {"an overlong form of three bytes", "\xE0\x9F\xBF"},
        {"an overlong form of four bytes", "\xF0\x8F\xBF\xBF"},
        {"the first surrogate", "\xED\xA0\x80"},
        {"the last surrogate", "\xED\xBF\xBF"},
        {"past the last character", "\xF4\x90\x80\x80"},
        {"a lead byte that is never used", "\xF5\x80\x80\x80"},
        {"no UTF-8 at all", "\xFF"},
    };
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        if (utf8_valid(bad[i].text, strlen(bad[i].text)))
            fail_msg("%s should not be valid", bad[i].why);
    }
}

BEHAVIOUR(only_the_given_length_is_looked_at) {
    assert_true(utf8_valid("ab\xFF", 2));
    assert_false(utf8_valid("é", 1));
    assert_true(utf8_valid("a\0b", 3));
}

BEHAVIOUR(every_character_is_read_as_it_was_written) {
    /* All characters, written by the definition of UTF-8, must be valid and read back. */
    for (uint32_t c = 1; c <= 0x10FFFF; c = c == 0xD7FF ? 0xE000 : c + 1) {
        char text[5] = {0};
        if (c < 0x80) {
            text[0] = (char)c;
        } else if (c < 0x800) {
            text[0] = (char)(0xC0 | c >> 6);
            text[1] = (char)(0x80 | (c & 0x3F));
        } else if (c < 0x10000) {
            text[0] = (char)(0xE0 | c >> 12);
            text[1] = (char)(0x80 | (c >> 6 & 0x3F));
            text[2] = (char)(0x80 | (c & 0x3F));
        } else {
            text[0] = (char)(0xF0 | c >> 18);
            text[1] = (char)(0x80 | (c >> 12 & 0x3F));
            text[2] = (char)(0x80 | (c >> 6 & 0x3F));
            text[3] = (char)(0x80 | (c & 0x3F));
        }
        const char *p = text;
        if (!utf8_valid(text, strlen(text)) || utf8_next(&p) != c || *p != '\0')
            fail_msg("U+%04X is not read back", (unsigned)c);
    }
}

BEHAVIOUR(a_bad_byte_reads_as_the_replacement_character) {
    const char *p = "\x80x";
    assert_int_equal(utf8_next(&p), 0xFFFD);
    assert_int_equal(utf8_next(&p), 'x');
    p = "\xE2\x82x";
    assert_int_equal(utf8_next(&p), 0xFFFD);
    assert_int_equal(utf8_next(&p), 'x');
    p = "\xC3";
    assert_int_equal(utf8_next(&p), 0xFFFD);
    assert_int_equal(*p, '\0');
}

BEHAVIOUR(width_is_what_a_board_shows) {
    static const struct {
        const char *text;
        int width;
    } rows[] = {
        {"", 0},
        {"Alder", 5},
        {"Győrfalvi", 9},
        {"Gyo\xCC\x8Brfalvi", 9}, /* o and a combining double acute */
        {"伊藤", 4},
        {"한국", 4},
        {"カナ", 4},
        {"Ａ", 2}, /* full width */
        {"ﾊ", 1},  /* half width */
        {"דוד", 3},
        {"\xE2\x80\x8F"
         "דוד",
         3},               /* a right-to-left mark takes no column */
        {"ד\xD6\xB8ו", 2}, /* a vowel point under a letter */
        {"a\xE2\x80\x8B"
         "b",
         2},                  /* a zero-width space */
        {"ก\xE0\xB8\xB4", 1}, /* a Thai vowel above */
        {"–", 1},
        {"─", 1},
    };
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        if (utf8_width(rows[i].text) != rows[i].width)
            fail_msg("“%s” is %d wide", rows[i].text, utf8_width(rows[i].text));
    }
}

static void a_beginning_cuts_no_character(void **state) {
    static const struct {
        const char *text;
        size_t most;
        size_t fits;
    } rows[] = {{"", 0, 0},     {"", 5, 0},   {"abc", 3, 3}, {"abc", 2, 2},
                {"abc", 0, 0},  {"aé", 2, 1}, {"aé", 3, 3},  {"伊藤", 5, 3},
                {"伊藤", 6, 6}, {"𝄞x", 3, 0}, {"𝄞x", 4, 4},  {"𝄞x", 9, 5}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++)
        assert_int_equal(utf8_fit(rows[i].text, rows[i].most), rows[i].fits);
}

static void code_points_without_a_character_are_known(void **state) {
    static const uint32_t none[] = {0xFDD0,  0xFDEF,  0xFFFE,   0xFFFF,
                                    0x1FFFE, 0x2FFFF, 0x10FFFE, 0x10FFFF};
    static const uint32_t some[] = {0, 'a', 0xFDCF, 0xFDF0, 0xFFFD, 0x10000, 0x1FFFD, 0x10FFFD};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(none); i++)
        assert_true(utf8_is_noncharacter(none[i]));
    for (size_t i = 0; i < COUNT_OF(some); i++)
        assert_false(utf8_is_noncharacter(some[i]));
}

static void any_bytes_are_made_a_line_of_text(void **state) {
    static const struct {
        const char *text, *masked;
    } rows[] = {{"", ""},
                {"Győrfalvi", "Győrfalvi"},
                {"a\nb\tc\x7F", "a?b?c?"},
                {"caf\xE9", "caf?"},
                {"é \xFF", "?? ?"}};
    (void)state;
    for (size_t i = 0; i < COUNT_OF(rows); i++) {
        char text[32];
        (void)snprintf(text, sizeof text, "%s", rows[i].text);
        utf8_mask(text);
        assert_string_equal(text, rows[i].masked);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(well_formed_text_is_valid),
        cmocka_unit_test(malformed_text_is_not_valid),
        cmocka_unit_test(only_the_given_length_is_looked_at),
        cmocka_unit_test(every_character_is_read_as_it_was_written),
        cmocka_unit_test(a_bad_byte_reads_as_the_replacement_character),
        cmocka_unit_test(width_is_what_a_board_shows),
        cmocka_unit_test(a_beginning_cuts_no_character),
        cmocka_unit_test(code_points_without_a_character_are_known),
        cmocka_unit_test(any_bytes_are_made_a_line_of_text),
    };
    RUN_BEHAVIOURS(tests);
}
