# SPDX-License-Identifier: MIT
"""Drives random cars over a random route: readings mostly near due, and what goes wrong with them."""
import hashlib

from random_rules import check_time, clock, maybe

FIELDS = ("point", "car", "time", "elapsed", "faults", "id", "at", "by", "replaces", "void", "reason")
HASHED = ("point", "car", "time", "elapsed", "faults", "at", "by", "replaces", "void", "reason")


def milliseconds(text):
    text = str(text)
    if ":" not in text:
        return round(float(text) * 1000)
    parts = text.split(":") + ["0"]
    return (int(parts[0]) * 60 + int(parts[1])) * 60000 + round(float(parts[2]) * 1000)


def reading_id(row):
    """The id of a row: as given, or derived from its content."""
    content = "|".join(row.get(name, "") for name in HASHED)
    return row.get("id") or hashlib.sha256(content.encode()).hexdigest()[:32]


class Driver:
    """One car on one day, item by item."""

    def __init__(self, dice, event, car, start, allowances):
        self.dice = dice
        self.event = event
        self.car = car
        self.allowances = allowances
        self.now = self.left = start
        self.targets = 0
        self.rows = []

    def near(self, spread=(0, 0, 0, 0, 500, 900, 1000, 1500, 2000, 5000, 12000, 40000)):
        size = self.dice.choice(spread) + self.dice.choice((0, 0, 0, 10, 300, 999))
        return size if maybe(self.dice, 0.6) else -size

    def read(self, point, time=None, elapsed=None, faults=""):
        row = {"point": point, "car": str(self.car), "faults": faults}
        if time is not None:
            row["time"] = clock(max(0, time))
        if elapsed is not None:
            elapsed = max(0, elapsed)
            row["elapsed"] = clock(elapsed) if maybe(self.dice, 0.5) else f"{elapsed // 1000}.{elapsed % 1000:03d}"
        self.rows.append(row)

    def faults(self, item):
        names = list(item.get("faults", {}))
        if not names or not maybe(self.dice, 0.3):
            return ""
        chosen = self.dice.sample(names, self.dice.randint(1, min(2, len(names))))
        return ";".join(f"{name}={self.dice.randint(1, 3)}" for name in chosen)

    def drive(self, item):
        getattr(self, item["kind"].replace("-", "_"))(item)

    def allowed(self, item):
        points = [point for point in self.allowances if point.split("/")[0] == item["id"]]
        return sum(milliseconds(self.allowances[point]) for point in points)

    def time_control(self, item):
        self.targets += milliseconds(item["target"])
        arrival = self.left + self.targets + self.allowed(item)
        arrival += self.dice.choice((0, 0, 7000, 31000, 59999, -1000, -61000, -90000, 60000, 125000, 270000, 700000))
        if maybe(self.dice, 0.92):
            self.read(item["id"], time=arrival)
            self.left, self.targets = arrival // 60000 * 60000 + milliseconds(item.get("halt", "0")), 0
        if maybe(self.dice, 0.2):
            self.left, self.targets = max(self.left, arrival) + self.dice.choice((0, 60000, 95500)), 0
            self.read(f"{item['id']}/out", time=self.left)
        self.now = self.left

    def passage_control(self, item):
        self.now += 60000
        self.read(item["id"], time=None if maybe(self.dice, 0.5) else self.now)

    def section(self, item, ideals, may_measure):
        self.now = self.left + milliseconds(item.get("start_after", "60")) + self.allowances_at(f"{item['id']}/start")
        if maybe(self.dice, 0.6):
            self.now += self.near()
        if item.get("start") != "control" or maybe(self.dice, 0.4):
            self.read(f"{item['id']}/start", time=self.now)
        for n, ideal in enumerate(ideals):
            deviation = self.near()
            if may_measure and maybe(self.dice, 0.3):
                stretch = ideal - (ideals[n - 1] if n and item.get("measured") != "start" else 0)
                self.read(f"{item['id']}/{n + 1}", elapsed=stretch + deviation)
            else:
                self.read(f"{item['id']}/{n + 1}", time=self.now + ideal + deviation)

    def allowances_at(self, point):
        return milliseconds(self.allowances.get(point, "0"))

    def regularity(self, item):
        ideals = [milliseconds(check["ideal"]) if "ideal" in check else check_time(item["speeds"], check)
                  for check in item["checks"]]
        self.section(item, ideals, False)

    def set_time(self, item):
        steps = [milliseconds(target) for target in item["targets"]]
        if item.get("measured") != "start":
            steps = [sum(steps[:n + 1]) for n in range(len(steps))]
        self.section(item, steps, True)

    def special_test(self, item):
        elapsed = 70000 + self.near()
        self.now += 120000
        self.read(f"{item['id']}/start", time=self.now, faults=self.faults(item) if maybe(self.dice, 0.2) else "")
        if maybe(self.dice, 0.35):
            self.read(f"{item['id']}/finish", elapsed=elapsed, faults=self.faults(item))
        else:
            self.read(f"{item['id']}/finish", time=self.now + elapsed, faults=self.faults(item))

    def consistency(self, item):
        lap = self.dice.choice((61000, 75500))
        if item.get("reference") == "nominated":
            self.read(f"{item['id']}/nominated", elapsed=lap + self.near((0, 0, 400)))
        self.now += 60000
        self.read(f"{item['id']}/start", time=self.now, faults=self.faults(item) if maybe(self.dice, 0.2) else "")
        for n in range(item["laps"]):
            took = lap + self.near()
            self.now += max(took, 1000)
            if maybe(self.dice, 0.25):
                self.read(f"{item['id']}/{n + 1}", elapsed=took, faults=self.faults(item))
            else:
                self.read(f"{item['id']}/{n + 1}", time=self.now, faults=self.faults(item))


