# SPDX-License-Identifier: MIT
"""The best of a special test, and a maximum that hangs on it (contract, 'Special tests', 'Bests')."""
from dataclasses import dataclass

import faults
import road
import values
from charge import priced


@dataclass
class Run:
    """What was read of one attempt: elapsed held at the bogey and a fixed maximum, or None and the point
    that lacks; whether its finish was read; its faults."""
    elapsed: int | None
    lacks: object
    read: bool
    told: faults.Worth


def run(view, car, item, number):
    return view.remembered(("run", car, item.id, number), lambda: _run(view, car, item, number))


def _run(view, car, item, number):
    points = item.attempts[number]
    told = faults.at(view, car, item, points)
    start, finish = (view.counted(car, item, point) for point in points)
    if finish is None:
        return Run(None, points[1], False, told)
    unit = item.rule.precision
    if finish.elapsed is not None:
        elapsed = values.truncated(finish.elapsed, unit)
    elif start is None:
        return Run(None, points[0], True, told)
    else:
        elapsed = values.truncated(finish.time, unit) - values.truncated(start.time, unit)
    if "bogey" in item.keys:
        elapsed = max(elapsed, values.duration(item.keys["bogey"]))
    if fixed_maximum(item) is not None:
        elapsed = min(elapsed, fixed_maximum(item))
    return Run(elapsed, None, True, told)


def is_missed_as_read(view, car, item, number):
    """Whether a fault, or lateness that holds, makes an attempt missed although its finish was read."""
    here = run(view, car, item, number)
    return here.told.missed or (here.read and road.holds_over(view, car, item))


# Maximum

def fixed_maximum(item):
    maximum = item.keys.get("maximum")
    return None if maximum is None or isinstance(maximum, dict) else values.duration(maximum)


def is_by_best(item):
    return isinstance(item.keys.get("maximum"), dict)


def by_result(item):
    return item.keys.get("best") == "result"


def maximum(view, car, item):
    """The longest elapsed that counts for a car; None where there is none, or it holds the result instead."""
    if not is_by_best(item):
        return fixed_maximum(item)
    found = best(view, car, item, item.keys["maximum"]["best"])
    return None if found is None or by_result(item) else found + plus(item)


def has_maximum(view, car, item):
    if is_by_best(item):
        return best(view, car, item, item.keys["maximum"]["best"]) is not None
    return fixed_maximum(item) is not None


def most_result(view, car, item):
    """The most that time and faults together can cost where the maximum hangs on the best result."""
    if not (is_by_best(item) and by_result(item)):
        return None
    found = best(view, car, item, item.keys["maximum"]["best"])
    return None if found is None else found + priced(item.rule, item.rule.late, plus(item))[0]


def plus(item):
    return values.duration(item.keys["maximum"]["plus"])


# The best

def base(item):
    """What the method leaves free of the elapsed time, apart from a best."""
    return values.duration(item.keys["bogey"]) if item.keys.get("method") == "over-bogey" else 0


def result(item, elapsed, told):
    """The cost of time and faults together, uncapped."""
    return priced(item.rule, item.rule.late, max(0, elapsed - base(item)))[0] + told.penalty


def best(view, car, item, scope):
    """The best elapsed, or with `result` the smallest cost, among the cars of a scope; None where none."""
    entry = view.facts.entries[car]
    of_scope = {"overall": lambda other: True,
                "class": lambda other: other.class_id == entry.class_id,
                "category": lambda other: other.category == entry.category}[scope]
    group = {"overall": "", "class": entry.class_id, "category": entry.category}[scope]
    return view.remembered(("best", item.id, scope, group), lambda: _best(view, item.id, of_scope))


def _best(view, name, of_scope):
    found = []
    for entry in view.facts.entries.values():
        item = view.facts.own[entry.number].get(name)
        if item is None or view.disqualified(entry.number) or not of_scope(entry):
            continue
        for number in range(len(item.attempts)):
            here = run(view, entry.number, item, number)
            if here.elapsed is not None and not here.told.maximum \
                    and not is_missed_as_read(view, entry.number, item, number):
                found.append((item, here))
    if not found:
        return None
    if by_result(found[0][0]):
        return min(result(item, here.elapsed, here.told) for item, here in found)
    clean = [here for _, here in found if not here.told.any]
    if found[0][0].keys.get("best") == "faultless" and clean:
        return min(here.elapsed for here in clean)
    return min(here.elapsed for _, here in found)
