# SPDX-License-Identifier: MIT
"""Start times (contract, section 3)."""
import values


def start_of_day(view, car, day):
    """When the car starts the day, in milliseconds after midnight; None where it has no start."""
    return view.remembered(("start", car, day), lambda: _start_of_day(view, car, day))


def _start_of_day(view, car, day):
    if (day, car) in view.facts.starts:
        return view.facts.starts[day, car]
    keys = view.facts.event["days"][day - 1]
    first = values.time_of_day(keys["first_start"])
    interval = values.duration(keys["interval"])
    if keys.get("order", "number") == "number":
        return first + (car - 1) * interval
    in_order = [number for number in view.facts.entries if not view.retired_before_day(number, day)]
    return first + in_order.index(car) * interval if car in in_order else None
