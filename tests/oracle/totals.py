# SPDX-License-Identifier: MIT
"""Totals: coefficient, dropped tests, absent days, day caps (contract, 'Totals, in this order')."""
from dataclasses import dataclass
from fractions import Fraction

import faults
import route
import values


DROPPABLE = ("scored", "clean", "missed", "notional")


@dataclass
class Total:
    """A car's sum, and the ids of its dropped tests."""
    fails: int
    penalty: int
    dropped: set


@dataclass
class Coefficient:
    """A car's coefficient in thousandths and what it multiplies; `kinds` is empty where there is none."""
    factor: int = 1000
    apply: str = ""
    kinds: tuple = ()
    absence: bool = False
    unit: int = 1

    def of(self, penalty):
        return values.half_up(Fraction(penalty * self.factor, 1000), self.unit)


def coefficient(view, car):
    keys = view.scoring.get("coefficient")
    if not keys:
        return Coefficient()
    entry = view.facts.entries[car]
    if keys["by"] == "year":
        factor = max(1000, 1000 + (entry.year - 1900) * 10)
    elif keys["by"] == "entry":
        factor = entry.coefficient
    else:
        listed = entry.period if keys["by"] == "class" else entry.category
        factor = values.penalty(keys["table"].get(listed, 1))
    return Coefficient(factor, keys.get("apply", "total"), kinds_of(keys), keys.get("kinds") == "all",
                       1000 if keys.get("round", "none") == "whole" else 1)


def kinds_of(keys):
    kinds = keys.get("kinds", route.TESTS)
    return route.CONTROLS + route.TESTS if kinds == "all" else tuple(kinds)


def total(view, car, score, corrected):
    """The total of a car; `corrected` says whether the coefficient applies."""
    by = coefficient(view, car) if corrected else Coefficient()
    sums = {item.item.id: item.penalty for item in score.counting}
    absent = {day: absent_day(view, score, day) for day in view.days}
    absent_sums = [penalty for _, penalty in absent.values()]
    if by.apply == "test":
        sums = {item.item.id: by.of(item.penalty) if item.item.kind in by.kinds else item.penalty
                for item in score.counting}
        absent_sums = [by.of(penalty) if by.absence else penalty for penalty in absent_sums]
    dropped = dropped_tests(view, score, sums)
    kept = [item for item in score.counting if item.item.id not in dropped]
    penalty = sum(sums[item.item.id] for item in kept) + sum(absent_sums)
    if by.apply == "total":
        inside = sum(sums[item.item.id] for item in kept if item.item.kind in by.kinds)
        inside += sum(absent_sums) if by.absence else 0
        penalty += by.of(inside) - inside
    penalty -= sum(over_day_cap(view, score, day, dropped) for day in view.days)
    decisions = view.of_the_total(car)
    fails = sum(item.fails for item in kept) + sum(fails for fails, _ in absent.values())
    return Total(fails + sum(fails for fails, _ in decisions),
                 penalty + sum(penalty for _, penalty in decisions), dropped)


def over_day_cap(view, score, day, dropped):
    """What the kept items and absent points of a day cost beyond `day_cap`, before any coefficient."""
    cap = view.scoring.get("day_cap")
    if cap is None:
        return 0
    kept = sum(item.penalty for item in score.counting
               if item.item.day == day and item.item.id not in dropped)
    return max(0, kept + absent_day(view, score, day)[1] - values.penalty(cap))


