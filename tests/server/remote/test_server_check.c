/* SPDX-License-Identifier: MIT */
#include "remote/server_check.h"

#include <string.h>

#include "found.h"
#include "testing.h"

BEHAVIOUR(what_is_no_address_is_told_so) {
    static const char *const none[] = {"",
                                       "localhost",
                                       "ftp://localhost/",
                                       "http://",
                                       "http:///healthz",
                                       "http://:8",
                                       "http://x:/",
                                       "http://x:0/",
                                       "http://x:65536/",
                                       "http://x:80x/",
                                       "http://[x",
                                       "http://[::1]x/",
                                       "http://a@b/",
                                       "http://a b/",
                                       "http://a\nb/",
                                       "https://",
                                       "http://x:99999999999/"};
    for (size_t i = 0; i < COUNT_OF(none); i++) {
        server_check(&found, none[i]);
        const char *text = found_lines();
        assert_memory_equal(text, "bad: ", 5);
        assert_non_null(strstr(text, ": that is no http:// or https:// address\n"));
    }
}

BEHAVIOUR(a_server_says_itself_whether_it_can_write) {
    static const struct {
        const char *body;
        const char *told;
    } cases[] = {
        {"{\"status\":\"ok\",\"can_write\":true}\n", "good: U: it can write\n"},
        {"{\"status\":\"ok\",\"can_write\":true,\"cannot_write\":[]}", "good: U: it can write\n"},
        {"{\"status\":\"ok\",\"can_write\":false}", "bad: U: it cannot write\n"},
        {"{\"status\":\"ok\",\"can_write\":false,\"cannot_write\":["
         "{\"event\":\"a\",\"why\":\"the disk is full\"},{\"event\":\"b\"},{\"why\":\"x\"},7]}",
         "bad: U: it cannot write a: the disk is full\n"
         "bad: U: it cannot write b: no reason given\n"},
        /* as it should be */
        {"{\"status\":\"ok\",\"can_write\":false,\"cannot_write\":[{\"event\":\"a\",\"why\":\"This server stands by for another: send it there. To make this one the first: cairn promote.\"}]}",
         "good: U: a stands by for another server: promote it first to write here\n"},
        /* one of an earlier version */
        {"{\"status\":\"ok\"}\n", "doubtful: U: it does not say whether it can write\n"},
        {"{\"status\":\"ok\",\"can_write\":\"yes\"}",
         "doubtful: U: it does not say whether it can write\n"},
        {"", "bad: U: what answers is no cairn server\n"},
        {"<!doctype html><title>Sign in</title>", "bad: U: what answers is no cairn server\n"},
        {"{\"status\":1}", "bad: U: what answers is no cairn server\n"},
        {"[]", "bad: U: what answers is no cairn server\n"},
    };
    for (size_t i = 0; i < COUNT_OF(cases); i++) {
        server_check_health(&found, "U", cases[i].body, strlen(cases[i].body));
        assert_string_equal(found_lines(), cases[i].told);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(what_is_no_address_is_told_so),
        cmocka_unit_test(a_server_says_itself_whether_it_can_write),
    };
    RUN_BEHAVIOURS(tests);
}
