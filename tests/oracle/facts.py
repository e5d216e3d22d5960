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
from dataclasses import dataclass
from fractions import Fraction
from pathlib import Path

import entries as entries_module
import route
import values
import variants

READING_FIELDS = ("point", "car", "time", "elapsed", "faults", "at", "by", "replaces", "void", "reason")
DECISION_FIELDS = ("kind", "car", "point", "value", "reason", "at", "by")
ID = re.compile(r"[A-Za-z0-9._:-]{1,64}")
FAULT = re.compile(r"([^=;]+)=([0-9]+)")


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
    track: bool = False  # made from the track of a car's receiver
    room: int = 0  # of a track: its uncertainty; else the unit in which the time was written, ms

    @property
    def value(self):
        """What it tells; a fault counted 0 times is none."""
        return self.time, self.elapsed, self.told_faults

    @property
    def told_faults(self):
        return tuple(sorted(fault for fault in self.faults.items() if fault[1]))

    def bears_out(self, counted):
        """Whether it says the same as the reading that counts."""
        if self.track == counted.track:
            return self.value == counted.value
        track, marshal = (self, counted) if self.track else (counted, self)
        if counted.track and (marshal.told_faults or marshal.elapsed is not None):
            return False
        if track.time is None or marshal.time is None:
            return True
        return marshal.time - track.room <= track.time < marshal.time + marshal.room + track.room


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
    """All that is known of an event. `own` gives each car its items by id, `off` the ids of the reading
    points that are not on its route."""
    event: dict
    items: list
    item_of: dict
    point_of: dict
    own: dict
    off: dict
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
    items = route.route(event)
    point_of = {point.id: (item, point) for item in items for point in item.points}
    entries = {entry.number: entry for entry in entries_module.entry_list(event, rows(folder / "entries.csv"))}
    own = variants.own_items(event, items, entries.values())
    starts = {(int(row["day"]), int(row["car"])): values.time_of_day(row["time"])
              for row in rows(folder / "starts.csv")}
    return Facts(
        event=event, items=items, item_of={item.id: item for item in items}, point_of=point_of, own=own,
        off={car: variants.off_points(items, own[car]) for car in entries}, entries=entries, starts=starts,
        readings=accepted(rows(folder / "readings.csv"), own, point_of),
        decisions=in_force(decision_list(rows(folder / "decisions.csv"))),
        classes=entries_module.class_list(event))


def rows(path):
    """The rows of a CSV file as dictionaries; none where the file is absent."""
    if not path.exists():
        return []
    text = path.read_bytes().decode("utf-8-sig")
    header = text.splitlines()[0]
    delimiter = ";" if header.count(";") > header.count(",") else ","
    return list(csv.DictReader(io.StringIO(text, newline=""), delimiter=delimiter, restval=""))


# Readings

def accepted(reading_rows, own, point_of):
    """The readings that are taken, in file order; refused rows and duplicates are left out."""
    taken, content_of = [], {}
    for row in reading_rows:
        content = tuple(row.get(name, "") for name in READING_FIELDS)
        try:
            reading = parse_reading(row, content, own, point_of)
        except (ValueError, KeyError):
            continue
        if reading.id in content_of:
            continue  # a duplicate, or another content under a known id
        content_of[reading.id] = content
        taken.append(reading)
    return taken


def parse_reading(row, content, own, point_of):
    """The reading of a row; ValueError or KeyError where it is refused."""
    get = lambda name: row.get(name, "")
    number = get("id") or hashlib.sha256("|".join(content).encode()).hexdigest()[:32]
    car = int(get("car"))
    item, point = point_of[get("point")]
    replaces, void = get("replaces"), get("void")
    require(ID.fullmatch(number) and car in own)
    require(void in ("", "yes", "no") and (void != "yes" or replaces))
    require(not replaces or (ID.fullmatch(replaces) and get("reason")))
    require(not (get("time") and get("elapsed")))
    time = values.time_of_day(get("time")) if get("time") else None
    elapsed = values.duration(get("elapsed")) if get("elapsed") else None
    sort = "time" if time is not None else "elapsed" if elapsed is not None else "sighting"
    require(void == "yes" or sort in point.takes)
    faults = parse_faults(get("faults"), own[car].get(item.id, item))
    at = values.instant(get("at")) if get("at") else None
    track = "track" in get("flags").split(" ")
    return Reading(number, car, point.id, time, elapsed, faults, at, replaces, void == "yes", track,
                   uncertainty(get("uncertainty_ms")) if track else unit_written(get("time")))


def uncertainty(text):
    """Of a track, in whole milliseconds and never less than told; 0 where it is not told."""
    if not re.fullmatch(r"[0-9]+(\.[0-9]{1,3})?", text):
        return 0
    whole, _, part = text.partition(".")
    return int(whole) + (int(part or 0) > 0)


def unit_written(time):
    """HH:MM is a minute, HH:MM:SS a second, each decimal a tenth of what is before it; in ms."""
    if time.count(":") < 2:
        return 60000
    return 1000 // 10 ** len(time.partition(".")[2])


def parse_faults(text, item):
    """How often each fault was told; the item, as it is for that car, must name it."""
    counts = fault_counts(text)
    require(all(name in item.keys.get("faults", {}) for name in counts))
    return counts


def fault_counts(text):
    """The counts of `cone=2;line=1` by name."""
    counts = {}
    for part in text.split(";") if text else []:
        match = FAULT.fullmatch(part)
        require(match)
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
