/* SPDX-License-Identifier: MIT */
/* special_test.h - what event.json says of a special test alone. Source: the contract,
 * "special-test". */
#ifndef CAIRN_SPECIAL_TEST_H
#define CAIRN_SPECIAL_TEST_H

#include "event/rules.h"

/* What is charged: the elapsed, what is over the bogey, or what is behind the best. */
enum special_method { METHOD_ELAPSED, METHOD_OVER_BOGEY, METHOD_BEHIND_BEST };

struct special_test {
    int64_t bogey;   /* ms; TIME_NONE where absent */
    int64_t maximum; /* ms; TIME_NONE where absent */
    enum special_method method;
    bool scope_class; /* the best is that of the class */
};

/* Of an item of this kind. */
static inline const struct special_test *special_test_of(const struct item *item) {
    return item->own;
}

#endif
