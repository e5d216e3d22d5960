# SPDX-License-Identifier: MIT
"""The facts of an event: its rules, route, entries, start times, readings and decisions.

Follows sections 2 and 3 of the contract. The folder is assumed to be valid apart from single readings
that are to be refused.
"""
import csv
import hashlib
import io
import json
import re
from dataclasses import dataclass, field
from fractions import Fraction
from pathlib import Path

import values

CONTROLS = ("time-control", "passage-control")
TESTS = ("regularity", "set-time", "special-test", "consistency")

FIVA = [("A", 1904), ("B", 1918), ("C", 1930), ("D", 1945), ("E", 1960), ("F", 1970), ("G", None)]
APPENDIX_K = [("A", 1904), ("B", 1918), ("C", 1930), ("D", 1946), ("E", 1961), ("F", 1965), ("G1", 1969),
              ("G2", 1971), ("H1", 1975), ("H2", 1976), ("I", 1981), ("J1", 1985), ("J2", 1990)]
APPENDIX_K_2025 = APPENDIX_K[:-2] + [("J1", 1987), ("J2", 1992)]

READING_FIELDS = ("point", "car", "time", "elapsed", "faults", "at", "by", "replaces", "void", "reason")
DECISION_FIELDS = ("kind", "car", "point", "value", "reason", "at", "by")
ID = re.compile(r"[A-Za-z0-9._:-]{1,64}")
FAULT = re.compile(r"([^=;]+)=([0-9]+)")


@dataclass
class Cost:
    """What a missed, early or late point costs: penalty in thousandths, or fails."""
    penalty: int = 0
    fails: int = 0


@dataclass
class Rule:
    """A penalty rule, times in milliseconds, penalties in thousandths; None is no limit."""
    precision: int
    per: int
    early: Cost
    late: Cost
    grace: int
    grace_deducted: bool
    cap_early: int | None
    cap_late: int | None
    late_limit: int | None
    missed: Cost


@dataclass
class Point:
    """A place where readings are made. `takes` names the sorts of reading it accepts."""
    id: str
    order: int
    takes: tuple


@dataclass
class Item:
    """One item of the route with its reading points, in route order."""
    index: int
    id: str
    kind: str
    day: int
    keys: dict
    rule: Rule
    points: list = field(default_factory=list)
    scored: list = field(default_factory=list)

    @property
    def is_test(self):
        return self.kind in TESTS


@dataclass
class ScoredPoint:
    """A point that can cost something; `reading` is the point whose closing closes it."""
    id: str
    item: Item
    reading: Point
    number: int


@dataclass
class Entry:
    number: int
    row: dict
    year: int
    engine_cc: int | None
    period: str
    class_id: str
    category: str
    team: str
    in_overall: bool
    in_classes: bool


@dataclass
class Reading:
    id: str
    car: int
    point: str
    time: int | None
    elapsed: int | None
    faults: dict
    at: Fraction | None
    replaces: str
    void: bool

    @property
    def value(self):
        return self.time, self.elapsed, tuple(sorted(self.faults.items()))


@dataclass
class Decision:
    id: str
    kind: str
    car: int | None
    point: str
    value: str
    at: Fraction | None


@dataclass
class Facts:
    event: dict
    items: list
    item_of: dict
    point_of: dict
    entries: dict
    starts: dict
    readings: list
    decisions: list
    classes: list


def earliest(fact):
    """Sort key of 'the one with the earliest `at` (none sorts last), then the smallest id'."""
    return fact.at is None, fact.at or 0, fact.id


def load(folder):
    """Read the event folder."""
    folder = Path(folder)
    event = json.loads((folder / "event.json").read_text(encoding="utf-8-sig"), parse_float=Fraction)
    items = route(event)
    item_of = {item.id: item for item in items}
    point_of = {point.id: (item, point) for item in items for point in item.points}
    entries = {entry.number: entry for entry in entry_list(event, rows(folder / "entries.csv"))}
    starts = {(int(row["day"]), int(row["car"])): values.time_of_day(row["time"])
              for row in rows(folder / "starts.csv")}
    readings = accepted(rows(folder / "readings.csv"), entries, point_of)
    decisions = in_force(decision_list(rows(folder / "decisions.csv")))
    return Facts(event, items, item_of, point_of, entries, starts, readings, decisions, class_list(event))


