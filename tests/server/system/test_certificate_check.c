/* SPDX-License-Identifier: MIT */
#include "system/certificate_check.h"

#include "found.h"
#include "testing.h"

BEHAVIOUR(a_certificate_must_outlast_the_weekend) {
    enum { DAY = 24 * 60 * 60, NOW = 100 * DAY };
    certificate_check_dates(&found, "leaf", NOW + 1, NOW + 90 * DAY, NOW);
    assert_found("bad: leaf: the certificate is not good yet");
    certificate_check_dates(&found, "leaf", 0, NOW, NOW);
    assert_found("bad: leaf: the certificate has run out");
    certificate_check_dates(&found, "leaf", 0, NOW + 2 * DAY - 1, NOW);
    assert_found("bad: leaf: the certificate is good for 1 more days");
    certificate_check_dates(&found, "leaf", 0, NOW + 2 * DAY, NOW);
    assert_found("doubtful: ");
    certificate_check_dates(&found, "leaf", NOW, NOW + 14 * DAY, NOW);
    assert_found("good: leaf: the certificate is good for 14 more days");
}

int main(void) {
    const struct CMUnitTest tests[] = {
        cmocka_unit_test(a_certificate_must_outlast_the_weekend),
    };
    RUN_BEHAVIOURS(tests);
}
