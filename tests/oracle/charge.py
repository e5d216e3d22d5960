# SPDX-License-Identifier: MIT
"""The penalty rule: what a deviation or a missing reading costs (contract, section 3)."""
from dataclasses import dataclass, replace


@dataclass
class Outcome:
    """What was measured at a scored point, and what the rule alone makes of it.

    Times in milliseconds or None. `read`: the point has a counted reading. `over_limit`: it is late beyond
    `late_limit` or `max_lateness`.
    """
    scheduled: int | None = None
    due: int | None = None
    actual: int | None = None
    deviation: int | None = None
    penalty: int = 0
    fails: int = 0
    state: str = ""
    read: bool = False
    over_limit: bool = False


def by_deviation(rule, deviation, outcome):
    """The outcome of a point that was read, for a deviation in milliseconds (early is negative)."""
    outcome = replace(outcome, deviation=deviation, read=True)
    if rule.late_limit is not None and deviation > rule.late_limit:
        return replace(outcome, state="missed", over_limit=True, penalty=rule.missed.penalty,
                       fails=rule.missed.fails)
    units = charged_units(rule, deviation)
    side, cap = (rule.late, rule.cap_late) if deviation > 0 else (rule.early, rule.cap_early)
    penalty, fails = capped(units * side.penalty, cap), side.fails if units else 0
    return replace(outcome, penalty=penalty, fails=fails, state="scored" if penalty or fails else "clean")


def charged_units(rule, deviation):
    """Whole units of `per` that are charged, after grace."""
    size = abs(deviation)
    if size <= rule.grace:
        return 0
    if rule.grace_deducted:
        size -= rule.grace
    return size // rule.per


def capped(penalty, cap):
    return penalty if cap is None else min(penalty, cap)


def missing(view, item, points, outcome):
    """The outcome where readings of the item lack: awaiting while any of `points` is open, else missed."""
    return awaiting_or_missed(item, any(view.is_open(item, point) for point in points), outcome)


def awaiting_or_missed(item, is_open, outcome):
    if is_open:
        return replace(outcome, state="awaiting")
    return replace(outcome, state="missed", penalty=item.rule.missed.penalty, fails=item.rule.missed.fails)