def rows(path):
    """The rows of a CSV file as dictionaries; none where the file is absent."""
    if not path.exists():
        return []
    text = path.read_bytes().decode("utf-8-sig")
    header = text.splitlines()[0]
    delimiter = ";" if header.count(";") > header.count(",") else ","
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter, restval=""))


# The route

def route(event):
    defaults = event.get("scoring", {}).get("defaults", {})
    items, order = [], 0
    for index, keys in enumerate(event["route"]):
        kind = keys["kind"]
        item = Item(index, keys["id"], kind, keys["day"], keys,
                    rule({**defaults.get(kind, {}), **keys.get("penalty", {})}))
        for name, takes in reading_points(keys):
            item.points.append(Point(name, order, takes))
            order += 1
        item.scored = scored_points(item)
        items.append(item)
    return items


def rule(keys):
    precision = keys.get("precision", "second")
    cap = keys.get("cap")
    sides = cap if isinstance(cap, dict) else {"early": cap, "late": cap}
    optional = lambda parse, value: None if value is None else parse(value)
    return Rule(
        precision=values.UNIT[precision],
        per=values.UNIT[keys.get("per", precision)],
        early=cost(keys.get("early", 1)),
        late=cost(keys.get("late", 1)),
        grace=values.duration(str(keys.get("grace", "0"))),
        grace_deducted=keys.get("grace_deducted", False),
        cap_early=optional(values.penalty, sides.get("early")),
        cap_late=optional(values.penalty, sides.get("late")),
        late_limit=optional(values.duration, keys.get("late_limit")),
        missed=cost(keys.get("missed", 0)))


def cost(value):
    if isinstance(value, dict):
        return Cost(fails=value["fails"])
    return Cost(penalty=values.penalty(value))


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
        return start + [(f"{name}/finish", ("time", "elapsed"))]
    nominated = [(f"{name}/nominated", ("elapsed",))] if keys.get("reference") == "nominated" else []
    return nominated + start + [(f"{name}/{n + 1}", ("time", "elapsed")) for n in range(keys["laps"])]


def scored_points(item):
    """Controls, checks, pads, the special test itself, and the laps that deviate."""
    if item.kind in CONTROLS:
        return [ScoredPoint(item.id, item, item.points[0], 0)]
    if item.kind == "special-test":
        return [ScoredPoint(item.id, item, item.points[1], 0)]
    numbered = [point for point in item.points if point.id.split("/")[1].isdigit()]
    first = 1 if item.kind == "consistency" and item.keys.get("reference", "first") == "first" else 0
    return [ScoredPoint(point.id, item, point, n + 1) for n, point in enumerate(numbered) if n >= first]


# Entries and classes

def periods(event):
    """The periods as (id, first year or None, last year or None, counts in overall)."""
    classes = event["classes"]
    if classes["scheme"] == "custom":
        return [(period["id"], period.get("from"), period.get("to"), period.get("overall", True))
                for period in classes["periods"]]
    table = FIVA if classes["scheme"] == "fiva" else APPENDIX_K
    if classes.get("edition") == 2025:
        table = APPENDIX_K_2025
    return [(name, None if n == 0 else table[n - 1][1] + 1, last, True) for n, (name, last) in enumerate(table)]


def class_list(event):
    """All class ids in the order of periods."""
    capacity = event["classes"].get("capacity")
    if not capacity:
        return [period[0] for period in periods(event)]
    return [f"{period[0]}-{band['id']}" for period in periods(event) for band in capacity]


