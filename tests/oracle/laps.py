# SPDX-License-Identifier: MIT
"""Consistency tests: laps against a reference (contract, section 3)."""
import values
from charge import Outcome, awaiting_or_missed, by_deviation
from route import numbered


def outcomes(view, car, item):
    """One outcome for each lap that deviates."""
    reference, reference_lacks = reference_lap(view, car, item)
    found = []
    for scored in item.scored:
        point = scored.reading
        reading = view.counted(car, item, point)
        lap, lap_lacks = lap_time(view, car, item, scored.number)
        outcome = Outcome(due=None if lap is None else reference, actual=lap, read=reading is not None)
        lacks = point if reading is None else lap_lacks if lap is None else reference_lacks
        if reading is None or lap is None or reference is None:
            found.append(awaiting_or_missed(scored.rule, view.is_open(item, lacks), outcome))
        else:
            found.append(by_deviation(scored.rule, lap - reference, outcome))
    return found


def lap_time(view, car, item, number):
    """The time of a lap, or None and the point whose reading lacks."""
    before, point = numbered(item)[number - 1], numbered(item)[number]
    reading, neighbour = view.counted(car, item, point), view.counted(car, item, before)
    unit = item.rule.precision
    if reading is None:
        return None, point
    if reading.elapsed is not None:
        return values.truncated(reading.elapsed, unit), None
    if neighbour is None or neighbour.time is None:
        return None, before
    return values.truncated(reading.time, unit) - values.truncated(neighbour.time, unit), None


def reference_lap(view, car, item):
    """The reference, or None and the point whose reading lacks."""
    kind = item.keys.get("reference", "first")
    if kind == "first":
        return lap_time(view, car, item, 1)
    if kind == "nominated":
        point = item.points[0]
        reading = view.counted(car, item, point)
        if reading is None:
            return None, point
        return values.truncated(reading.elapsed, item.rule.precision), None
    read = [lap_time(view, car, item, number)[0] for number in range(1, item.keys["laps"] + 1)]
    read = [lap for lap in read if lap is not None]
    if not read:
        return None, None
    return values.truncated(sum(read) // len(read), item.rule.precision), None
