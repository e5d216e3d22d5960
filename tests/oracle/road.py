# SPDX-License-Identifier: MIT
"""The schedule of the road: time controls and the tests that end as one, the lateness that is carried, and
where it holds (contract, 'time-control' and 'Road timing')."""
from dataclasses import dataclass

import schedule
import values


@dataclass
class RoadTimes:
    """The times of one car at one control or road point, milliseconds after midnight or None.

    `counted` is the counted arrival; `departure` is None where the car was not read there; `before` is the
    departure from the control or road point before, or the start of the day, None where that was not read.
    `beyond`: it arrived later than `max_lateness` allows.
    """
    scheduled: int | None = None
    due: int | None = None
    counted: int | None = None
    departure: int | None = None
    before: int | None = None
    beyond: bool = False


def times(view, car, item):
    """The times of a car at a time control or road point."""
    return day_times(view, car, item.day)[item.id]


def day_times(view, car, day):
    return view.remembered(("road", car, day), lambda: Walk(view, car, day).all())


def is_scheduled(view):
    return view.scoring.get("timing", "target") == "scheduled"


def arrival_point(item):
    """Where a car arrives at a control or road point: of a test the last point on the car's route."""
    return item.points[0] if item.kind == "time-control" else item.scored[-1].reading


class Walk:
    """Goes from road point to road point of one car's day."""

    def __init__(self, view, car, day):
        self.view, self.car, self.day = view, car, day
        self.limit = view.scoring.get("max_lateness")
        self.adds_up = view.scoring.get("lateness") == "cumulative" and not is_scheduled(view)
        self.start = schedule.start_of_day(view, car, day)
        self.begins = min(point.order for item in view.facts.items if item.day == day for point in item.points) - 1
        # Since the start of the day:
        self.targets, self.halts, self.lateness, self.late_sum = 0, 0, 0, 0
        # Since the point that the car was last read at (target timing):
        self.left, self.left_order, self.targets_since, self.skipped_halts = self.start, self.begins, 0, 0
        self.before = self.start

    def all(self):
        stops = self.view.road_of(self.car, self.day)
        if self.start is None:
            return {item.id: RoadTimes() for item in stops}
        return {item.id: self.stop(item) for item in stops}

    def stop(self, item):
        """The times at the next stop; what follows is measured from them."""
        view, point = self.view, arrival_point(item)
        halt = values.duration(item.keys.get("halt", "0"))
        self.targets += values.duration(item.keys["target"])
        self.targets_since += values.duration(item.keys["target"])
        scheduled = self.start + self.targets + self.halts + view.allowances(self.car, self.begins, point.order)
        if is_scheduled(view):
            base, due = scheduled, scheduled + self.lateness
        else:
            base = due = self.left + self.targets_since + self.skipped_halts + view.allowances(
                self.car, self.left_order, point.order)
        found = RoadTimes(scheduled, due, before=self.before)
        arrival = self.time_read(item, point)
        if arrival is not None:
            found.counted = base + values.truncated(arrival - base, self.precision(item))
            found.departure = found.counted + halt
            self.lateness = max(0, found.counted - scheduled)
            self.late_sum += max(0, found.counted - due)
            found.beyond = self.is_beyond(found)
        out = self.time_read(item, item.points[1]) if item.kind == "time-control" else None
        if out is not None:
            found.departure = out
        if item.keys.get("main", False):
            self.lateness = self.late_sum = 0
        self.halts += halt
        self.skipped_halts += halt
        self.before = found.departure
        if found.departure is not None:
            self.left, self.left_order, self.targets_since, self.skipped_halts = found.departure, point.order, 0, 0
        return found

    def time_read(self, item, point):
        """The time of day read at a point; none at a hidden item."""
        reading = None if item.id in self.view.hidden else self.view.counted(self.car, item, point)
        return reading.time if reading else None

    def precision(self, item):
        """A road point is counted as the time controls' default says."""
        if item.kind == "time-control":
            return item.rule.precision
        return values.unit(self.view.scoring.get("defaults", {}).get("time-control", {}).get("precision", "second"))

    def is_beyond(self, found):
        if self.limit is None:
            return False
        if self.adds_up:
            return self.late_sum > values.duration(self.limit)
        return found.counted > found.scheduled + values.duration(self.limit)


def departure_before(view, car, item):
    """The departure from the control or road point before this item that day, and that item.

    Before the day's first one it is the car's start of the day, and no item.
    """
    earlier = [stop for stop in view.road_of(car, item.day) if stop.index < item.index]
    if not earlier:
        return schedule.start_of_day(view, car, item.day), None
    return times(view, car, earlier[-1]).departure, earlier[-1]


def holds_over(view, car, item):
    """Whether the car is over `max_lateness` at this item, so that every scored point of it is missed."""
    return view.remembered(("holds", car, item.day), lambda: _holds(view, car, item.day))[item.id]


def _holds(view, car, day):
    """For each item of the day whether the lateness beyond the limit holds there."""
    found, over = {}, False
    for item in (item for item in view.route_of(car) if item.day == day):
        if view.scoring.get("max_lateness_holds", False) and item.is_road:
            here = times(view, car, item)
            if here.counted is not None:
                over = here.beyond
        found[item.id] = over
        if item.kind == "time-control" and item.keys.get("main", False):
            over = False
    return found
