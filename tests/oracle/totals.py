# SPDX-License-Identifier: MIT
"""Totals: coefficient, dropped tests, absent days, added penalties (contract, 'Totals, in this order')."""
from dataclasses import dataclass

from fractions import Fraction

import facts
import laps
import values


@dataclass
class Total:
    """A car's sum, and the ids of its dropped tests."""
    fails: int
    penalty: int
    dropped: set


def total(view, car, score, corrected):
    """The total of a car; `corrected` says whether the coefficient applies."""
    scoring = view.facts.event["scoring"]
    coefficient = scoring.get("coefficient") if corrected else None
    factor = coefficient_of(view, car) if coefficient else 1000
    kinds = kinds_of(coefficient) if coefficient else []
    apply = coefficient.get("apply", "total") if coefficient else None

    sums = {test.item.id: test.penalty for test in score.tests}
    if apply == "test":
        for test in score.tests:
            if test.item.kind in kinds:
                sums[test.item.id] = multiplied(sums[test.item.id], factor, coefficient)
    dropped = dropped_tests(view, score, sums)
    kept = [test for test in score.tests if test.item.id not in dropped]
    if apply == "total":
        inside = sum(sums[test.item.id] for test in kept if test.item.kind in kinds)
        outside = sum(sums[test.item.id] for test in kept if test.item.kind not in kinds)
        penalty = multiplied(inside, factor, coefficient) + outside
    else:
        penalty = sum(sums[test.item.id] for test in kept)

    penalty += sum(point.penalty for point in controls(score))
    penalty += sum(absent_day(view, score, day)[1] for day in view.days)
    penalty += view.added_penalty(car)
    fails = sum(test.fails for test in kept) + sum(point.fails for point in controls(score))
    fails += sum(absent_day(view, score, day)[0] for day in view.days)
    return Total(fails, penalty, dropped)


def steps(view, car, score, dropped):
    """The parts of the corrected total as (of, fails, penalty); the penalty of what is to come is None."""
    scoring = view.facts.event["scoring"]
    coefficient = scoring.get("coefficient")
    kinds = kinds_of(coefficient) if coefficient else []
    apply = coefficient.get("apply", "total") if coefficient else None
    found, inside = [], 0
    for test in score.tests:
        value, of_kinds = test.penalty, test.item.kind in kinds
        if of_kinds and apply == "test":
            value = multiplied(value, coefficient_of(view, car), coefficient)
        if test.item.id in dropped:
            value = 0
        inside += value if of_kinds else 0
        found.append((test.item.id, test.fails, None if to_come(view, car, score, [test.item]) else value))
    if apply == "total":
        items = [test.item for test in score.tests if test.item.kind in kinds]
        added = multiplied(inside, coefficient_of(view, car), coefficient) - inside
        found.append(("coefficient", 0, None if to_come(view, car, score, items) else added))
    points = controls(score)
    items = [item for item in view.items if not item.is_test]
    penalty = None if to_come(view, car, score, items) else sum(point.penalty for point in points)
    found.append(("controls", sum(point.fails for point in points), penalty))
    for day in view.days:
        absent = [point for point in score.points if point.state == "absent" and point.scored.item.day == day]
        if any(point.penalty or point.fails for point in absent):
            found.append(("absence", *absent_day(view, score, day)))
    return found + [("decision", 0, penalty) for penalty in view.added_penalties(car)]


def to_come(view, car, score, items):
    """Whether nothing is known of any of these items: every point may still be read, or charged as absent."""
    points = [point for point in score.points if point.scored.item in items]
    open_still = lambda point: point.state == "awaiting" or (
        point.state == "absent" and not view.closed(point.scored)
        and not view.rejoined_after(car, point.scored.item.day))
    faults = any(laps.fault_penalty(view, car, item) for item in items if item.kind == "consistency")
    return bool(points) and all(map(open_still, points)) and not faults


def kinds_of(rule):
    return rule.get("kinds", facts.TESTS)


def coefficient_of(view, car):
    """In thousandths."""
    keys = view.facts.event["scoring"]["coefficient"]
    entry = view.facts.entries[car]
    if keys["by"] == "year":
        return max(1000, 1000 + (entry.year - 1900) * 10)
    return values.penalty(keys["table"].get(entry.period, 1))


def multiplied(penalty, factor, coefficient):
    unit = 1000 if coefficient.get("round", "none") == "whole" else 1
    return values.half_up(Fraction(penalty * factor, 1000), unit)


def dropped_tests(view, score, sums):
    """The ids of the costliest tests, the earlier first where equal, none with fails."""
    rule = view.facts.event["scoring"].get("drop_worst")
    if not rule:
        return set()
    of_kinds = [item for item in view.whole if item.kind in kinds_of(rule)]
    if rule.get("each", "event") == "day":
        groups = [[item for item in of_kinds if item.day == day] for day in sorted({item.day for item in of_kinds})]
    else:
        groups = [of_kinds]
    dropped = set()
    for group in groups:
        whole = all(item in view.items for item in group) and view.all_closed(group)
        if rule.get("when", "end") == "always" or whole:
            dropped |= costliest(score, group, sums, rule.get("count", 1))
    return dropped


def costliest(score, group, sums, count):
    candidates = [test for test in score.tests if test.item in group and not test.fails]
    candidates.sort(key=lambda test: (-sums[test.item.id], test.item.index))
    return {test.item.id for test in candidates[:count]}


def controls(score):
    """The scored points of controls that are not absent."""
    return [point for point in score.points if not point.scored.item.is_test and point.state != "absent"]


def absent_day(view, score, day):
    """The fails and the penalty of a day's absent points, the penalty held to `absent_day_cap`."""
    points = [point for point in score.points if point.state == "absent" and point.scored.item.day == day]
    penalty = sum(point.penalty for point in points)
    cap = view.facts.event["scoring"].get("absent_day_cap")
    if cap is not None:
        penalty = min(penalty, values.penalty(cap))
    return sum(point.fails for point in points), penalty


def day_total(view, score, day):
    """The fails and penalty of one day, before coefficient and dropping."""
    fails, penalty = absent_day(view, score, day)
    for point in controls(score):
        if point.scored.item.day == day:
            fails, penalty = fails + point.fails, penalty + point.penalty
    for test in score.tests:
        if test.item.day == day:
            fails, penalty = fails + test.fails, penalty + test.penalty
    return fails, penalty


def state_of(point, dropped):
    """The state of a scored point, with a dropped test taken into account."""
    if point.scored.item.id in dropped and point.state in ("scored", "clean", "missed", "notional"):
        return "dropped"
    return point.state