# What goes wrong

def mark(dice, row):
    """Give a row an id, a moment and a desk, or leave them out."""
    if maybe(dice, 0.5):
        row["id"] = f"d{dice.randint(1, 9)}-{dice.randint(1, 99999)}"
    if maybe(dice, 0.6):
        row["at"] = moment(dice)
    if maybe(dice, 0.3):
        row["by"] = dice.choice(("desk 1", "desk 2"))
    return row


def moment(dice):
    zone = dice.choice(("Z", "+00:00", "+02:00", "-01:00"))
    fraction = dice.choice(("", "", ".5", ".250"))
    return f"2027-05-{dice.randint(20, 22)}T{dice.randint(6, 20):02d}:{dice.choice((0, 30)):02d}:00{fraction}{zone}"


def shifted(dice, row):
    """Another row for the same car and point with a value near by."""
    other = {key: value for key, value in row.items() if key not in ("id", "at", "by", "replaces", "void", "reason")}
    for key in ("time", "elapsed"):
        if row.get(key):
            value = max(0, milliseconds(row[key]) + dice.choice((0, 0, 1000, -1000, 60000, 250)))
            other[key] = clock(value)
    return mark(dice, other)


def spoil(dice, rows, cars):
    """Add conflicts, duplicates, corrections, voids and refused rows; shuffle."""
    added = []
    for row in rows:
        turn = dice.random()
        if turn < 0.05:
            added.append(shifted(dice, row))
        elif turn < 0.10:
            added.append(correction(dice, row, cars))
            if maybe(dice, 0.3):
                added.append(withdrawal(dice, added[-1]))
        elif turn < 0.12:
            added.append(withdrawal(dice, row))
        elif turn < 0.14:
            added.append(dict(row))
        elif turn < 0.17:
            added.append(refused(dice, row))
        elif turn < 0.18 and row.get("id"):
            added.append({**shifted(dice, row), "id": row["id"]})
    rows = rows + added
    if maybe(dice, 0.5):
        dice.shuffle(rows)
    return rows


def correction(dice, row, cars):
    fixed = shifted(dice, row)
    fixed.update(replaces=reading_id(row), reason="misread")
    if maybe(dice, 0.2):
        fixed["car"] = str(dice.choice(cars))
    if maybe(dice, 0.1):
        fixed["time"], fixed["elapsed"] = "25:99", ""  # refused, so without effect
    return fixed


def withdrawal(dice, row):
    return mark(dice, {"point": row["point"], "car": row["car"], "replaces": reading_id(row), "void": "yes",
                       "reason": "wrong car"})


def refused(dice, row):
    """A row that must be refused; each way of being wrong."""
    bad = shifted(dice, row)
    ways = [{"car": "9998"}, {"point": "NOWHERE"}, {"time": "48:00:00", "elapsed": ""},
            {"time": "08:60:00", "elapsed": ""}, {"time": "08:00:00.1234", "elapsed": ""},
            {"time": "08:00:00", "elapsed": "12.5"}, {"faults": "tree=1"}, {"replaces": "x1", "reason": ""},
            {"void": "yes", "reason": "no target"}, {"at": "2027-05-20 08:00"}, {"id": "not an id!"},
            {"time": "soon", "elapsed": ""}]
    if "/" not in row["point"] and row["point"].startswith("TC"):
        ways += [{"time": "", "elapsed": "60"}, {"time": "", "elapsed": ""}]
    if row["point"].endswith("/start"):
        ways += [{"time": "", "elapsed": "60"}]
    if row["point"].startswith("R"):
        ways += [{"time": "", "elapsed": "60"}, {"time": "", "elapsed": ""}]
    bad.update(dice.choice(ways))
    return bad
