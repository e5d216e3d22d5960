/* SPDX-License-Identifier: MIT */
#include "remote/http_client.h"

#include <string.h>

#include "testing.h"

BEHAVIOUR(an_address_begins_with_scheme_host_and_port) {
    static const struct {
        const char *url;
        const char *base; /* "" for none */
    } cases[] = {
        {"http://fell.example", "http://fell.example"},
        {"http://fell.example/", "http://fell.example"},
        {"https://fell.example:8443/a/b?c#d", "https://fell.example:8443"},
        {"http://[::1]:80?x", "http://[::1]:80"},
        {"https://[fd00::7]#x", "https://[fd00::7]"},
        {"http://", ""},
        {"http:///a", ""},
        {"http:fell.example", ""},
        {"ftp://fell.example/", ""},
        {"fell.example", ""},
        {"", ""},
        {"http://:80/", ""},
        {"http://fell.example:/", ""},
        {"http://fell.example:0/", ""},
        {"http://fell.example:65536/", ""},
        {"http://fell.example:000080/", ""},
        {"http://fell.example:8x/", ""},
        {"http://[::1/", ""},
        {"http://[]/", ""},
        {"http://[::1]x/", ""},
        {"http://::1/", ""},
        {"http://who@fell.example/", ""},
        {"http://fell.example\r\nX: y/", ""},
        {"http://fell .example/", ""},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        size_t len = http_base_length(cases[i].url);
        assert_int_equal(len, strlen(cases[i].base));
        assert_memory_equal(cases[i].url, cases[i].base, len);
    }
}

BEHAVIOUR(an_address_is_of_bounded_length) {
    char url[HTTP_BASE_MAX + 16];
    memset(url, 'a', sizeof url);
    memcpy(url, "http://", 7);
    url[HTTP_BASE_MAX] = '/';
    url[HTTP_BASE_MAX + 1] = '\0';
    assert_int_equal(http_base_length(url), HTTP_BASE_MAX);
    url[HTTP_BASE_MAX] = 'a';
    assert_int_equal(http_base_length(url), 0);
}

BEHAVIOUR(this_machine_is_told_from_names_that_begin_like_it) {
    static const char *const here[] = {
        "http://127.0.0.1/",      "https://127.0.0.1:8443", "http://127.4.3.2:80?x",
        "http://localhost",       "http://LocalHost:8080/", "http://[::1]",
        "https://[::1]:8443/a#b",
    };
    static const char *const elsewhere[] = {
        "http://127.evil.example/",
        "http://127.0.0.1.example/",
        "http://localhost.example/",
        "http://[::1.example/",
        "http://[::11]/",
        "http://128.0.0.1/",
        "http://fell.example/",
        "127.0.0.1",
        "",
    };
    for (size_t i = 0; i < COUNT_OF(here); i++)
        assert_true(http_is_this_machine(here[i]));
    for (size_t i = 0; i < COUNT_OF(elsewhere); i++)
        assert_false(http_is_this_machine(elsewhere[i]));
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(an_address_begins_with_scheme_host_and_port),
        cmocka_unit_test(an_address_is_of_bounded_length),
        cmocka_unit_test(this_machine_is_told_from_names_that_begin_like_it),
    };
    RUN_BEHAVIOURS(tests);
}
