/* SPDX-License-Identifier: MIT */
#include <sodium.h>
#include <string.h>

#include "store/facts_digest.h"
#include "testing.h"

static const char *const left[] = {"TC1", "22", ""};
static const char *const right[] = {"TC1", "2", "2"};

BEHAVIOUR(the_order_of_arrival_has_no_meaning) {
    uint64_t one = 0;
    uint64_t two = 0;
    facts_digest_add(&one, "a", left, COUNT_OF(left));
    facts_digest_add(&one, "b", right, COUNT_OF(right));
    facts_digest_add(&two, "b", right, COUNT_OF(right));
    facts_digest_add(&two, "a", left, COUNT_OF(left));
    assert_true(one == two);
}

BEHAVIOUR(one_id_with_another_content_is_another_fact) {
    uint64_t one = 0;
    uint64_t two = 0;
    facts_digest_add(&one, "a", left, COUNT_OF(left));
    facts_digest_add(&two, "a", right, COUNT_OF(right));
    assert_true(one != two);
}

BEHAVIOUR(one_text_under_two_names_is_two_documents) {
    struct facts_digest one = {0};
    struct facts_digest two = {0};
    facts_digest_add_document(&one, "entries.csv", "text", 4);
    facts_digest_add_document(&two, "starts.csv", "text", 4);
    assert_true(one.document_sum != two.document_sum);
    struct facts_digest none = {0};
    facts_digest_add_document(&none, "starts.csv", NULL, 0);
    assert_true(none.document_sum == 0);
}

BEHAVIOUR(a_word_reads_back) {
    const struct facts_digest held = {13876, 56, 0x0123456789abcdef, UINT64_MAX, 1};
    struct facts_digest back;
    struct textbuf word = {0};
    facts_digest_write(&held, &word);
    assert_string_equal(textbuf_text(&word),
                        "13876-0123456789abcdef.56-ffffffffffffffff.0000000000000001");
    assert_true(facts_digest_parse(textbuf_text(&word), &back));
    assert_int_equal(back.readings, held.readings);
    assert_int_equal(back.decisions, held.decisions);
    assert_true(back.reading_sum == held.reading_sum && back.decision_sum == held.decision_sum &&
                back.document_sum == held.document_sum);
    textbuf_clear(&word);
    assert_true(facts_digest_parse("0", &back));
    assert_int_equal(back.readings, 0);
}

BEHAVIOUR(what_is_no_word_is_refused) {
    static const char *const none[] = {
        "",
        "1",
        "00",
        "-",
        "1-0123456789abcdef",
        "1-0123456789abcdef.1-0123456789abcdef",
        "1-0123456789abcdef.1-0123456789abcdef.",
        "1-0123456789abcdef.1-0123456789abcdef.0123456789abcde",
        "1-0123456789abcdef.1-0123456789abcdef.0123456789abcdef0",
        "1-0123456789abcdef.1-0123456789abcdef.0123456789abcdeg",
        "1-0123456789ABCDEF.1-0123456789abcdef.0123456789abcdef",
        "-1-0123456789abcdef.1-0123456789abcdef.0123456789abcdef",
        "x-0123456789abcdef.1-0123456789abcdef.0123456789abcdef",
        "99999999999-0123456789abcdef.1-0123456789abcdef.0123456789abcdef",
        "1-0123456789abcdef-1-0123456789abcdef.0123456789abcdef"};
    struct facts_digest back;
    for (size_t i = 0; i < COUNT_OF(none); i++) {
        if (facts_digest_parse(none[i], &back))
            fail_msg("“%s” was taken", none[i]);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(the_order_of_arrival_has_no_meaning),
        cmocka_unit_test(one_id_with_another_content_is_another_fact),
        cmocka_unit_test(one_text_under_two_names_is_two_documents),
        cmocka_unit_test(a_word_reads_back),
        cmocka_unit_test(what_is_no_word_is_refused),
    };
    if (sodium_init() < 0)
        return 1;
    RUN_BEHAVIOURS(tests);
}
