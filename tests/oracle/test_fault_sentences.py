# SPDX-License-Identifier: MIT
"""Faults told with readings and by decisions at every kind of item, in random events: both scorers
agree, and each sentence on faults, redone, comes to what the point costs and the test adds."""

import csv
import json
import os
import random
import re
import tempfile
import unittest
from fractions import Fraction
from pathlib import Path

import differ
import facts
import random_event
from shapes import Results
from view import View

CAIRN = os.environ.get("CAIRN", "build/cairn")
SEEDS = int(os.environ.get("SENTENCE_SEEDS", "6"))
WORTH = {"board": 30, "sign": {"fails": 1}, "way": "missed", "remark": 0}
FIELDS = ("kind", "car", "point", "value", "reason", "id", "at", "by")
AMOUNT = r"(?:(\d+) fails?|(-?\d+(?:\.\d+)?)(?: and (\d+) fails?)?)"
TERM = re.compile(r"(?: \+ )?(?:at the way out )?(\d+) × [\w-]+ at " + AMOUNT + r"(?: \(decided: \w+\))?")
FAULTS = re.compile(r"Faults( at \S+)?: ((?:(?: \+ )?(?:at the way out )?\d+ × [\w-]+ at \d+(?:\.\d+)?(?: fails?)?"
                    r"(?: \(decided: \w+\))?)+) = " + AMOUNT + r"(, added to the test)?\.(?: Together " + AMOUNT + r"\.)?")


def rows_of(path, fields):
    """The rows of a file however its columns are parted, and the fields of its header."""
    if not path.exists():
        return [], list(fields)
    text = path.read_bytes().decode("utf-8-sig")
    reader = csv.DictReader(text.splitlines(), delimiter=";" if ";" in text.split("\n", 1)[0] else ",")
    return list(reader), list(reader.fieldnames)


def write(path, rows, fields):
    with path.open("w", encoding="utf-8", newline="") as file:
        writer = csv.DictWriter(file, fields, restval="", extrasaction="ignore")
        writer.writeheader()
        writer.writerows(rows)


def make(seed, folder):
    """A random event whose items name faults, with some of them told, and decisions at points."""
    random_event.make(seed, folder)
    dice = random.Random(f"faults {seed}")
    event = json.loads((folder / "event.json").read_text(encoding="utf-8"))
    named = {}
    for item in event["route"]:
        more = {name: worth for name, worth in WORTH.items() if dice.random() < 0.6}
        if more:
            item["faults"] = item.get("faults", {}) | more
            named[item["id"]] = list(item["faults"])
    (folder / "event.json").write_text(json.dumps(event), encoding="utf-8")

    def some(item):
        return ";".join(f"{name}={dice.choice((1, 1, 2))}"
                        for name in dice.sample(named[item], min(len(named[item]), dice.choice((1, 2)))))

    readings, fields = rows_of(folder / "readings.csv", ("point", "car"))
    for row in readings:
        item = (row["point"] or "").split("/")[0]
        if item in named and "faults" in fields and not row["faults"] and dice.random() < 0.15:
            row["faults"] = some(item)
    write(folder / "readings.csv", readings, fields)
    loaded = facts.load(folder)
    points = [(point.id, item.id) for item in loaded.items for point in item.points]
    decisions, _ = rows_of(folder / "decisions.csv", FIELDS)
    for n in range(12):
        (point, item), car = dice.choice(points), dice.choice(list(loaded.entries))
        kind = dice.choice(("penalty", "fails", "faults", "faults")) if item in named else "penalty"
        value = {"penalty": dice.choice(("10", "-5.5", "0", "33.333")), "fails": dice.choice("12")}.get(kind)
        decisions.append({"kind": kind, "car": car, "reason": f"judge{n}", "value": value or some(item),
                          "point": point if kind == "faults" else dice.choice((point, item, ""))})
    write(folder / "decisions.csv", decisions, FIELDS)


def amount(alone, penalty, more):
    """What is written as "10", "2 fails" or "10 and 2 fails"."""
    return Fraction(penalty or 0), int(more or alone or 0)


class FaultSentences(unittest.TestCase):
    def check_sentence(self, row):
        """Every sum in the sentence comes out, and so does the point. Returns what goes to the test."""
        beside = [Fraction(0), 0]
        for found in FAULTS.finditer(row["why"]):
            total = amount(*found.group(3, 4, 5))
            terms = [(int(term.group(1)), amount(*term.group(2, 3, 4))) for term in TERM.finditer(found.group(2))]
            self.assertEqual(total, (sum(n * penalty for n, (penalty, _) in terms),
                                     sum(n * fails for n, (_, fails) in terms)), row["why"])
            if found.group(6):
                beside = [one + other for one, other in zip(beside, total)]
            else:
                shown = total if found.group(7, 8, 9) == (None,) * 3 else amount(*found.group(7, 8, 9))
                self.assertEqual(shown, (Fraction(row["penalty"]), row["fails"]), row["why"])
        return beside

    def check_card(self, folder, car, results):
        card, trouble = differ.run(CAIRN, folder, ["--card", str(car)])
        self.assertIsNone(trouble)
        self.assertEqual(list(differ.differences(results.card(car), card)), [])
        told = {}
        for row in card["points"]:
            if row["kind"] not in ("penalty", "fails", "special-test"):
                beside = self.check_sentence(row)
                told[row["point"].split("/")[0]] = [
                    one + other for one, other in zip(told.get(row["point"].split("/")[0], [0, 0]), beside)]
        self.told += sum(row["why"].count("Faults") for row in card["points"])
        for step in card["total"]:
            found = re.search(r"\+ faults " + AMOUNT, step["why"])
            if found and "as a missed point" not in str(card["points"]):
                self.assertEqual(amount(*found.groups()), tuple(told[step["of"]]), step)

    def test_each_sum_on_faults_can_be_redone(self):
        self.told = 0
        for seed in range(SEEDS):
            with tempfile.TemporaryDirectory() as scratch, self.subTest(seed=seed):
                folder = Path(scratch) / "event"
                make(seed, folder)
                loaded = facts.load(folder)
                results = Results(View(loaded, False, False, None))
                for car in list(loaded.entries)[:6]:
                    self.check_card(folder, car, results)
        self.assertGreater(self.told, 5 * SEEDS)


if __name__ == "__main__":
    unittest.main()
