# SPDX-License-Identifier: MIT
"""The penalty rule: what a deviation or a missing reading costs (contract, 'Penalty rule', 'Units and
steps')."""
from dataclasses import dataclass, replace


@dataclass
class Outcome:
    """What was measured at a scored point, and what the rule alone makes of it.

    Times in milliseconds or None. `read`: the point has a counted reading. `unreached`: read, but beyond a
    time limit, or missed for a fault.
    """
    scheduled: int | None = None
    due: int | None = None
    actual: int | None = None
    deviation: int | None = None
    penalty: int = 0
    fails: int = 0
    state: str = ""
    read: bool = False
    unreached: bool = False


def by_deviation(rule, deviation, outcome):
    """The outcome of a point that was read, for a deviation in milliseconds (early is negative)."""
    outcome = replace(outcome, deviation=deviation)
    return by_sides(rule, max(0, -deviation), max(0, deviation), outcome)


def by_sides(rule, early, late, outcome):
    """The outcome of a point that was read so much early and so much late (at a control it may be both)."""
    outcome = replace(outcome, read=True)
    if beyond(early, rule.early_limit) or beyond(late, rule.late_limit):
        return missed(rule, replace(outcome, unreached=True))
    early_penalty, early_fails = priced(rule, rule.early, early)
    late_penalty, late_fails = priced(rule, rule.late, late)
    penalty = capped(capped(early_penalty, rule.cap_early) + capped(late_penalty, rule.cap_late), rule.cap)
    return scored(replace(outcome, penalty=penalty, fails=early_fails + late_fails))


def beyond(size, limit):
    return limit is not None and size > limit


def scored(outcome):
    return replace(outcome, state="scored" if outcome.penalty or outcome.fails else "clean")


def priced(rule, side, size):
    """The (penalty, fails) of a deviation of `size` on one side, before any cap."""
    if size <= rule.grace:
        return 0, 0
    if rule.grace_deducted:
        size -= rule.grace
    if side.once is not None:
        return side.once, 0
    units = -(-size // rule.per) if rule.part else size // rule.per
    penalty, done = 0, 0
    for upto, rate in side.steps:
        here = units - done if upto is None else max(0, min(units, upto) - done)
        penalty += here * rate
        done += here
    return penalty, side.fails if units else 0


def capped(penalty, cap):
    return penalty if cap is None else min(penalty, cap)


def missed(rule, outcome):
    """The outcome of a point that is missed."""
    return replace(outcome, state="missed", penalty=rule.missed.penalty, fails=rule.missed.fails)


def awaiting_or_missed(rule, is_open, outcome):
    """The outcome where a reading lacks."""
    return replace(outcome, state="awaiting") if is_open else missed(rule, outcome)
