/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <jansson.h>
#include <stdio.h>
#include <string.h>

#include "system/assets.h"
#include "system/words.h"

static json_t *catalogue(enum lang lang) {
    char name[64];
    (void)snprintf(name, sizeof name, "web/words/board.%s.json", lang_code(lang));
    const struct asset *asset = asset_find(name);
    assert_non_null(asset);
    json_t *all =
        json_loadb(asset->bytes, (size_t)(asset->end - asset->bytes), JSON_REJECT_DUPLICATES, NULL);
    assert_true(json_is_object(all));
    return all;
}

/* Which of {0} to {9} a text has, as bits. */
static unsigned holes(const char *text) {
    unsigned found = 0;
    for (; (text = strchr(text, '{')) != NULL; text++) {
        assert_true(text[1] >= '0' && text[1] <= '9' && text[2] == '}');
        found |= 1U << (text[1] - '0');
    }
    return found;
}

static void every_language_says_the_same_things(void **state) {
    json_t *english = catalogue(LANG_EN);
    const char *key;
    json_t *value;
    (void)state;
    assert_true(json_object_size(english) > 100);
    for (int i = LANG_EN + 1; i < LANG_COUNT; i++) {
        json_t *other = catalogue((enum lang)i);
        json_object_foreach(english, key, value) {
            const char *text = json_string_value(json_object_get(other, key));
            if (text == NULL)
                fail_msg("%s lacks “%s”", lang_code((enum lang)i), key);
            /* One may leave its number out: "one check". */
            const char *end = strrchr(key, '.');
            if (end != NULL && strcmp(end, ".one") == 0)
                continue;
            if (holes(text) != holes(json_string_value(value)))
                fail_msg("%s: “%s” puts in other things", lang_code((enum lang)i), key);
        }
        assert_int_equal(json_object_size(other), json_object_size(english));
        json_decref(other);
    }
    json_decref(english);
}

static void a_number_has_both_its_forms(void **state) {
    json_t *english = catalogue(LANG_EN);
    const char *key;
    json_t *value;
    (void)state;
    json_object_foreach(english, key, value) {
        char both[96];
        const char *end = strrchr(key, '.');
        if (end == NULL)
            continue;
        bool one = strcmp(end, ".one") == 0;
        assert_true(one || strcmp(end, ".other") == 0);
        (void)snprintf(both, sizeof both, "%.*s.%s", (int)(end - key), key, one ? "other" : "one");
        assert_non_null(json_object_get(english, both));
    }
    json_decref(english);
}

/* The notes of the board's figures are written into JSON as they are. */
static void notes_need_no_escaping(void **state) {
    static const char *const keys[] = {"fails.one",      "fails.other",  "awaiting.one",
                                       "awaiting.other", "doubtful.one", "doubtful.other",
                                       "finished"};
    (void)state;
    for (int i = 0; i < LANG_COUNT; i++) {
        for (size_t k = 0; k < sizeof keys / sizeof keys[0]; k++)
            assert_null(strpbrk(word((enum lang)i, keys[k]), "&<>\"'\\"));
    }
}

static void the_browser_s_first_choice_of_ours_is_taken(void **state) {
    (void)state;
    assert_int_equal(lang_accepted(NULL), LANG_EN);
    assert_int_equal(lang_accepted(""), LANG_EN);
    assert_int_equal(lang_accepted("*"), LANG_EN);
    assert_int_equal(lang_accepted("de"), LANG_DE);
    assert_int_equal(lang_accepted("DE-ch"), LANG_DE);
    assert_int_equal(lang_accepted("nl, it;q=0.5, fr;q=0.6"), LANG_FR);
    assert_int_equal(lang_accepted("it;q=0.333,fr;q=0.332"), LANG_IT);
    assert_int_equal(lang_accepted("fr;q=0, de;q=0.001"), LANG_DE);
    assert_int_equal(lang_accepted("de;q=0"), LANG_EN);
    assert_int_equal(lang_accepted("deu,frr"), LANG_EN);
    assert_int_equal(lang_accepted(";;,,q=1,-"), LANG_EN);
}

static void put(const char *text, const char *const *args, int count, const char *wanted) {
    struct textbuf b = {0};
    words_put(&b, text, args, count);
    assert_string_equal(textbuf_text(&b), wanted);
    textbuf_clear(&b);
}

static void things_are_put_where_the_language_wants_them(void **state) {
    const char *const args[] = {"<i>a</i>", "b"};
    (void)state;
    put("{1} & {0}", args, 2, "b &amp; <i>a</i>");
    put("{0}{0}", args, 2, "<i>a</i><i>a</i>");
    put("{2}x{", args, 2, "x{");
    put("", args, 2, "");
}

static void numbers_take_their_form_and_sign(void **state) {
    struct textbuf b = {0};
    (void)state;
    assert_string_equal(word_for(LANG_EN, "cars", 1), "{0} car");
    assert_string_equal(word_for(LANG_EN, "cars", 0), "{0} cars");
    assert_string_equal(word_for(LANG_FR, "cars", 0), "{0} voiture");
    assert_string_equal(word_for(LANG_IT, "cars", 2), "{0} vetture");
    assert_true(word_is_one(LANG_FR, 0) && !word_is_one(LANG_DE, 0) && word_is_one(LANG_DE, 1));
    words_decimal(&b, LANG_EN, -1234567);
    words_decimal(&b, LANG_DE, 5);
    words_figure(&b, LANG_FR, "-00:00:01.5");
    assert_string_equal(textbuf_text(&b), "-1234.5670,005-00:00:01,5");
    textbuf_puts(&b, " 10:00:00.25");
    words_point(&b, LANG_IT, b.len - strlen("10:00:00.25"));
    words_point(&b, LANG_IT, b.len);
    assert_string_equal(textbuf_text(&b), "-1234.5670,005-00:00:01,5 10:00:00,25");
    textbuf_clear(&b);
    words_point(&b, LANG_DE, 0);
    assert_int_equal(b.len, 0);
    assert_string_equal(word(LANG_DE, "no such key"), "no such key");
}

static int load(void **state) {
    (void)state;
    return words_load();
}

static int unload(void **state) {
    (void)state;
    words_unload();
    return 0;
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(every_language_says_the_same_things),
        cmocka_unit_test(a_number_has_both_its_forms),
        cmocka_unit_test(notes_need_no_escaping),
        cmocka_unit_test(the_browser_s_first_choice_of_ours_is_taken),
        cmocka_unit_test(things_are_put_where_the_language_wants_them),
        cmocka_unit_test(numbers_take_their_form_and_sign),
    };
    return cmocka_run_group_tests(tests, load, unload);
}
