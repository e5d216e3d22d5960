# SPDX-License-Identifier: MIT
"""What each scored point costs a car: the kinds, then rulings and absence (contract, section 3)."""
from dataclasses import dataclass, replace

import schedule
import special
import sections
import laps
import values
from charge import Outcome, by_deviation, missing


@dataclass
class PointScore:
    """One scored point of one car as it ended: state, penalty in thousandths, fails, and its times."""
    scored: object
    outcome: Outcome
    state: str
    penalty: int
    fails: int


@dataclass
class TestScore:
    """One test of one car: its sum after `test_cap`, before coefficient and dropping."""
    item: object
    penalty: int
    fails: int
    absent: bool


@dataclass
class CarScore:
    points: list
    tests: list


def score_car(view, car):
    """All scored points and tests of a car in the view."""
    points, tests = [], []
    for item in view.items:
        outcomes = outcomes_of(view, car, item)
        item_points = [assess(view, car, scored, outcome, first=n == 0)
                       for n, (scored, outcome) in enumerate(zip(item.scored, outcomes))]
        points += item_points
        if item.is_test:
            tests.append(test_sum(view, car, item, item_points))
    return CarScore(points, tests)


def outcomes_of(view, car, item):
    """What was read and what it would cost by the rule alone, for each scored point of the item."""
    if item.kind == "time-control":
        return [time_control(view, car, item)]
    if item.kind == "passage-control":
        return [passage_control(view, car, item)]
    if item.kind == "special-test":
        return [special.outcome(view, car, item)]
    if item.kind == "consistency":
        return laps.outcomes(view, car, item)
    return sections.outcomes(view, car, item)


def time_control(view, car, item):
    times = schedule.control_times(view, car, item)
    reading = view.counted(car, item, item.points[0])
    outcome = Outcome(scheduled=times.scheduled, due=times.due, actual=times.counted, read=reading is not None)
    if reading is None or times.counted is None:
        return missing(view, item, [item.points[0]], outcome)
    early_from = times.scheduled if view.facts.event["scoring"].get("timing") == "scheduled" else times.due
    deviation = 0
    if times.counted < early_from:
        deviation = times.counted - early_from
    elif times.counted > times.due:
        deviation = times.counted - times.due
    outcome = by_deviation(item.rule, deviation, outcome)
    limit = view.facts.event["scoring"].get("max_lateness")
    if limit is not None and times.counted > times.scheduled + values.duration(limit):
        return replace(outcome, state="missed", over_limit=True, penalty=item.rule.missed.penalty,
                       fails=item.rule.missed.fails)
    return outcome


def passage_control(view, car, item):
    reading = view.counted(car, item, item.points[0])
    if reading is None:
        return missing(view, item, [item.points[0]], Outcome())
    actual = None if reading.time is None else values.truncated(reading.time, item.rule.precision)
    return Outcome(actual=actual, read=True, state="clean")


def assess(view, car, scored, outcome, first):
    """Apply the rulings on the whole test, then those on the point, then absence."""
    item = scored.item
    ruling = view.ruling(car, item.id) if item.is_test else None
    if ruling:
        kind, value = ruling
        return ruled(scored, outcome, kind, value if first else 0)
    if scored.id != item.id or not item.is_test:
        ruling = view.ruling(car, scored.id)
    if ruling:
        return ruled(scored, outcome, *ruling)
    if view.is_absent(car, item, scored.reading):
        charged = view.closed(scored) or view.rejoined_after(car, item.day)
        cost = item.rule.missed
        return PointScore(scored, outcome, "absent", cost.penalty if charged else 0, cost.fails if charged else 0)
    return PointScore(scored, outcome, outcome.state, outcome.penalty, outcome.fails)


def ruled(scored, outcome, kind, value):
    state = {"cancel": "cancelled", "notional": "notional", "waive": "waived"}[kind]
    return PointScore(scored, outcome, state, value, 0)


def test_sum(view, car, item, points):
    absent = bool(points) and all(point.state == "absent" for point in points)
    ruling = view.ruling(car, item.id)
    if ruling:
        return TestScore(item, ruling[1], 0, absent)
    present = [point for point in points if point.state != "absent"]
    penalty = sum(point.penalty for point in present)
    if item.kind == "consistency":
        penalty += laps.fault_penalty(view, car, item)
    cap = item.keys.get("test_cap")
    if cap is not None:
        penalty = min(penalty, values.penalty(cap))
    return TestScore(item, penalty, sum(point.fails for point in present), absent)
