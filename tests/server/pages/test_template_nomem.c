/* SPDX-License-Identifier: MIT */
/* Templates when memory runs out. */
#include <string.h>

#include "base/err.h"
#include "failing_memory.h"
#include "pages/page.h"
#include "pages/templates.h"
#include "system/words.h"
#include "testing.h"

struct content {
    const char *title;
    int64_t number;
};

static const struct template_hole holes[] = {
    TEMPLATE_HOLE(struct content, title), TEMPLATE_HOLE(struct content, number), {0}};

static const char text[] = "<h1>{title}</h1>{part:a}<b>{number}</b>{end}\n"
                           "{if:number}{word:case-enquiry a} {count:cars number}{end}\n";

static struct template tried = {.file = "tried.html", .holes = holes};

static int compile(struct textbuf *why) {
    return template_compile(&tried, text, text + strlen(text), why);
}

BEHAVIOUR(a_template_is_compiled_whole_or_not_at_all) {
    struct textbuf why = {0};
    int err = ERR_NOMEM;
    long needed = 0;
    for (; err != ERR_OK; needed++) {
        memory_ends_after(needed);
        err = compile(&why);
        memory_is_back();
        if (err == ERR_OK)
            break;
        assert_int_equal(err, ERR_NOMEM);
        assert_null(tried.compiled);
    }
    assert_in_range(needed, 5, 200);
    assert_int_equal(why.len, 0);
    template_free(&tried);
}

BEHAVIOUR(a_page_that_finds_no_memory_has_failed) {
    const struct content content = {"A title", 2};
    struct textbuf why = {0};
    struct page page = {.lang = LANG_EN};
    assert_int_equal(compile(&why), ERR_OK);
    memory_ends_after(0);
    template_write(&page, &tried, &content);
    memory_is_back();
    assert_true(page.m.failed);
    assert_int_equal(page.m.len, 0);
    textbuf_clear(&page.m);
    template_write(&page, &tried, &content);
    assert_string_equal(textbuf_text(&page.m), "<h1>A title</h1>Enquiry <b>2</b> 2 cars\n");
    textbuf_clear(&page.m);
    template_free(&tried);
}

BEHAVIOUR(loading_goes_on_where_memory_was_out) {
    struct textbuf why = {0};
    memory_ends_after(300);
    assert_int_equal(templates_load(&why), ERR_NOMEM);
    memory_is_back();
    assert_int_equal(templates_load(&why), ERR_OK);
    templates_unload();
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_template_is_compiled_whole_or_not_at_all),
        cmocka_unit_test(a_page_that_finds_no_memory_has_failed),
        cmocka_unit_test(loading_goes_on_where_memory_was_out),
    };
    if (words_load() != ERR_OK)
        return 1;
    int failed = cmocka_run_group_tests(tests, NULL, NULL);
    words_unload();
    return failed;
}
