/* SPDX-License-Identifier: MIT */
/* testing.h - cmocka with what it asks for before it, and a short way to write a test.
 * A test is a function whose name is a sentence about behaviour:
 *
 *     BEHAVIOUR(a_time_of_day_may_run_on_past_midnight) { ... } */
#ifndef CAIRN_TESTS_TESTING_H
#define CAIRN_TESTS_TESTING_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#define BEHAVIOUR(name) static void name(__attribute__((unused)) void **state)

#define COUNT_OF(array) (sizeof(array) / sizeof((array)[0]))

/* Runs a table of tests as the whole of main(). */
#define RUN_BEHAVIOURS(tests) return cmocka_run_group_tests(tests, NULL, NULL)

#endif
