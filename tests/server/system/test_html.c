/* SPDX-License-Identifier: MIT */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "system/html.h"

static void text_that_could_be_markup_is_escaped(void **state) {
    struct textbuf b = {0};
    (void)state;
    html_text(&b, "<script>alert('1' & \"2\")</script>");
    assert_string_equal(textbuf_text(&b),
                        "&lt;script&gt;alert(&#39;1&#39; &amp; &quot;2&quot;)&lt;/script&gt;");
    textbuf_clear(&b);
}

static void other_text_stays_as_it_is(void **state) {
    struct textbuf b = {0};
    (void)state;
    html_text(&b, "Sándor Győrfalvi 伊藤");
    assert_string_equal(textbuf_text(&b), "Sándor Győrfalvi 伊藤");
    textbuf_clear(&b);
}

static void slots_are_filled_and_unknown_ones_left_out(void **state) {
    static const char text[] = "<p>{{a}}-{{b}}-{{a}}{{c}}</p>{{";
    const struct script_slot slots[] = {{"a", "1"}, {"b", "{{a}}"}};
    struct textbuf b = {0};
    (void)state;
    script_fill(&b, text, text + strlen(text), slots, 2);
    assert_string_equal(textbuf_text(&b), "<p>1-{{a}}-1</p>{{");
    textbuf_clear(&b);
}

static void a_script_ends_where_it_ends(void **state) {
    static const char text[] = "<p>{{a}}{{a}}";
    const struct script_slot slots[] = {{"a", "1"}};
    (void)state;
    for (size_t cut = strlen("<p>{{a}}"); cut < strlen(text); cut++) {
        struct textbuf b = {0};
        script_fill(&b, text, text + cut, slots, 1);
        assert_int_equal(strlen(textbuf_text(&b)), 4 + cut - strlen("<p>{{a}}"));
        assert_memory_equal(textbuf_text(&b), "<p>1{{a}", 4 + cut - strlen("<p>{{a}}"));
        textbuf_clear(&b);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(text_that_could_be_markup_is_escaped),
        cmocka_unit_test(other_text_stays_as_it_is),
        cmocka_unit_test(slots_are_filled_and_unknown_ones_left_out),
        cmocka_unit_test(a_script_ends_where_it_ends),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