def entry_list(event, entry_rows):
    categories = {category["id"]: category for category in event["classes"].get("categories", [])}
    factor = values.penalty(event["classes"].get("supercharged_factor", 1))
    entries = []
    for row in entry_rows:
        year = int(row["year"])
        engine = int(row["engine_cc"]) if row.get("engine_cc") else None
        period, in_overall = next((name, overall) for name, first, last, overall in periods(event)
                                  if (first is None or first <= year) and (last is None or year <= last))
        size = engine or 0
        if row.get("supercharged") == "yes":
            size = size * factor // 1000
        class_id = period
        if event["classes"].get("capacity"):
            band = next(band["id"] for band in event["classes"]["capacity"]
                        if "to" not in band or size <= band["to"])
            class_id = f"{period}-{band}"
        category = row.get("category", "")
        in_overall = in_overall and categories.get(category, {}).get("overall", True)
        entries.append(Entry(int(row["number"]), row, year, engine, period, class_id, category,
                             row.get("team", ""), in_overall,
                             categories.get(category, {}).get("classes", True)))
    return sorted(entries, key=lambda entry: entry.number)


# Readings

def accepted(reading_rows, entries, point_of):
    """The readings that are taken, in file order; refused rows and duplicates are left out."""
    taken, content_of = [], {}
    for row in reading_rows:
        content = tuple(row.get(name, "") for name in READING_FIELDS)
        try:
            reading = parse_reading(row, content, entries, point_of)
        except (ValueError, KeyError):
            continue
        if reading.id in content_of:
            continue  # a duplicate, or another content under a known id
        content_of[reading.id] = content
        taken.append(reading)
    return taken


def parse_reading(row, content, entries, point_of):
    """The reading of a row; ValueError or KeyError where it is refused."""
    get = lambda name: row.get(name, "")
    number = get("id") or hashlib.sha256("|".join(content).encode()).hexdigest()[:32]
    car = int(get("car"))
    item, point = point_of[get("point")]
    replaces, void = get("replaces"), get("void")
    require(ID.fullmatch(number) and car in entries)
    require(void in ("", "yes", "no") and (void != "yes" or replaces))
    require(not replaces or (ID.fullmatch(replaces) and get("reason")))
    require(not (get("time") and get("elapsed")))
    time = values.time_of_day(get("time")) if get("time") else None
    elapsed = values.duration(get("elapsed")) if get("elapsed") else None
    sort = "time" if time is not None else "elapsed" if elapsed is not None else "sighting"
    require(void == "yes" or sort in point.takes)
    faults = parse_faults(get("faults"), item)
    at = values.instant(get("at")) if get("at") else None
    return Reading(number, car, point.id, time, elapsed, faults, at, replaces, void == "yes")


def parse_faults(text, item):
    counts = {}
    for part in text.split(";") if text else []:
        match = FAULT.fullmatch(part)
        require(match and match[1] in item.keys.get("faults", {}))
        counts[match[1]] = counts.get(match[1], 0) + int(match[2])
    return counts


def require(condition):
    if not condition:
        raise ValueError("refused")


def standing(readings):
    """The readings that no other replaces, by (car, point), the one that counts first."""
    replaced = {reading.replaces for reading in readings if reading.replaces}
    found = {}
    for reading in readings:
        if not reading.void and reading.id not in replaced:
            found.setdefault((reading.car, reading.point), []).append(reading)
    for group in found.values():
        group.sort(key=earliest)
    return found


# Decisions

def decision_list(decision_rows):
    decisions = {}
    for row in decision_rows:
        text = "|".join(row.get(name, "") for name in DECISION_FIELDS)
        number = row.get("id") or hashlib.sha256(text.encode()).hexdigest()[:32]
        decisions.setdefault(number, Decision(
            number, row["kind"], int(row["car"]) if row.get("car") else None, row.get("point", ""),
            row.get("value", ""), values.instant(row["at"]) if row.get("at") else None))
    return list(decisions.values())


def in_force(decisions):
    """The decisions that no holding revoke names."""
    revokes = {}
    for decision in decisions:
        if decision.kind == "revoke":
            revokes.setdefault(decision.value, []).append(decision)
    holds = lambda decision: not any(holds(revoke) for revoke in revokes.get(decision.id, []))
    return [decision for decision in decisions if holds(decision)]
