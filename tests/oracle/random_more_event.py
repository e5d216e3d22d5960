#!/usr/bin/env python3
# SPDX-License-Identifier: MIT
"""Writes a small random event folder that uses the contract's "More rules"; it depends on the seed alone.

Usage: random_more_event.py SEED OUTDIR
"""
import sys

import entries
import random_more
import variants
from random_drive import Driver, milliseconds
from random_event import Field
from random_rules import maybe


class MoreField(Field):
    """A random event in which groups of cars have their own values, and everything may have faults."""

    def make_event(self):
        self.coarse = maybe(self.dice, 0.35)
        return random_more.event(self.dice, self.coarse)

    def make_entries(self):
        dice, found = self.dice, super().make_entries()
        for entry in found:
            entry["groups"] = ";".join(dice.sample(random_more.GROUPS, dice.choice((0, 1, 1, 2))))
            entry["club"] = dice.choice(("", "Club X", "Club Y"))
            entry["coefficient"] = dice.choice(("", "1.1", "0.925", "1", "2.001"))
            entry["born"] = dice.choice(("", "1950", "1950-01-01", "1950-03-02", "1949-12-31", "1980"))
            if "category" in entry and maybe(dice, 0.15):
                entry["category"] = ""
        self.own = self.own_keys(found)
        return found

    def own_keys(self, rows):
        """For each car the items' keys by id, merged with the first line that fits; None where it is off."""
        own = {}
        for entry in entries.entry_list(self.event, rows):
            own[entry.number] = {}
            for item in self.route:
                line = next((line for line in item.get("for", []) if variants.fits(line, entry)), {})
                own[entry.number][item["id"]] = None if line.get("off") else variants.merged(item, line)
        return own

    # Decisions

    def reading_names(self, item):
        if item["kind"] != "special-test":
            return super().reading_names(item)
        ends = ["", *(f"-{n}" for n in range(2, item.get("attempts", 1) + 1))]
        return [f"{item['id']}/{name}{end}" for end in ends for name in ("start", "finish")]

    def make_decisions(self):
        dice = self.dice
        for car in self.cars:
            for _ in range(0 if self.coarse else dice.choice((0, 0, 1, 2))):
                self.decide_in_an_item(car)
            if maybe(dice, 0.03 if self.coarse else 0.1):
                self.decide("fails", car, value=str(dice.choice((1, 2, 99))))
            if maybe(dice, 0.25):
                self.tell_faults(car)
            tests = [item["id"] for item in self.route if item["kind"] in random_more.TESTS]
            if tests and maybe(dice, 0.25):
                self.decide("notional", car, dice.choice(tests), "average")
        super().make_decisions()

    def decide_in_an_item(self, car):
        """A penalty or fails at a point, or at a whole test."""
        item = self.dice.choice(self.route)
        point = item["id"] if maybe(self.dice, 0.5) else self.dice.choice(self.reading_names(item))
        if maybe(self.dice, 0.6):
            self.decide("penalty", car, point, self.dice.choice(("30", "-4.5", "0.001", "100", "0")))
        else:
            self.decide("fails", car, point, self.dice.choice(("1", "2")))

    def tell_faults(self, car):
        """Faults told by a judge, which the item names for that car."""
        items = [item for item in self.route if (self.own[car][item["id"]] or {}).get("faults")]
        if items:
            item = self.dice.choice(items)
            names = list(self.own[car][item["id"]]["faults"])
            told = ";".join(f"{name}={self.dice.randint(1, 3)}"
                            for name in self.dice.sample(names, min(len(names), self.dice.choice((1, 1, 2)))))
            self.decide("faults", car, self.dice.choice(self.reading_names(item)), told)

    # Readings

    def driver(self, car, day):
        return MoreDriver(self.dice, self.event, car, self.start_of(car, day), self.allowances.get(car, {}))

    def drive(self, driver, item):
        """By the car's own values; at an item that is off now and then too, which does not count."""
        own = self.own[driver.car][item["id"]]
        if own is not None:
            driver.drive(own)
        elif maybe(self.dice, 0.15):
            driver.drive(item)


class MoreDriver(Driver):
    """A car that may make faults anywhere, misses what is not on its route, and has several attempts."""

    item = None

    def drive(self, item):
        self.item = item
        super().drive(item)
        if item.get("finish") == "control":
            self.left, self.targets = self.now + self.dice.choice((0, 0, 1000, 40000, 120000)), 0

    def read(self, point, time=None, elapsed=None, faults=""):
        if not faults and maybe(self.dice, 0.12):
            faults = self.faults(self.item, 1)
        super().read(point, time, elapsed, faults)

    def faults(self, item, share=0.3):
        names = list(item.get("faults", {}))
        if not names or not maybe(self.dice, share):
            return ""
        chosen = self.dice.sample(names, self.dice.randint(1, min(2, len(names))))
        return ";".join(f"{name}={self.dice.randint(1, 2)}" for name in chosen)

    def regularity(self, item):
        """A check that is not on the route has no ideal; the car may pass it all the same."""
        at = [check or {"at": 1} for check in item["checks"]]
        super().regularity({**item, "checks": at})
        self.finish_section(item, item["checks"])

    def set_time(self, item):
        targets = [pad["target"] if isinstance(pad, dict) else pad or "5" for pad in item["targets"]]
        super().set_time({**item, "targets": targets})
        self.finish_section(item, item["targets"])

    def finish_section(self, item, places):
        """Drops most of the readings at what is off, and goes on from the last one."""
        off = [f"{item['id']}/{n + 1}" for n, place in enumerate(places) if place is None]
        self.rows = [row for row in self.rows if row["point"] not in off or maybe(self.dice, 0.1)]
        times = [milliseconds(row["time"]) for row in self.rows
                 if row["point"].split("/")[0] == item["id"] and row.get("time")]
        self.now = max(times, default=self.now)

    def special_test(self, item):
        for number in range(1, item.get("attempts", 1) + 1):
            end = f"-{number}" if number > 1 else ""
            if number > 1 and maybe(self.dice, 0.2):
                continue
            kept = len(self.rows)
            super().special_test(item)
            for row in self.rows[kept:]:
                row["point"] += end
            self.now += 75000


def make(seed, folder):
    """Write the event of `seed` into `folder` and return it."""
    field = MoreField(f"more {seed}")
    field.write(folder)
    return field


if __name__ == "__main__":
    if len(sys.argv) != 3:
        sys.exit(__doc__)
    make(int(sys.argv[1]), sys.argv[2])
