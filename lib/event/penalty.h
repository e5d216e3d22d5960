/* SPDX-License-Identifier: MIT */
/* penalty.h - what a deviation costs: units, steps, grace, cap. Source: the contract, "Penalty
 * rule" and "Units and steps". */
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
    int64_t units;    /* units of it: whole ones, or those begun */
    int64_t rate;     /* thousandths a unit, or once; unused where fails or steps */
    int64_t uncapped; /* what the units cost together */
    int64_t penalty;  /* after the cap */
    int fails;
    bool within_grace; /* there is a deviation and it costs nothing for that */
    bool deducted;
    bool capped;
};

/* The rule before anything is said: second, per second, 1 early and late, no cap, missed 0. */
struct penalty_rule penalty_rule_plain(void);

/* True for a text such as "1 fail" or "100 once": what a form takes, and event.json says by a key.
 */
bool penalty_has_words(const struct json_t *value);

/* Reads the keys of a rule over what `rule` holds already, key by key.
 *   value  the object; wrong keys and values are reported at `place` */
void penalty_rule_read(const struct json_reader *reader, const struct json_t *value,
                       const struct json_place *place, struct penalty_rule *rule);

/* Reads {"fails": n}, 1 .. FAILS_MAX, what is wrong being reported.
 *   value  the object, whose place is `place`; it may have no other key
 *   out    untouched where anything is wrong
 * Returns: true where nothing is. */
bool fails_read(const struct json_reader *reader, const struct json_t *value,
                const struct json_place *place, int *out);

/* Reports, at the rule's place, that what is missed cannot cost the maximum, and takes it back: for
 * the kinds that have none. */
void penalty_refuse_maximum(const struct json_reader *reader, const struct json_place *place,
                            struct penalty_rule *rule);

/* Sets what follows from other keys, once all are read: `per` is `precision` where it is not given.
 * Reports at `place` what two keys contradict each other in.
 *   value  the object that was read into the rule last */
void penalty_rule_complete(const struct json_reader *reader, const struct json_t *value,
                           const struct json_place *place, struct penalty_rule *rule);

/* The sum of two counts of fails, each 0 .. FAILS_SUM_MAX, cut to the same range. */
static inline int fails_add(int a, int b) {
    return a + b > FAILS_SUM_MAX ? FAILS_SUM_MAX : a + b;
}

/* Units of the step that ends at `to` that are among the first `units`; `from` is the end of the
 * step before, 0 for the first. */
int64_t penalty_step_units(const struct penalty_rule *rule, int64_t units, int64_t from,
                           int64_t to);

/* What a product of units and a rate costs: at most DECIMAL_MAX. A rate is at most that and units
 * some 10^8, so that their product may pass 2^63. */
static inline int64_t penalty_of_units(int64_t units, int64_t rate) {
    int64_t cost;
    return __builtin_mul_overflow(units, rate, &cost) || cost > DECIMAL_MAX ? DECIMAL_MAX : cost;
}

/* Sets what of a deviation of that size is charged. Returns false where none of it is. */
static inline bool price_charge(struct price *price, const struct penalty_rule *rule,
                                int64_t size) {
    if (size <= rule->grace) {
        price->within_grace = size > 0;
        return false;
    }
    price->deducted = rule->grace_deducted && rule->grace > 0;
    price->charged = price->deducted ? size - rule->grace : size;
    return true;
}

/* Sets what it costs from what it would without a cap. */
static inline void price_hold_to_cap(struct price *price, const struct penalty_rule *rule,
                                     enum side side) {
    price->capped = price->uncapped > rule->cap[side];
    price->penalty = price->capped ? rule->cap[side] : price->uncapped;
}

/* price_deviation where a side is charged by another way than whole units at one rate. */
void price_deviation_otherwise(struct price *price, const struct penalty_rule *rule,
                               int64_t deviation);

/* Sets `price` to the cost of a deviation in ms: negative is early, positive late. Limits that turn
 * an early or late car into a missed one are not considered here. Inline, since it is called for
 * every point of every car; what few rules ask for is not. */
static inline void price_deviation(struct price *price, const struct penalty_rule *rule,
                                   int64_t deviation) {
    enum side side = deviation < 0 ? SIDE_EARLY : SIDE_LATE;
    if (rule->charged_otherwise) {
        price_deviation_otherwise(price, rule, deviation);
        return;
    }
    *price = (struct price){0};
    if (!price_charge(price, rule, side == SIDE_EARLY ? -deviation : deviation))
        return;
    price->units = unit_count(price->charged, rule->per);
    price->rate = rule->rate[side];
    price->uncapped = penalty_of_units(price->units, price->rate);
    price_hold_to_cap(price, rule, side);
}

/* The same as a value. */
static inline struct price penalty_price(const struct penalty_rule *rule, int64_t deviation) {
    struct price price;
    price_deviation(&price, rule, deviation);
    return price;
}

#endif
