/* SPDX-License-Identifier: MIT */
#include "system/machine_check.h"

#include "found.h"
#include "testing.h"

BEHAVIOUR(a_clock_that_nobody_sets_is_doubtful_and_not_bad) {
    machine_check_clock(&found, false, 0);
    assert_found("doubtful: clock: nobody");
    machine_check_clock(&found, true, 12345);
    assert_found("good: clock: synchronised, at most 12 ms out");
    machine_check_clock(&found, true, 500000);
    assert_found("good: ");
    machine_check_clock(&found, true, 500001);
    assert_found("doubtful: clock: synchronised, but up to 500 ms out");
}

BEHAVIOUR(a_disk_runs_full_by_bytes_or_by_files) {
    machine_check_disk(&found, "/data", 199, 5000, -1);
    assert_found("bad: disk: /data: 199 MB of 5000 MB free");
    machine_check_disk(&found, "/data", 200, 5000, 1000);
    assert_found("doubtful: ");
    machine_check_disk(&found, "/data", 2000, 5000, 1000);
    assert_found("good: ");
    machine_check_disk(&found, "/data", 2000, 5000, 999);
    assert_string_equal(found_lines(), "good: disk: /data: 2000 MB of 5000 MB free\n"
                                       "bad: disk: /data: room for 999 more files only\n");
}

BEHAVIOUR(open_files_are_listeners) {
    machine_check_open_files(&found, 1023);
    assert_found("bad: open files: 1023");
    machine_check_open_files(&found, 1024);
    assert_found("doubtful: ");
    machine_check_open_files(&found, 4096);
    assert_found("good: ");
}

BEHAVIOUR(memory_that_is_not_told_is_doubtful) {
    machine_check_memory(&found, -1);
    assert_found("doubtful: memory: the system does not tell");
    machine_check_memory(&found, 63);
    assert_found("bad: memory: 63 MB");
    machine_check_memory(&found, 255);
    assert_found("doubtful: ");
    machine_check_memory(&found, 256);
    assert_found("good: ");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_clock_that_nobody_sets_is_doubtful_and_not_bad),
        cmocka_unit_test(a_disk_runs_full_by_bytes_or_by_files),
        cmocka_unit_test(open_files_are_listeners),
        cmocka_unit_test(memory_that_is_not_told_is_doubtful),
    };
    RUN_BEHAVIOURS(tests);
}
