/* SPDX-License-Identifier: MIT */
#include "http/negotiation.h"

#include "testing.h"

BEHAVIOUR(gzip_is_taken_where_it_is_named_and_not_refused) {
    static const char *const good[] = {"gzip",        "GZip",
                                       "x-gzip",      "br, gzip",
                                       "gzip;q=0.5",  "deflate , gzip ; q=0.001",
                                       "*",           "br;q=1, *;q=0.1",
                                       "*;q=0, gzip", "gzip;q=00.1"};
    static const char *const bad[] = {"",          "br",    "gzipped",         "identity",
                                      "gzip;q=0",  "*;q=0", "gzip; q=0.000",   "*, gzip;q=0",
                                      "br, *;q=0", "gzi",   "gzip ;q=0,br;q=1"};
    for (size_t i = 0; i < COUNT_OF(good); i++) {
        if (!accepts_gzip(good[i]))
            fail_msg("not taken: %s", good[i]);
    }
    for (size_t i = 0; i < COUNT_OF(bad); i++) {
        if (accepts_gzip(bad[i]))
            fail_msg("taken: %s", bad[i]);
    }
    assert_false(accepts_gzip(NULL));
}

BEHAVIOUR(a_tag_is_in_a_list_weak_or_strong_or_by_a_star) {
    assert_true(names_etag("\"r1\"", "\"r1\""));
    assert_true(names_etag("\"r0\", W/\"r1\"", "\"r1\""));
    assert_true(names_etag("*", "\"r1\""));
    assert_false(names_etag("\"r12\"", "\"r1\""));
    assert_false(names_etag("r1", "\"r1\""));
    assert_false(names_etag("", "\"r1\""));
}

BEHAVIOUR(what_has_no_tag_is_in_no_list) {
    assert_false(names_etag("*", ""));
    assert_false(names_etag("\"\"", ""));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(gzip_is_taken_where_it_is_named_and_not_refused),
        cmocka_unit_test(a_tag_is_in_a_list_weak_or_strong_or_by_a_star),
        cmocka_unit_test(what_has_no_tag_is_in_no_list),
    };
    RUN_BEHAVIOURS(tests);
}
