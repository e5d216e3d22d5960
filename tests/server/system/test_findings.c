/* SPDX-License-Identifier: MIT */
#include "system/findings.h"
#include "testing.h"

BEHAVIOUR(a_finding_is_one_line_whatever_it_quotes) {
    struct findings found = {0};
    findings_add(&found, FINDING_BAD, "%s", "two\nlines\r\tand \x1b[31mred\x7f, but Åland");
    findings_add(&found, FINDING_GOOD, "fine");
    assert_string_equal(textbuf_text(&found.report),
                        "bad: two?lines??and ?[31mred?, but Åland\ngood: fine\n");
    assert_int_equal(found.counts[FINDING_BAD], 1);
    assert_int_equal(found.counts[FINDING_DOUBTFUL], 0);
    assert_int_equal(found.counts[FINDING_GOOD], 1);
    textbuf_clear(&found.report);
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_finding_is_one_line_whatever_it_quotes),
    };
    RUN_BEHAVIOURS(tests);
}
