#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Writes a small random event folder, valid but awkward, that depends on the seed alone.

Usage: random_event.py SEED OUTDIR
"""
import csv
import io
import json
import random
import sys
from pathlib import Path

import random_rules
from random_drive import FIELDS, Driver, mark, milliseconds, spoil
from random_rules import TESTS, clock, maybe

DECISION_FIELDS = ("kind", "car", "point", "value", "reason", "id", "at", "by")


class Field:
    """Everything about one random event, made step by step."""

    def __init__(self, seed):
        self.dice = random.Random(seed)
        self.event = self.make_event()
        self.route = self.event["route"]
        self.days = len(self.event["days"])
        self.entries = self.make_entries()
        self.cars = [int(entry["number"]) for entry in self.entries]
        self.starts = self.make_starts()
        self.live = maybe(self.dice, 0.7)
        self.reached = self.dice.randint(1, len(self.route)) if self.live else len(self.route)
        self.decisions = []
        self.allowances = {}
        self.retired = {}
        self.make_decisions()
        self.readings = self.make_readings()

    def make_event(self):
        return random_rules.event(self.dice)

    # Entries and starts

    def make_entries(self):
        dice, classes = self.dice, self.event["classes"]
        numbers = sorted(dice.sample(range(1, 25), dice.randint(3, 14)))
        years = (1903, 1912, 1925, 1930, 1931, 1934, 1946, 1955, 1961, 1968, 1970, 1975, 1980)
        years = dice.sample(years, 5)
        teams = ["", "Terns", "Gannets", "Plovers"]
        entries = []
        for number in numbers:
            entry = {"number": str(number), "driver": f"Driver {number}", "navigator": f"Navigator {number}",
                     "make": "Calder", "model": dice.choice(("Six", "Eight")), "year": str(dice.choice(years)),
                     "engine_cc": dice.choice(("", "1500", "1600", "1601", "2400", "3000")),
                     "supercharged": dice.choice(("yes", "no", "no", "")), "team": dice.choice(teams)}
            if "categories" in classes:
                entry["category"] = dice.choice(("sport", "touring"))
            entries.append(entry)
        if maybe(dice, 0.3):
            dice.shuffle(entries)
        return entries

    def make_starts(self):
        if not maybe(self.dice, 0.4):
            return []
        pairs = [(day, car) for day in range(1, self.days + 1) for car in self.cars if maybe(self.dice, 0.2)]
        return [{"day": str(day), "car": str(car),
                 "time": clock(8 * 3600000 + self.dice.randint(0, 40) * 30000)} for day, car in pairs]

    # Decisions

    def decide(self, kind, car="", point="", value=""):
        reason = self.dice.choice(("stewards", "held up", "by phone"))
        row = {"kind": kind, "car": str(car), "point": point, "value": value, "reason": reason}
        mark(self.dice, row)
        self.decisions.append(row)
        return row

    def scored_names(self, item):
        """The scored points of an item, as decisions name them."""
        name = item["id"]
        if item["kind"] == "regularity":
            return [f"{name}/{n + 1}" for n in range(len(item["checks"]))]
        if item["kind"] == "set-time":
            return [f"{name}/{n + 1}" for n in range(len(item["targets"]))]
        if item["kind"] == "consistency":
            first = 2 if item.get("reference", "first") == "first" else 1
            return [f"{name}/{n}" for n in range(first, item["laps"] + 1)]
        return [name]

    def reading_names(self, item):
        name = item["id"]
        if item["kind"] == "time-control":
            return [name, f"{name}/out"]
        if item["kind"] == "passage-control":
            return [name]
        if item["kind"] == "special-test":
            return [f"{name}/start", f"{name}/finish"]
        nominated = [f"{name}/nominated"] if item.get("reference") == "nominated" else []
        first = [f"{name}/1"] if item["kind"] == "consistency" and item.get("reference", "first") == "first" else []
        return nominated + [f"{name}/start"] + first + self.scored_names(item)

    def some_scored(self):
        """A scored point, or now and then a whole test."""
        item = self.dice.choice(self.route)
        if item["kind"] in TESTS and maybe(self.dice, 0.4):
            return item["id"]
        return self.dice.choice(self.scored_names(item))

    def some_allowance_point(self):
        item = self.dice.choice([item for item in self.route if item["kind"] != "passage-control"] or self.route)
        if item["kind"] == "passage-control":
            return None
        if item["kind"] == "time-control":
            return item["id"]
        names = [f"{item['id']}/start"]
        if item["kind"] in ("regularity", "set-time"):
            names += self.scored_names(item)
        return self.dice.choice(names)

    def make_decisions(self):
        dice = self.dice
        for car in self.cars:
            if maybe(dice, 0.3):
                self.retire(car)
            for _ in range(dice.choice((0, 0, 1, 2))):
                point = self.some_allowance_point()
                if point:
                    value = dice.choice(("00:02:00", "30", "00:01:00", "2.5", "00:00:45"))
                    self.allowances.setdefault(car, {})[point] = value
                    self.decide("allowance", car, point, value)
            if maybe(dice, 0.12):
                self.decide("penalty", car, value=dice.choice(("30", "-15.5", "100", "0.125")))
            if maybe(dice, 0.25):
                self.decide("waive", car, self.some_scored())
            for _ in range(dice.choice((0, 0, 0, 1, 1))):
                point = self.some_scored()
                for _ in range(dice.choice((1, 1, 2))):
                    self.decide("notional", car, point, dice.choice(("10", "0", "45.25", "60")))
            if maybe(dice, 0.05):
                self.decide("disqualify", car)
        for _ in range(dice.choice((0, 0, 1, 2))):
            self.decide("cancel", point=self.some_scored())
        self.close()
        self.revoke()
        if maybe(dice, 0.2) and self.decisions:
            self.decisions.append(dict(dice.choice(self.decisions)))
        if maybe(dice, 0.5):
            dice.shuffle(self.decisions)

    def retire(self, car):
        dice = self.dice
        index, point = -1, ""
        if maybe(dice, 0.85):
            index = dice.randrange(len(self.route))
            item = self.route[index]
            point = item["id"] if maybe(dice, 0.4) else dice.choice(self.reading_names(item))
        self.decide("retire", car, point)
        self.retired[car] = index
        day = self.route[index]["day"] if index >= 0 else 0
        if maybe(dice, 0.5) and day < self.days:
            back = dice.randint(day + 1, self.days)
            self.decide("rejoin", car, value=str(back))
            if maybe(dice, 0.2):
                later = [n for n, item in enumerate(self.route) if item["day"] >= back]
                if later:
                    self.decide("retire", car, self.route[dice.choice(later)]["id"])

    def close(self):
        if not self.live:
            return
        done = self.route[:self.reached]
        for day in {item["day"] for item in done}:
            if maybe(self.dice, 0.35):
                self.decide("close", point=f"day:{day}")
        for item in done:
            if maybe(self.dice, 0.35):
                self.decide("close", point=item["id"])
            elif maybe(self.dice, 0.4):
                self.decide("close", point=self.dice.choice(self.reading_names(item)))
        if maybe(self.dice, 0.15):
            for day in range(1, self.days + 1):
                self.decide("close", point=f"day:{day}")

    def revoke(self):
        for row in list(self.decisions):
            if row.get("id") and maybe(self.dice, 0.06):
                again = self.decide("revoke", value=row["id"])
                again["id"] = f"rv-{len(self.decisions)}"
                if maybe(self.dice, 0.3):
                    self.decide("revoke", value=again["id"])

    # Readings

    def start_of(self, car, day):
        for row in self.starts:
            if (row["day"], row["car"]) == (str(day), str(car)):
                return milliseconds(row["time"])
        keys = self.event["days"][day - 1]
        ordinal = car - 1 if keys["order"] == "number" else sorted(self.cars).index(car)
        return milliseconds(keys["first_start"]) + ordinal * milliseconds(keys["interval"])

    def make_readings(self):
        dice, rows = self.dice, []
        lost = dice.choice((0.02, 0.06, 0.15))
        for car in self.cars:
            if maybe(dice, 0.06):
                continue
            reached = self.reached - dice.choice((0, 0, 0, 1, 2)) if self.live else self.reached
            if maybe(dice, 0.08):
                reached = dice.randint(0, len(self.route))
            driver = None
            for index, item in enumerate(self.route[:max(0, reached)]):
                if driver is None or self.route[index - 1]["day"] != item["day"]:
                    if driver:
                        rows += driver.rows
                    driver = self.driver(car, item["day"])
                kept = len(driver.rows)
                self.drive(driver, item)
                gone = car in self.retired and self.out_at(car, index) and not maybe(dice, 0.08)
                driver.rows[kept:] = [] if gone else [row for row in driver.rows[kept:] if not maybe(dice, lost)]
            rows += driver.rows if driver else []
        rows = [mark(dice, row) for row in rows]
        return spoil(dice, rows, self.cars)

    def driver(self, car, day):
        return Driver(self.dice, self.event, car, self.start_of(car, day), self.allowances.get(car, {}))

    def drive(self, driver, item):
        driver.drive(item)

    def out_at(self, car, index):
        back = [int(row["value"]) for row in self.decisions if row["kind"] == "rejoin" and row["car"] == str(car)]
        return index > self.retired[car] and not any(day <= self.route[index]["day"] for day in back)

    # The folder

    def write(self, folder):
        folder = Path(folder)
        folder.mkdir(parents=True, exist_ok=True)
        (folder / "event.json").write_text(json.dumps(self.event, indent=1) + "\n", encoding="utf-8")
        self.table(folder / "entries.csv", self.entries, tuple(self.entries[0]))
        if self.starts:
            self.table(folder / "starts.csv", self.starts, ("day", "car", "time"))
        if self.readings:
            self.table(folder / "readings.csv", self.readings, FIELDS)
        if self.decisions:
            self.table(folder / "decisions.csv", self.decisions, DECISION_FIELDS)

    def table(self, path, rows, columns):
        """Columns in any order, comma or semicolon, with or without a byte-order mark."""
        columns = list(columns)
        if maybe(self.dice, 0.4):
            self.dice.shuffle(columns)
        # Faults hold semicolons; the csv module quotes them where that is the delimiter too.
        out = io.StringIO()
        writer = csv.DictWriter(out, columns, restval="", delimiter=self.dice.choice(",,;"),
                                lineterminator=self.dice.choice(("\n", "\r\n")))
        writer.writeheader()
        writer.writerows(rows)
        mark_first = "\ufeff" if maybe(self.dice, 0.2) else ""
        path.write_bytes((mark_first + out.getvalue()).encode("utf-8"))


def make(seed, folder):
    """Write the event of `seed` into `folder` and return it."""
    field = Field(seed)
    field.write(folder)
    return field


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    make(int(sys.argv[1]), sys.argv[2])
