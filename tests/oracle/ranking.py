# SPDX-License-Identifier: MIT
"""Statuses, ties and positions (contract, 'Ranking')."""
from dataclasses import dataclass
from fractions import Fraction

PLACED = ("finished", "running")


@dataclass
class Place:
    car: int
    position: int
    equal: bool


def places(cars, key):
    """Positions by `key`; equal keys share one and the next is skipped (1, 2, 2, 4)."""
    keys = {car: key(car) for car in cars}
    ordered = sorted(cars, key=lambda car: (keys[car], car))
    found = []
    for n, car in enumerate(ordered):
        alike = sum(1 for other in cars if keys[other] == keys[car])
        position = found[-1].position if n and keys[ordered[n - 1]] == keys[car] else n + 1
        found.append(Place(car, position, alike > 1))
    return found


# Status

def status(view, car, score):
    if view.disqualified(car):
        return "disqualified"
    lasting = view.lasting_retirements(car)
    read = any(view.counted(car, item, point) for item in view.whole for point in item.points)
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
    return [point for item in view.items for point in item.points if view.counted(car, item, point)]


def read_at_last_control(view, car):
    last = [item for item in view.whole if item.kind == "time-control"][-1:]
    return any(view.counted(car, item, item.points[0]) for item in last)


def not_classified(view, car, score):
    """Whether the car fails `finisher`; judged only when all is closed and there is no --after."""
    rule = view.facts.event["scoring"].get("finisher")
    if not rule or view.after or not view.all_closed(view.whole):
        return False
    held = [point for point in score.points
            if not point.scored.item.is_test and not view.is_cancelled(point.scored.id)]
    good = [point for point in held if reached(point)]
    if "share" in rule and held and Fraction(len(good), len(held)) < Fraction(rule["share"]):
        return True
    last = [point for point in held if point.scored.item.kind == "time-control"][-1:]
    return rule.get("last_point", False) and any(not reached(point) for point in last)


def reached(point):
    """Read and not beyond a time limit, or ruled so."""
    return point.state in ("waived", "notional") or (point.outcome.read and not point.outcome.over_limit)


# Sort keys

def overall_key(view, car, score, total):
    """Fewer fails, lower total, then each tie rule in turn."""
    ties = view.facts.event["scoring"].get("ties", [])
    return (total.fails, total.penalty) + tuple(tie(view, car, score, total, name) for name in ties)


def tie(view, car, score, total, name):
    states = [point.state for point in score.points]  # also in tests that are dropped
    if name == "most-clean":
        return -states.count("clean")
    if name == "furthest-clean":
        return -furthest_clean(states)
    if name == "older-car":
        return view.facts.entries[car].year
    if name == "smaller-engine":
        engine = view.facts.entries[car].engine_cc
        return engine is None, engine or 0
    if name == "first-difference":
        return tuple(test_key(test) for test in score.tests)
    wanted = name.removeprefix("test:")
    return tuple(test_key(test) for test in score.tests if test.item.id == wanted)


def furthest_clean(states):
    run = 0
    for state in states:
        if state == "clean":
            run += 1
        elif state not in ("cancelled", "waived"):
            break
    return run


def test_key(test):
    return (1, 0, 0) if test.absent else (0, test.fails, test.penalty)
