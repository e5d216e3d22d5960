/* SPDX-License-Identifier: MIT */
/* penalty.h - what a deviation costs: units, grace, cap. Source: the contract, "Penalty rule". */
#ifndef CAIRN_PENALTY_H
#define CAIRN_PENALTY_H

#include "base/decimal.h"
#include "event/rules.h"

struct json_place;
struct json_reader;
struct json_t;

/* How a cost came about; every step that changed the number is kept for the explanation. */
struct price {
    int64_t charged;  /* ms that were charged: the deviation, less the grace where deducted */
    int64_t units;    /* whole units of it */
    int64_t rate;     /* thousandths a unit; unused where fails */
    int64_t uncapped; /* units times rate */
    int64_t penalty;  /* after the cap */
    int fails;
    bool within_grace; /* there is a deviation and it costs nothing for that */
    bool deducted;
    bool capped;
};

/* The rule before anything is said: second, per second, 1 early and late, no cap, missed 0. */
struct penalty_rule penalty_rule_plain(void);

/* Reads the keys of a rule over what `rule` holds already, key by key.
 *   value  the object; wrong keys and values are reported at `place` */
void penalty_rule_read(const struct json_reader *reader, const struct json_t *value,
                       const struct json_place *place, struct penalty_rule *rule);

/* Sets what follows from other keys, once all are read: `per` is `precision` where it is not given.
 */
void penalty_rule_complete(struct penalty_rule *rule);

/* The cost of a deviation in ms: negative is early, positive late. Limits that turn a late car
 * into a missed one are not considered here. Inline, since it is called for every point of every
 * car. */
static inline struct price penalty_price(const struct penalty_rule *rule, int64_t deviation) {
    struct price price = {0};
    enum side side = deviation < 0 ? SIDE_EARLY : SIDE_LATE;
    int64_t size = side == SIDE_EARLY ? -deviation : deviation;
    if (size <= rule->grace) {
        price.within_grace = size > 0;
        return price;
    }
    price.deducted = rule->grace_deducted && rule->grace > 0;
    price.charged = price.deducted ? size - rule->grace : size;
    price.units = unit_count(price.charged, rule->per);
    if (rule->fails[side] > 0) {
        price.fails = price.units > 0 ? rule->fails[side] : 0;
        return price;
    }
    price.rate = rule->rate[side];
    /* A rate is at most DECIMAL_MAX and units at most some 10^8: their product may pass 2^63. A
     * cost is at most DECIMAL_MAX. */
    if (__builtin_mul_overflow(price.units, price.rate, &price.uncapped) ||
        price.uncapped > DECIMAL_MAX)
        price.uncapped = DECIMAL_MAX;
    price.capped = price.uncapped > rule->cap[side];
    price.penalty = price.capped ? rule->cap[side] : price.uncapped;
    return price;
}

#endif
