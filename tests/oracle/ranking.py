# SPDX-License-Identifier: MIT
"""Statuses and positions (contract, 'Ranking')."""
from dataclasses import dataclass
from fractions import Fraction

import ties

PLACED = ("finished", "running")


@dataclass
class Place:
    car: int
    position: int
    equal: bool


def places(groups):
    """Positions of groups of equal cars, best first; the next after equal ones are skipped (1, 2, 2, 4)."""
    found, ahead = [], 0
    for group in groups:
        found += [Place(car, ahead + 1, len(group) > 1) for car in sorted(group)]
        ahead += len(group)
    return found


def by_total(view, cars, sums, scores):
    """Fewer fails, lower total, then each tie rule in turn."""
    return [group for equal in ties.parted(cars, lambda car: (sums[car].fails, sums[car].penalty))
            for group in ties.settled(view, equal, scores)]


# Status

def status(view, car, score):
    if view.disqualified(car):
        return "disqualified"
    lasting = view.lasting_retirements(car)
    read = any(view.counted(car, item, point) for item in view.whole_route_of(car) for point in item.points)
    if any(day == 0 for _, day in lasting) or (view.all_closed(view.whole) and not read):
        return "not-started"
    if lasting:
        return "retired"
    if not_classified(view, car, score):
        return "not-classified"
    if view.all_closed(view.whole) or read_at_last_control(view, car):
        return "finished"
    return "running" if read else "entered"


def read_points(view, car):
    """The reading points in the view at which the car has a counted reading, in route order."""
    return [point for item in view.route_of(car) for point in item.points if view.counted(car, item, point)]


def read_at_last_control(view, car):
    last = [item for item in view.whole_route_of(car) if item.kind == "time-control"][-1:]
    return any(view.counted(car, item, item.points[0]) for item in last)


def not_classified(view, car, score):
    """Whether the car fails `finisher`; judged only when all is closed and there is no --after."""
    rule = view.scoring.get("finisher")
    if not rule or view.after or not view.all_closed(view.whole):
        return False
    of = rule.get("of", "controls")
    held = [point for item in score.counting for point in item.points
            if of in ("all", "tests" if item.item.is_test else "controls") and point.state != "cancelled"]
    good = [point for point in held if reached(point)]
    if "share" in rule and held and Fraction(len(good), len(held)) < Fraction(rule["share"]):
        return True
    last = [point for item in score.controls for point in item.points
            if item.item.kind == "time-control" and point.state != "cancelled"][-1:]
    return rule.get("last_point", False) and any(not reached(point) for point in last)


def reached(point):
    """Read and not beyond a time limit, or ruled so."""
    return point.state in ("waived", "notional") or (point.outcome.read and not point.outcome.unreached)
