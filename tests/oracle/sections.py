# SPDX-License-Identifier: MIT
"""Regularity and set-time tests (contract, section 3)."""
from fractions import Fraction

import road
import values
from charge import Outcome, awaiting_or_missed, by_deviation


def ideals(item):
    """The ideal time from the start to each check or pad on the route, in milliseconds."""
    if item.kind == "regularity":
        return [ideal_at(item, scored) for scored in item.scored]
    own = [target(item, scored) for scored in item.scored]
    return own if from_start(item) else [sum(own[:n + 1]) for n in range(len(own))]


def target(item, scored):
    """The target of a pad."""
    pad = item.keys["targets"][scored.number - 1]
    return values.duration(pad["target"] if isinstance(pad, dict) else pad)


def ideal_at(item, scored):
    """Sum of distance over speed, exact, rounded once to the precision of the check: half up, or down."""
    check = item.keys["checks"][scored.number - 1]
    if "ideal" in check:
        return values.duration(check["ideal"])
    at = Fraction(check["at"])
    speeds = item.keys["speeds"]
    hours = Fraction(0)
    for n, part in enumerate(speeds):
        begin = Fraction(part["from"])
        end = Fraction(speeds[n + 1]["from"]) if n + 1 < len(speeds) else at
        if begin < at:
            hours += (min(end, at) - begin) / Fraction(part["speed"])
    rounded = values.down if item.keys.get("ideals") == "down" else values.half_up
    return rounded(hours * 3600 * 1000, scored.rule.precision)


def from_start(item):
    return item.keys.get("measured", "start" if item.kind == "regularity" else "previous") == "start"


def start_time(view, car, item):
    """When the car started the test, truncated; where it is not known, None and whether it may still be."""
    start_point = item.points[0]
    reading = view.counted(car, item, start_point)
    if reading:
        return values.truncated(reading.time, item.rule.precision), False
    is_open = view.is_open(item, start_point)
    if item.keys.get("start") == "control":
        departure, stop = road.departure_before(view, car, item)
        if departure is not None:
            begin = departure + values.duration(item.keys.get("start_after", "0"))
            begin += view.allowances(car, start_point.order - 1, start_point.order)
            return values.truncated(begin, item.rule.precision), False
        if stop is not None:
            is_open = is_open or stop.id in view.hidden or view.is_open(stop, road.arrival_point(stop))
    return None, is_open


def outcomes(view, car, item):
    """One outcome for each check or pad."""
    ideal = ideals(item)
    begin, begin_open = start_time(view, car, item)
    # The latest earlier point with a time of day: its time, its ideal, its order.
    base = None if begin is None else (begin, 0, item.points[0].order)
    found = []
    for n, scored in enumerate(item.scored):
        point, rule = scored.reading, scored.rule
        reading = view.counted(car, item, point)
        if reading and reading.elapsed is not None:
            outcome = elapsed_outcome(view, car, item, n, reading)
        else:
            due = None
            if base is not None and reading:
                since, base_ideal, order = base
                due = since + ideal[n] - base_ideal + view.allowances(car, order, point.order)
            actual = None if reading is None else values.truncated(reading.time, rule.precision)
            outcome = Outcome(due=due, actual=actual, read=reading is not None)
            if reading is None:
                outcome = awaiting_or_missed(rule, view.is_open(item, point), outcome)
            elif due is None:
                earlier = [] if from_start(item) else item.scored[:n]
                outcome = awaiting_or_missed(rule, begin_open or not all(map(view.closed, earlier)), outcome)
            else:
                outcome = by_deviation(rule, actual - due, outcome)
            if reading and not from_start(item):
                base = (actual, ideal[n], point.order)
        found.append(linked(view, car, item, n, outcome))
    return found


def elapsed_outcome(view, car, item, n, reading):
    """A pad that a device measured: its own stretch, or the time since the start."""
    scored = item.scored[n]
    point = scored.reading
    first = item.points[0].order if from_start(item) else point.order - 1
    due = target(item, scored) + view.allowances(car, first, point.order)
    actual = values.truncated(reading.elapsed, scored.rule.precision)
    return by_deviation(scored.rule, actual - due, Outcome(due=due, actual=actual))


def linked(view, car, item, n, outcome):
    """With `lost: next-too` a pad is missed as well where the one before was not read."""
    if item.keys.get("lost") != "next-too" or from_start(item) or n == 0 or not outcome.read:
        return outcome
    lost = item.scored[n - 1]
    if view.counted(car, item, lost.reading) or view.ruling(car, lost.id) or view.ruling(car, item.id):
        return outcome
    return awaiting_or_missed(item.scored[n].rule, not view.closed(lost),
                              Outcome(due=outcome.due, actual=outcome.actual, read=True))
