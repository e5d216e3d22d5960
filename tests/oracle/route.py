# SPDX-License-Identifier: MIT
"""The route: its items, their penalty rules, where readings are made and what can be scored
(contract, section 3)."""
from dataclasses import dataclass, field

import values

CONTROLS = ("time-control", "passage-control")
TESTS = ("regularity", "set-time", "special-test", "consistency")


@dataclass
class Cost:
    """What a missed point costs: penalty in thousandths, or fails, or as much as the test's maximum."""
    penalty: int = 0
    fails: int = 0
    maximum: bool = False


@dataclass
class Side:
    """What being early, or late, costs: fails, an amount once, or a rate for each unit in steps.

    A step is (units up to which it goes or None, thousandths for each unit).
    """
    fails: int = 0
    once: int | None = None
    steps: tuple = ()


@dataclass
class Rule:
    """A penalty rule, times in milliseconds, penalties in thousandths; None is no limit.

    `cap` holds a point in all, the other two one side of it.
    """
    precision: int
    per: int
    part: bool
    early: Side
    late: Side
    grace: int
    grace_deducted: bool
    cap: int | None
    cap_early: int | None
    cap_late: int | None
    early_limit: int | None
    late_limit: int | None
    missed: Cost


@dataclass(eq=False)
class Point:
    """A place where readings are made. `takes` names the sorts of reading it accepts."""
    id: str
    order: int
    takes: tuple


@dataclass(eq=False)
class Item:
    """One item of the route with its reading points, in route order, and what is scored of it.

    Of an item with other values for some cars there is one of these for each line too; they share the
    reading points. `scored` lacks what is not on the route of the cars of that line.
    """
    index: int
    id: str
    kind: str
    day: int
    keys: dict
    rule: Rule
    points: list
    scored: list = field(default_factory=list)

    @property
    def is_test(self):
        return self.kind in TESTS

    @property
    def for_ties(self):
        """A test that counts for ties only."""
        return self.keys.get("counts") == "ties"

    @property
    def is_road(self):
        """Whether it has a place in the schedule of the road: a time control, or a test that ends as one."""
        return self.kind == "time-control" or self.keys.get("finish") == "control"

    @property
    def attempts(self):
        """The start and the finish of each attempt at a special test."""
        return list(zip(self.points[::2], self.points[1::2]))


@dataclass(eq=False)
class ScoredPoint:
    """A point that can cost something; it is closed once every point of `closing` is."""
    id: str
    item: Item
    number: int
    rule: Rule
    closing: list

    @property
    def reading(self):
        """Where it lies on the route."""
        return self.closing[-1]


def route(event):
    """The items of the route, as they are for a car that no line of `for` fits."""
    items, order = [], 0
    for index, keys in enumerate(event["route"]):
        points = []
        for name, takes in reading_points(keys):
            points.append(Point(name, order, takes))
            order += 1
        items.append(item_of(event, index, keys, points))
    return items


def item_of(event, index, keys, points):
    """The item with these keys, at reading points that are made already."""
    defaults = event.get("scoring", {}).get("defaults", {}).get(keys["kind"], {})
    penalty = {**defaults, **keys.get("penalty", {})}
    item = Item(index, keys["id"], keys["kind"], keys["day"], keys, rule(penalty), points)
    item.scored = scored_points(item, penalty)
    return item


# Penalty rules

def rule(keys):
    precision = keys.get("precision", "second")
    cap = keys.get("cap")
    sides = cap if isinstance(cap, dict) else {}
    per = values.unit(keys.get("per", precision))
    return Rule(
        precision=values.unit(precision),
        per=per,
        part=keys.get("part", False),
        early=side(keys.get("early", 1), per),
        late=side(keys.get("late", 1), per),
        grace=values.duration(keys.get("grace", "0")),
        grace_deducted=keys.get("grace_deducted", False),
        cap=None if isinstance(cap, dict) else optional(values.penalty, cap),
        cap_early=optional(values.penalty, sides.get("early")),
        cap_late=optional(values.penalty, sides.get("late")),
        early_limit=optional(values.duration, keys.get("early_limit")),
        late_limit=optional(values.duration, keys.get("late_limit")),
        missed=cost(keys.get("missed", 0)))


def optional(parse, value):
    return None if value is None else parse(value)


def side(value, per):
    """The cost of one side from a rate, steps, an amount once, or fails."""
    if isinstance(value, list):
        return Side(steps=tuple((values.duration(step["to"]) // per if "to" in step else None,
                                 values.penalty(step["rate"])) for step in value))
    if isinstance(value, dict) and "once" in value:
        return Side(once=values.penalty(value["once"]))
    if isinstance(value, dict):
        return Side(fails=value["fails"])
    return Side(steps=((None, values.penalty(value)),))


def cost(value):
    if value == "maximum":
        return Cost(maximum=True)
    if isinstance(value, dict):
        return Cost(fails=value["fails"])
    return Cost(penalty=values.penalty(value))


# Points

def reading_points(keys):
    """The reading points of an item in route order, each with the sorts of reading it takes."""
    name, kind = keys["id"], keys["kind"]
    if kind == "time-control":
        return [(name, ("time",)), (f"{name}/out", ("time",))]
    if kind == "passage-control":
        return [(name, ("time", "elapsed", "sighting"))]
    start = [(f"{name}/start", ("time",))]
    if kind == "regularity":
        return start + [(f"{name}/{n + 1}", ("time",)) for n in range(len(keys["checks"]))]
    if kind == "set-time":
        return start + [(f"{name}/{n + 1}", ("time", "elapsed")) for n in range(len(keys["targets"]))]
    if kind == "special-test":
        ends = ["", *(f"-{n}" for n in range(2, keys.get("attempts", 1) + 1))]
        return [point for end in ends
                for point in ((f"{name}/start{end}", ("time",)), (f"{name}/finish{end}", ("time", "elapsed")))]
    nominated = [(f"{name}/nominated", ("elapsed",))] if keys.get("reference") == "nominated" else []
    return nominated + start + [(f"{name}/{n + 1}", ("time", "elapsed")) for n in range(keys["laps"])]


def stations(keys):
    """The checks or pads as they stand in event.json, None where one is not on the route."""
    return keys["checks"] if keys["kind"] == "regularity" else keys["targets"]


def scored_points(item, penalty):
    """Controls, checks, pads, the special test itself, and the laps that deviate."""
    if item.kind in CONTROLS:
        return [ScoredPoint(item.id, item, 0, item.rule, item.points[:1])]
    if item.kind == "special-test":
        return [ScoredPoint(item.id, item, 0, item.rule, item.points[1::2])]
    if item.kind == "consistency":
        first = 2 if item.keys.get("reference", "first") == "first" else 1
        laps = numbered(item)
        return [ScoredPoint(laps[n].id, item, n, item.rule, [laps[n]]) for n in range(first, item.keys["laps"] + 1)]
    found = []
    for n, station in enumerate(stations(item.keys), 1):
        if station is not None:
            own = station.get("penalty", {}) if isinstance(station, dict) else {}
            point = item.points[n]
            found.append(ScoredPoint(point.id, item, n, rule({**penalty, **own}) if own else item.rule, [point]))
    return found


def numbered(item):
    """The start and the laps of a consistency test: index 0 is the start, index n lap n."""
    return [point for point in item.points if not point.id.endswith("/nominated")]
