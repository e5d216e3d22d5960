# SPDX-License-Identifier: MIT
"""Special tests: elapsed time between bogey and maximum, with faults (contract, section 3)."""
from dataclasses import replace

import values
from charge import Outcome, capped, charged_units, missing


def outcome(view, car, item):
    """The outcome of the test as one scored point."""
    keys, rule = item.keys, item.rule
    start_point, finish_point = item.points
    finish = view.counted(car, item, finish_point)
    if finish is None:
        return missing(view, item, [finish_point], Outcome())
    held = held_elapsed(view, car, item)
    if held is None:
        return missing(view, item, [start_point], Outcome(read=True))
    due = measured_from(view, car, item)
    over = held - (due or 0)
    units = charged_units(rule, max(over, 0))
    penalty, fails = units * rule.late.penalty, rule.late.fails if units else 0
    if not maximum_fault(view, car, item):
        penalty += sum(values.penalty(keys["faults"][name]) * count
                       for name, count in fault_counts(view, car, item).items())
    penalty = capped(penalty, rule.cap_late)
    found = Outcome(due=due, actual=held, deviation=over, read=True)
    faulty = any(fault_counts(view, car, item).values())
    return replace(found, penalty=penalty, fails=fails, state="scored" if penalty or fails or faulty else "clean")


def measured_from(view, car, item):
    """The time beyond which the held elapsed is charged; None charges all of it."""
    method = item.keys.get("method", "elapsed")
    if method == "over-bogey":
        return values.duration(str(item.keys["bogey"]))
    if method == "behind-best":
        # Only a disqualified car can be better than the best; it is charged nothing.
        held, best = held_elapsed(view, car, item), best_held(view, car, item)
        return held if best is None else min(held, best)
    return None


def held_elapsed(view, car, item):
    """Elapsed, held between bogey and maximum; None where it cannot be known."""
    keys, unit = item.keys, item.rule.precision
    start, finish = (view.counted(car, item, point) for point in item.points)
    if finish is None or (finish.elapsed is None and start is None):
        return None
    if maximum_fault(view, car, item):
        return values.duration(str(keys["maximum"]))
    if finish.elapsed is not None:
        elapsed = values.truncated(finish.elapsed, unit)
    else:
        elapsed = values.truncated(finish.time, unit) - values.truncated(start.time, unit)
    if "bogey" in keys:
        elapsed = max(elapsed, values.duration(str(keys["bogey"])))
    if "maximum" in keys:
        elapsed = min(elapsed, values.duration(str(keys["maximum"])))
    return elapsed


def fault_counts(view, car, item):
    """The faults of all counted readings of the test, added up."""
    counts = {}
    for point in item.points:
        reading = view.counted(car, item, point)
        for name, count in (reading.faults if reading else {}).items():
            counts[name] = counts.get(name, 0) + count
    return counts


def maximum_fault(view, car, item):
    faults = item.keys.get("faults", {})
    return any(count and faults[name] == "maximum" for name, count in fault_counts(view, car, item).items())


def best_held(view, car, item):
    """The best held elapsed among cars not disqualified, of all or of the car's class."""
    scope = view.facts.entries[car].class_id if item.keys.get("scope", "overall") == "class" else None
    return view.remembered(("best", item.id, scope), lambda: _best_held(view, item, scope))


def _best_held(view, item, scope):
    held = [held_elapsed(view, entry.number, item) for entry in view.facts.entries.values()
            if not view.disqualified(entry.number) and scope in (None, entry.class_id)]
    return min((value for value in held if value is not None), default=None)
