# SPDX-License-Identifier: MIT
"""Start times, and the scheduled, due and departure times at time controls (contract, section 3)."""
from dataclasses import dataclass

import values


def start_of_day(view, car, day):
    """When the car starts the day, in milliseconds after midnight; None where it has no start."""
    return view.remembered(("start", car, day), lambda: _start_of_day(view, car, day))


def _start_of_day(view, car, day):
    if (day, car) in view.facts.starts:
        return view.facts.starts[day, car]
    keys = view.facts.event["days"][day - 1]
    first = values.time_of_day(keys["first_start"])
    interval = values.duration(str(keys["interval"]))
    if keys.get("order", "number") == "number":
        return first + (car - 1) * interval
    in_order = [number for number in view.facts.entries if not view.retired_before_day(number, day)]
    return first + in_order.index(car) * interval if car in in_order else None


@dataclass
class ControlTimes:
    """The times of one car at one time control, milliseconds after midnight or None.

    `counted` is the counted arrival; `departure` is None where the car was not read at the control.
    """
    scheduled: int | None
    due: int | None
    counted: int | None
    departure: int | None


def control_times(view, car, item):
    """The times of a car at a time control."""
    return day_controls(view, car, item.day)[item.id]


def day_controls(view, car, day):
    return view.remembered(("controls", car, day), lambda: _day_controls(view, car, day))


def _day_controls(view, car, day):
    scheduled_timing = view.facts.event["scoring"].get("timing", "target") == "scheduled"
    start = start_of_day(view, car, day)
    controls = [item for item in view.items if item.kind == "time-control" and item.day == day]
    if start is None:
        return {item.id: ControlTimes(None, None, None, None) for item in controls}
    day_begins = min(point.order for item in view.facts.items if item.day == day for point in item.points) - 1
    targets, halts, lateness = 0, 0, 0
    # Since the control that the car was last read at (target timing):
    left, left_order, targets_since, skipped_halts = start, day_begins, 0, 0
    times = {}
    for item in controls:
        arrival_point, out_point = item.points
        target = values.duration(str(item.keys["target"]))
        halt = values.duration(str(item.keys.get("halt", "0")))
        targets += target
        targets_since += target
        scheduled = start + targets + halts + view.allowances(car, day_begins, arrival_point.order)
        if scheduled_timing:
            due = scheduled + lateness
        else:
            due = left + targets_since + skipped_halts + view.allowances(car, left_order, arrival_point.order)
        arrival = view.counted(car, item, arrival_point)
        out = view.counted(car, item, out_point)
        counted, departure = None, None
        if arrival:
            base = scheduled if scheduled_timing else due
            counted = base + values.truncated(arrival.time - base, item.rule.precision)
            departure = counted + halt
            lateness = max(0, counted - scheduled)
        if out:
            departure = out.time
        if item.keys.get("main", False):
            lateness = 0
        halts += halt
        skipped_halts += halt
        if departure is not None:
            left, left_order, targets_since, skipped_halts = departure, arrival_point.order, 0, 0
        times[item.id] = ControlTimes(scheduled, due, counted, departure)
    return times


def departure_before(view, car, item):
    """The departure from the time control before this item that day, and that control.

    Before the day's first control it is the car's start of the day, and no control.
    """
    earlier = [control for control in view.items if control.kind == "time-control"
               and control.day == item.day and control.index < item.index]
    if not earlier:
        return start_of_day(view, car, item.day), None
    return control_times(view, car, earlier[-1]).departure, earlier[-1]
