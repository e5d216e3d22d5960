# SPDX-License-Identifier: MIT
"""What each item costs a car: the kinds, then rulings, absence and decisions (contract, section 3)."""
from dataclasses import dataclass, replace
from fractions import Fraction

import faults
import laps
import road
import sections
import special
import values
from charge import Outcome, awaiting_or_missed, by_sides, capped, missed
from route import Cost

STATES = {"cancel": "cancelled", "notional": "notional", "waive": "waived"}


@dataclass
class PointScore:
    """One scored point of one car as it ended: state, penalty in thousandths, fails, and its times."""
    scored: object
    outcome: Outcome
    state: str
    penalty: int
    fails: int


@dataclass
class ItemScore:
    """One item of one car: its sum after `test_cap` and decisions, before coefficient and dropping.

    Absent points are no part of it.
    """
    item: object
    penalty: int
    fails: int
    absent: bool
    points: list


class CarScore:
    """All items of a car in the view, in route order."""

    def __init__(self, items):
        self.items = items

    @property
    def points(self):
        return [point for item in self.items for point in item.points]

    @property
    def counting_points(self):
        """The points of all that is no test for ties only."""
        return [point for item in self.counting for point in item.points]

    @property
    def counting(self):
        return [item for item in self.items if not item.item.for_ties]

    @property
    def tests(self):
        return [item for item in self.items if item.item.is_test]

    @property
    def counting_tests(self):
        return [item for item in self.counting if item.item.is_test]

    @property
    def controls(self):
        return [item for item in self.items if not item.item.is_test]

    def of(self, name):
        """The item of that id, or None."""
        return next((item for item in self.items if item.item.id == name), None)


def score_car(view, car):
    score = CarScore([score_item(view, car, item) for item in view.route_of(car)])
    for test in score.tests:
        if view.ruling(car, test.item.id) == ("notional", None):
            test.penalty = test.points[0].penalty = average(score, test.item)
    return score


def average(score, item):
    """The mean of the car's sums at the other tests of this kind that it drove."""
    sums = [test.penalty for test in score.counting_tests
            if test.item.kind == item.kind and test.item.id != item.id
            and all(point.state in ("scored", "clean", "missed") for point in test.points)]
    return values.half_up(Fraction(sum(sums), len(sums))) if sums else 0


def score_item(view, car, item):
    outcomes = outcomes_of(view, car, item)
    points = [assess(view, car, scored, outcome, first=n == 0)
              for n, (scored, outcome) in enumerate(zip(item.scored, outcomes))]
    absent = all(point.state == "absent" for point in points)
    ruling = view.ruling(car, item.id)
    if ruling:
        return ItemScore(item, ruling[1] or 0, 0, absent, points)
    present = [point for point in points if point.state != "absent"]
    penalty, fails = sum(point.penalty for point in present), sum(point.fails for point in present)
    if item.is_test:
        told = faults.of_the_test(view, car, item)
        penalty, fails = penalty + told[0], fails + told[1]
        cap = item.keys.get("test_cap")
        penalty = capped(penalty, None if cap is None else values.penalty(cap))
    for more_fails, more in view.of_item(car, item):
        penalty, fails = penalty + more, fails + more_fails
    return ItemScore(item, penalty, fails, absent, points)


# Scored points

def outcomes_of(view, car, item):
    """What was read and what it would cost by the rules alone, for each scored point of the item."""
    if item.kind == "special-test":
        return [special.outcome(view, car, item)]
    if item.kind == "consistency":
        found, add_faults = laps.outcomes(view, car, item), faults.at_lap
    elif item.kind == "time-control":
        found, add_faults = [time_control(view, car, item)], faults.at_scored_point
    elif item.kind == "passage-control":
        found, add_faults = [passage_control(view, car, item)], faults.at_scored_point
    else:
        found, add_faults = sections.outcomes(view, car, item), faults.at_scored_point
    return [add_faults(view, car, scored, over_lateness(view, car, scored, outcome))
            for scored, outcome in zip(item.scored, found)]


def time_control(view, car, item):
    times = road.times(view, car, item)
    reading = view.counted(car, item, item.points[0])
    outcome = Outcome(scheduled=times.scheduled, due=times.due, actual=times.counted, read=reading is not None)
    if reading is None or times.counted is None:
        return awaiting_or_missed(item.rule, view.is_open(item, item.points[0]), outcome)
    early, late = earliness(view, item, times), max(0, times.counted - times.due)
    outcome = by_sides(item.rule, early, late, replace(outcome, deviation=late or -early))
    return missed(item.rule, replace(outcome, unreached=True)) if times.beyond else outcome


def earliness(view, item, times):
    """How early a car is: against its time, or because it took less than `shortest`."""
    early_from = times.due
    if road.is_scheduled(view) and item.keys.get("early_from") != "due":
        early_from = times.scheduled
    early = max(0, early_from - times.counted)
    if "shortest" in item.keys and times.before is not None:
        early = max(early, values.duration(item.keys["shortest"]) - (times.counted - times.before))
    return early


def passage_control(view, car, item):
    reading = view.counted(car, item, item.points[0])
    if reading is None:
        return awaiting_or_missed(item.rule, view.is_open(item, item.points[0]), Outcome())
    actual = None if reading.time is None else values.truncated(reading.time, item.rule.precision)
    return Outcome(actual=actual, read=True, state="clean")


def over_lateness(view, car, scored, outcome):
    """Missed where the lateness beyond `max_lateness` holds; a point not read and open is still awaited."""
    if not road.holds_over(view, car, scored.item) or not (outcome.read or view.closed(scored)):
        return outcome
    return missed(scored.rule, replace(outcome, unreached=True))


# Rulings and absence

def assess(view, car, scored, outcome, first):
    """Apply the rulings on the whole test, then those on the point, then absence."""
    item = scored.item
    ruling = view.ruling(car, item.id)
    if ruling:
        kind, value = ruling
        return ruled(scored, outcome, kind, (value or 0) if first else 0)
    ruling = view.ruling(car, scored.id)
    if ruling:
        return ruled(scored, outcome, *ruling)
    if view.is_absent(car, item, scored.closing[0]):
        cost = absent_cost(view, car, scored)
        return PointScore(scored, outcome, "absent", cost.penalty, cost.fails)
    state = "scored" if outcome.state == "clean" and view.is_named(car, scored) else outcome.state
    return PointScore(scored, outcome, state, outcome.penalty, outcome.fails)


def ruled(scored, outcome, kind, value):
    return PointScore(scored, outcome, STATES[kind], value, 0)


def absent_cost(view, car, scored):
    """What an absent point costs: its `missed` once it is closed, or the car has rejoined."""
    if scored.item.kind == "special-test":
        return special.absent_cost(view, car, scored.item)
    charged = view.closed(scored) or view.rejoined_after(car, scored.item.day)
    return scored.rule.missed if charged else Cost()
