/* SPDX-License-Identifier: MIT */
/* found.h - findings as a test looks at them, one at a time. */
#ifndef CAIRN_TESTS_FOUND_H
#define CAIRN_TESTS_FOUND_H

#include "system/findings.h"

/* What the test gives to the functions that it tests. */
extern struct findings found;

/* What was found since the last time it was asked: until the next one. */
const char *found_lines(void);

/* Fails the test where that is not one line that begins so. */
void assert_found(const char *beginning);

#endif
