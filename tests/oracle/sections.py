# SPDX-License-Identifier: MIT
"""Regularity and set-time tests (contract, section 3)."""
from fractions import Fraction

import schedule
import values
from charge import Outcome, awaiting_or_missed, by_deviation, missing


def ideals(item):
    """The ideal time from the start to each check or pad, in milliseconds."""
    if item.kind == "regularity":
        return [ideal_at(item, check) for check in item.keys["checks"]]
    targets = [values.duration(str(target)) for target in item.keys["targets"]]
    if measured(item) == "start":
        return targets
    return [sum(targets[:n + 1]) for n in range(len(targets))]


def ideal_at(item, check):
    """Sum of distance over speed, exact, rounded once to the precision, half up."""
    if "ideal" in check:
        return values.duration(str(check["ideal"]))
    at = Fraction(check["at"])
    speeds = item.keys["speeds"]
    hours = Fraction(0)
    for n, part in enumerate(speeds):
        begin = Fraction(part["from"])
        end = Fraction(speeds[n + 1]["from"]) if n + 1 < len(speeds) else at
        if begin < at:
            hours += (min(end, at) - begin) / Fraction(part["speed"])
    return values.half_up(hours * 3600 * 1000, item.rule.precision)


def measured(item):
    return item.keys.get("measured", "start" if item.kind == "regularity" else "previous")


def start_time(view, car, item):
    """When the car started the test, truncated, and the points that are lacking where it is not known."""
    start_point = item.points[0]
    reading = view.counted(car, item, start_point)
    if reading:
        return values.truncated(reading.time, item.rule.precision), []
    lacking = [(item, start_point)]
    if item.keys.get("start") == "control":
        departure, control = schedule.departure_before(view, car, item)
        if departure is not None:
            begin = departure + values.duration(str(item.keys.get("start_after", "0")))
            begin += view.allowances(car, start_point.order - 1, start_point.order)
            return values.truncated(begin, item.rule.precision), []
        if control is not None:
            lacking.append((control, control.points[0]))
    return None, lacking


def outcomes(view, car, item):
    """One outcome for each check or pad."""
    rule, ideal = item.rule, ideals(item)
    from_start = measured(item) == "start"
    begin, lacking = start_time(view, car, item)
    # The latest earlier point with a time of day: its time, its ideal, its order.
    base = None if begin is None else (begin, 0, item.points[0].order)
    found = []
    for n, scored in enumerate(item.scored):
        point = scored.reading
        reading = view.counted(car, item, point)
        if reading and reading.elapsed is not None:
            found.append(elapsed_outcome(view, car, item, n, reading))
            continue
        due = None
        if base is not None and reading:
            since, base_ideal, order = base
            due = since + ideal[n] - base_ideal + view.allowances(car, order, point.order)
        actual = None if reading is None else values.truncated(reading.time, rule.precision)
        outcome = Outcome(due=due, actual=actual, read=reading is not None)
        if reading is None:
            found.append(missing(view, item, [point], outcome))
        elif due is None:
            open_points = lacking + ([] if from_start else [(item, earlier.reading) for earlier in item.scored[:n]])
            found.append(lacking_outcome(view, item, open_points, outcome))
        else:
            found.append(by_deviation(rule, actual - due, outcome))
        if reading and not from_start:
            base = (actual, ideal[n], point.order)
    return found


def elapsed_outcome(view, car, item, n, reading):
    """A pad that a device measured: its own stretch, or the time since the start."""
    point = item.scored[n].reading
    target = values.duration(str(item.keys["targets"][n]))
    first = item.points[0].order if measured(item) == "start" else point.order - 1
    due = target + view.allowances(car, first, point.order)
    actual = values.truncated(reading.elapsed, item.rule.precision)
    return by_deviation(item.rule, actual - due, Outcome(due=due, actual=actual))


def lacking_outcome(view, item, open_points, outcome):
    """Read, but nothing to measure from: awaiting while a missing point is open, else missed."""
    is_open = any(view.is_open(owner, point) for owner, point in open_points)
    return awaiting_or_missed(item, is_open, outcome)
