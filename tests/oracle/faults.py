# SPDX-License-Identifier: MIT
"""Faults: told with a reading or by a judge, and what they are worth (contract, 'Faults anywhere')."""
from dataclasses import dataclass, replace

import values
from charge import missed


@dataclass
class Worth:
    """What the faults at a point add, whether one makes it missed, and whether one is worth the maximum."""
    penalty: int = 0
    fails: int = 0
    missed: bool = False
    maximum: bool = False
    any: bool = False


def at(view, car, item, points):
    """The worth of the faults at some points of an item; of a point with a ruling of its own, none."""
    total = Worth()
    for point in points:
        if view.is_absent(car, item, point) or view.ruling(car, point.id):
            continue
        reading = view.counted(car, item, point)
        for counts in ([reading.faults] if reading else []) + view.told_faults(car, point):
            for name, count in counts.items():
                add(total, item.keys["faults"][name], count)
    return total


def add(total, worth, count):
    if not count:
        return
    total.any = True
    if worth == "missed":
        total.missed = True
    elif worth == "maximum":
        total.maximum = True
    elif isinstance(worth, dict):
        total.fails += worth["fails"] * count
    else:
        total.penalty += values.penalty(worth) * count


def at_scored_point(view, car, scored, outcome):
    """A control, check or pad with its faults added: outside the cap, and no longer clean."""
    item = scored.item
    points = item.points if item.kind == "time-control" else scored.closing
    told = at(view, car, item, points)
    if told.missed:
        outcome = missed(scored.rule, replace(outcome, unreached=True))
    if told.any and outcome.state == "clean":
        outcome = replace(outcome, state="scored")
    return replace(outcome, penalty=outcome.penalty + told.penalty, fails=outcome.fails + told.fails)


def at_lap(view, car, scored, outcome):
    """A lap, which a fault may make missed; what faults cost otherwise is the test's."""
    if at(view, car, scored.item, scored.closing).missed:
        return missed(scored.rule, replace(outcome, unreached=True))
    return outcome


def of_the_test(view, car, item):
    """The (penalty, fails) of faults that are the test's own: at the start of a section, or of a
    consistency test all of them. One worth `missed` at a point that is not scored adds the rule's `missed`."""
    if item.kind == "special-test":
        return 0, 0
    points = item.points if item.kind == "consistency" else item.points[:1]
    is_scored = {scored.id for scored in item.scored}
    penalty, fails = 0, 0
    for point in points:
        told = at(view, car, item, [point])
        penalty, fails = penalty + told.penalty, fails + told.fails
        if told.missed and point.id not in is_scored:
            penalty, fails = penalty + item.rule.missed.penalty, fails + item.rule.missed.fails
    return penalty, fails
