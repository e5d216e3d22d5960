/* SPDX-License-Identifier: MIT */
/* special_test.h - what event.json says of a special test alone. Source: the contract,
 * "special-test", "Special tests", "Attempts" and "Bests". */
#ifndef CAIRN_SPECIAL_TEST_H
#define CAIRN_SPECIAL_TEST_H

#include "event/rules.h"
#include "scoring/bests.h"

/* Most attempts that a test may give. */
enum { ATTEMPTS_MAX = 5 };

/* What is charged: the elapsed, what is over the bogey, or what is behind the best. */
enum special_method { METHOD_ELAPSED, METHOD_OVER_BOGEY, METHOD_BEHIND_BEST };

/* Which attempts make the result. */
enum attempts_counted { COUNTS_BEST, COUNTS_LAST, COUNTS_SUM };

/* What the best is the best of: elapsed times, those of attempts without faults, or the costs of
 * time and faults together. */
enum best_ground { BEST_TIME, BEST_FAULTLESS, BEST_RESULT };

struct special_test {
    int64_t bogey;   /* ms; TIME_NONE where absent */
    int64_t maximum; /* ms; TIME_NONE where absent or by the best */
    enum special_method method;
    enum best_scope scope; /* behind-best: among which cars */
    enum best_ground ground;
    enum attempts_counted counts;

    bool maximum_by_best;          /* the maximum is the best of `maximum_scope` + `plus` */
    enum best_scope maximum_scope; /* unused unless by the best */
    int64_t plus;                  /* ms; unused unless by the best */
};

/* Of an item of this kind. */
static inline const struct special_test *special_test_of(const struct item *item) {
    return item->own;
}

/* True where the maximum is a cost, that of the best result and of `plus`, and no time. */
static inline bool special_maximum_is_cost(const struct special_test *own) {
    return own->maximum_by_best && own->ground == BEST_RESULT;
}

#endif