def steps(view, car, score, dropped):
    """The parts of the corrected total as (of, fails, penalty); the penalty of what is to come is None."""
    by = coefficient(view, car)
    each = by.apply == "test"
    sums = {item.item.id: by.of(item.penalty) if each and item.item.kind in by.kinds else item.penalty
            for item in score.counting}
    found = [test_step(view, car, test, sums, dropped) for test in score.tests]
    controls = [("controls", sum(item.fails for item in score.controls),
                 known(view, car, score.controls, sum(sums[item.item.id] for item in score.controls)))]
    absence = []
    for day in view.days:
        fails, penalty = absent_day(view, score, day)
        if any(point.penalty or point.fails for point in absent_points(score, day)):
            absence.append(("absence", fails, by.of(penalty) if each and by.absence else penalty))
    multiplied = []
    if by.apply == "total":
        items = [item for item in score.counting if item.item.kind in by.kinds]
        inside = sum(item.penalty for item in items if item.item.id not in dropped)
        inside += sum(penalty for _, _, penalty in absence) if by.absence else 0
        multiplied = [("coefficient", 0, known(view, car, items, by.of(inside) - inside))]
    if set(by.kinds) & set(route.CONTROLS):
        found += controls + absence + multiplied
    else:
        found += multiplied + controls + absence
    over = [over_day_cap(view, score, day, dropped) for day in view.days]
    found += [("day_cap", 0, -penalty) for penalty in over if penalty]
    return found + [("decision", fails, penalty) for fails, penalty in view.of_the_total(car)]


def test_step(view, car, test, sums, dropped):
    """A test's part; it is 0 where the test is dropped, or for ties only."""
    name = test.item.id
    if test.item.for_ties:
        return name, 0, 0
    return name, test.fails, known(view, car, [test], 0 if name in dropped else sums[name])


def known(view, car, items, penalty):
    """The penalty of some items, or None where they are to come."""
    return None if to_come(view, car, items) else penalty


def to_come(view, car, items):
    """Whether nothing is known of any of these items: every point may still be read, or charged as absent."""
    points = [point for item in items for point in item.points]
    open_still = lambda point: point.state == "awaiting" or (
        point.state == "absent" and not view.closed(point.scored)
        and not view.rejoined_after(car, point.scored.item.day))
    costs = any(item.penalty or item.fails or view.of_item(car, item.item) for item in items)
    told = any(any(faults.of_the_test(view, car, item.item)) for item in items if item.item.is_test)
    return bool(points) and all(map(open_still, points)) and not costs and not told


def dropped_tests(view, score, sums):
    """The ids of the costliest tests, the earlier first where equal, none with fails."""
    rule = view.scoring.get("drop_worst")
    if not rule:
        return set()
    kinds = kinds_of(rule)
    of_kinds = [item for item in view.whole if item.is_test and item.kind in kinds and not item.for_ties]
    if rule.get("each", "event") == "day":
        groups = [[item for item in of_kinds if item.day == day] for day in sorted({item.day for item in of_kinds})]
    else:
        groups = [of_kinds]
    dropped = set()
    for group in groups:
        whole = all(item in view.items for item in group) and view.all_closed(group)
        if rule.get("when", "end") == "always" or whole:
            dropped |= costliest(score, {item.id for item in group}, sums, rule.get("count", 1))
    return dropped


def costliest(score, names, sums, count):
    candidates = [test for test in score.counting_tests if test.item.id in names and not test.fails]
    candidates.sort(key=lambda test: (-sums[test.item.id], test.item.index))
    return {test.item.id for test in candidates[:count]}


def absent_points(score, day):
    return [point for point in score.counting_points if point.state == "absent" and point.scored.item.day == day]


def absent_day(view, score, day):
    """The fails and the penalty of a day's absent points, the penalty held to `absent_day_cap`."""
    points = absent_points(score, day)
    penalty = sum(point.penalty for point in points)
    cap = view.scoring.get("absent_day_cap")
    if cap is not None:
        penalty = min(penalty, values.penalty(cap))
    return sum(point.fails for point in points), penalty


def day_total(view, score, day):
    """The fails and penalty of one day, before coefficient and dropping, held to `day_cap`."""
    fails, penalty = absent_day(view, score, day)
    for item in score.counting:
        if item.item.day == day:
            fails, penalty = fails + item.fails, penalty + item.penalty
    cap = view.scoring.get("day_cap")
    return fails, penalty if cap is None else min(penalty, values.penalty(cap))


def state_of(point, dropped):
    """The state of a scored point, with a dropped test taken into account."""
    if point.scored.item.id in dropped and point.state in DROPPABLE:
        return "dropped"
    return point.state
