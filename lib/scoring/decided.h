/* SPDX-License-Identifier: MIT */
/* decided.h - what decisions of the kinds `penalty` and `fails` add to an item of one car. Source:
 * the contract, "decisions.csv" and the fine points "Decisions". Safe for any number of threads at
 * once, each with a sheet of its own. */
#ifndef CAIRN_DECIDED_H
#define CAIRN_DECIDED_H

#include "scoring/score_sheet.h"

/* What they come to. */
struct decided {
    int64_t penalty; /* thousandths, -DECIMAL_SUM_MAX .. DECIMAL_SUM_MAX */
    int fails;       /* 0 .. FAILS_SUM_MAX */
    int count;       /* of the decisions that count */
};

/* True where a decision of the sheet's car adds to an item: a penalty or fails at the item or at a
 * point of it.
 *   item  its place among the items */
bool decided_at(const struct score_sheet *sheet, const struct decision *decision, int item);

/* The ruling that sets such a decision aside: cancel, notional or waive at what it names, or on the
 * whole item. NULL where it counts. */
const struct decision *decided_aside(const struct score_sheet *sheet,
                                     const struct decision *decision);

/* What the decisions that count add to an item, beside its test_cap. The sheet must be scored. */
struct decided decided_sum(const struct score_sheet *sheet, int item);

/* True where a penalty, fails or faults decision names a scored point, which is then never clean:
 * by its own id, or by that of any point of a control or special test. */
bool decided_names(const struct score_sheet *sheet, int scored);

#endif
