/* SPDX-License-Identifier: MIT */
/* What a form of a page sends is taken apart as the URL standard has it, or refused whole. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <string.h>

#include <cmocka.h>

#include "base/err.h"
#include "http/form_body.h"

static const char *const names[] = {"code", "text"};

static int read_text(struct form_body *form, const char *body) {
    return form_body_read(form, body, strlen(body), names, 2);
}

static void fields_are_decoded_in_any_order(void **state) {
    static const struct {
        const char *body, *code, *text;
    } cases[] = {{"code=a&text=b", "a", "b"},
                 {"text=b+c%20d&code=%C3%A9", "é", "b c d"},
                 {"text=%26%3D%2B%25", "", "&=+%"},
                 {"text=a=b", "", "a=b"},
                 {"text=100%", "", "100%"},
                 {"text=%zz%4", "", "%zz%4"},
                 {"c%6Fde=x", "x", ""},
                 {"code&text", "", ""},
                 {"", "", ""},
                 {"&&code=a&", "a", ""}};
    (void)state;
    for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
        struct form_body form;
        assert_int_equal(read_text(&form, cases[i].body), ERR_OK);
        assert_true(form.read);
        assert_string_equal(form.values[0], cases[i].code);
        assert_string_equal(form.values[1], cases[i].text);
        form_body_clear(&form);
        assert_false(form.read);
    }
}

static void what_no_form_sends_is_refused(void **state) {
    static const char *const bodies[] = {
        "other=x",  "code=a&code=b",         "code=%00",  "text=%ff",
        "text=%C3", "code=a&text=%ED%A0%80", "code%00=a", "=a"};
    struct form_body form;
    (void)state;
    for (size_t i = 0; i < sizeof bodies / sizeof bodies[0]; i++) {
        assert_int_equal(read_text(&form, bodies[i]), ERR_INPUT);
        assert_false(form.read);
        form_body_clear(&form);
    }
    assert_int_equal(form_body_read(&form, "code=a\0b", 8, names, 2), ERR_INPUT);
    form_body_clear(&form);
    assert_int_equal(form_body_read(&form, NULL, 0, names, 2), ERR_OK);
    form_body_clear(&form);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(fields_are_decoded_in_any_order),
        cmocka_unit_test(what_no_form_sends_is_refused),
    };
    return cmocka_run_group_tests(tests, NULL, NULL);
}
