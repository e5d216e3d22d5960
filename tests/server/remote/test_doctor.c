/* SPDX-License-Identifier: MIT */
#include <stdio.h>
#include <string.h>

#include "remote/doctor.h"
#include "testing.h"

static struct doctor found;

/* The only line since the last look. */
static const char *line(void) {
    static char last[1024];
    (void)snprintf(last, sizeof last, "%s", textbuf_text(&found.report));
    textbuf_clear(&found.report);
    return last;
}

static void assert_found(const char *beginning) {
    const char *text = line();
    if (strncmp(text, beginning, strlen(beginning)) != 0)
        fail_msg("“%s” does not begin with “%s”", text, beginning);
    assert_ptr_equal(strchr(text, '\n'), text + strlen(text) - 1);
}

BEHAVIOUR(a_clock_that_nobody_sets_is_doubtful_and_not_bad) {
    doctor_clock(&found, false, 0);
    assert_found("doubtful: clock: nobody");
    doctor_clock(&found, true, 12345);
    assert_found("good: clock: synchronised, at most 12 ms out");
    doctor_clock(&found, true, 500000);
    assert_found("good: ");
    doctor_clock(&found, true, 500001);
    assert_found("doubtful: clock: synchronised, but up to 500 ms out");
}

BEHAVIOUR(a_disk_runs_full_by_bytes_or_by_files) {
    doctor_disk(&found, "/data", 199, 5000, -1);
    assert_found("bad: disk: /data: 199 MB of 5000 MB free");
    doctor_disk(&found, "/data", 200, 5000, 1000);
    assert_found("doubtful: ");
    doctor_disk(&found, "/data", 2000, 5000, 1000);
    assert_found("good: ");
    doctor_disk(&found, "/data", 2000, 5000, 999);
    assert_string_equal(line(), "good: disk: /data: 2000 MB of 5000 MB free\n"
                                "bad: disk: /data: room for 999 more files only\n");
}

BEHAVIOUR(open_files_are_listeners) {
    doctor_open_files(&found, 1023);
    assert_found("bad: open files: 1023");
    doctor_open_files(&found, 1024);
    assert_found("doubtful: ");
    doctor_open_files(&found, 4096);
    assert_found("good: ");
}

BEHAVIOUR(memory_that_is_not_told_is_doubtful) {
    doctor_memory(&found, -1);
    assert_found("doubtful: memory: the system does not tell");
    doctor_memory(&found, 63);
    assert_found("bad: memory: 63 MB");
    doctor_memory(&found, 255);
    assert_found("doubtful: ");
    doctor_memory(&found, 256);
    assert_found("good: ");
}

BEHAVIOUR(a_certificate_must_outlast_the_weekend) {
    enum { DAY = 24 * 60 * 60, NOW = 100 * DAY };
    doctor_dates(&found, "leaf", NOW + 1, NOW + 90 * DAY, NOW);
    assert_found("bad: leaf: the certificate is not good yet");
    doctor_dates(&found, "leaf", 0, NOW, NOW);
    assert_found("bad: leaf: the certificate has run out");
    doctor_dates(&found, "leaf", 0, NOW + 2 * DAY - 1, NOW);
    assert_found("bad: leaf: the certificate is good for 1 more days");
    doctor_dates(&found, "leaf", 0, NOW + 2 * DAY, NOW);
    assert_found("doubtful: ");
    doctor_dates(&found, "leaf", NOW, NOW + 14 * DAY, NOW);
    assert_found("good: leaf: the certificate is good for 14 more days");
}

BEHAVIOUR(a_finding_is_one_line_whatever_it_quotes) {
    struct doctor d = {0};
    doctor_add(&d, FINDING_BAD, "%s", "two\nlines\r\tand \x1b[31mred\x7f, but Åland");
    doctor_add(&d, FINDING_GOOD, "fine");
    assert_string_equal(textbuf_text(&d.report),
                        "bad: two?lines??and ?[31mred?, but Åland\ngood: fine\n");
    assert_int_equal(d.counts[FINDING_BAD], 1);
    assert_int_equal(d.counts[FINDING_DOUBTFUL], 0);
    assert_int_equal(d.counts[FINDING_GOOD], 1);
    textbuf_clear(&d.report);
}

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
        doctor_url(&found, none[i]);
        const char *text = line();
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
        doctor_health(&found, "U", cases[i].body, strlen(cases[i].body));
        assert_string_equal(line(), cases[i].told);
    }
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clock_that_nobody_sets_is_doubtful_and_not_bad),
        cmocka_unit_test(a_disk_runs_full_by_bytes_or_by_files),
        cmocka_unit_test(open_files_are_listeners),
        cmocka_unit_test(memory_that_is_not_told_is_doubtful),
        cmocka_unit_test(a_certificate_must_outlast_the_weekend),
        cmocka_unit_test(a_finding_is_one_line_whatever_it_quotes),
        cmocka_unit_test(what_is_no_address_is_told_so),
        cmocka_unit_test(a_server_says_itself_whether_it_can_write),
    };
    RUN_BEHAVIOURS(tests);
}
