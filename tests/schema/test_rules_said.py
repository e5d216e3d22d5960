# SPDX-License-Identifier: MIT
"""Every example of schema/RULES.md is completed to an event, which is taken and comes to the figures
behind it; every case that the page names is there."""

import csv
import json
import os
import re
import subprocess
import tempfile
import unittest

from small_event import ENTRIES, completed, schema_errors

CAIRN = os.environ.get("CAIRN", "build/cairn")
PAGE = "schema/RULES.md"

# "`3:R1/start 09:00, R1/1 09:04:05 cone=1` in all 12"
FIGURE = re.compile(r"`(?P<readings>[^`]+)` (?P<what>in all |places |shown |teams |prize [a-z-]+: )?"
                    r"(?P<figure>[^`]+?)(?:; (?=`)|, which|\.$|\. [A-Z]|$)")
READING = re.compile(r"(?:(?P<car>\d):)?(?P<point>\S+) (?P<value>–|seen|\+?[\d:.]+)(?: (?P<faults>\S+))?$")


def examples():
    """The blocks of the page: the line above each, its language, its text, its figures."""
    with open(PAGE, encoding="utf-8") as page:
        text = page.read()
    rule = ""
    for match in re.finditer(r"^\*\*(?P<rule>[^\n]*)$"
                             r"|^```(?P<language>\w+)\n(?P<text>.*?)^```\n(?:\n> (?P<figures>[^\n]*))?",
                             text, re.M | re.S):
        if match["rule"] is not None:
            rule = match["rule"]
        else:
            yield rule, match["language"], match["text"], match["figures"] or ""


def reading_rows(text):
    """The rows of readings.csv, and the car and point that are named last."""
    rows, car, point = [["point", "car", "time", "elapsed", "faults"]], "", ""
    for part in text.split(", "):
        found = READING.match(part)
        car, point, value = found["car"] or "1", found["point"], found["value"]
        if value != "–":
            elapsed = value[1:] if value[0] == "+" else ""
            if elapsed.count(":") == 1:
                elapsed = "00:" + elapsed
            time = "" if value == "seen" or elapsed else value
            rows.append([point, car, time, elapsed, found["faults"] or ""])
    return rows, car, point


def cost(row):
    """What a row of the answer costs, as the page writes it."""
    penalty, fails = row["penalty"], row["fails"]
    points = "0" if penalty is None else re.sub(r"\.?0+$", "", penalty) or "0"
    if fails == 0:
        return points
    words = f"{fails} fail" + "s" * (fails > 1)
    return words if float(points) == 0 else f"{points} and {words}"


class RulesSaid(unittest.TestCase):
    def run_in(self, command, *arguments):
        run = subprocess.run([CAIRN, command, self.folder, *arguments], capture_output=True,
                             check=False, text=True)
        self.assertEqual((run.returncode, run.stderr), (0, ""))
        return run.stdout

    def write(self, name, text):
        with open(os.path.join(self.folder, name), "w", encoding="utf-8", newline="") as file:
            file.write(text)

    def card(self, car, *arguments):
        return json.loads(self.run_in("score", "--card", car, *arguments))

    def point(self, car, point, *arguments):
        """The row of a reading point on a card, or of the item that it belongs to; None where it is not
        there."""
        rows = {row["point"]: row for row in self.card(car, *arguments)["points"]}
        return rows.get(point, rows.get(point.split("/")[0]))

    def told(self, what, car, point):
        """What the program says, as the page writes it."""
        what = what.strip().rstrip(":")
        if what == "in all":
            return cost(self.card(car))
        if what == "places":
            rows = json.loads(self.run_in("score"))["standings"]
            return ", ".join(str(row["car"]) for row in rows) or "none"
        if what == "shown":
            rows = re.findall(rf"^ +{point} +(\S+)", self.run_in("score", "--card", car, "--format", "text"),
                              re.M)
            return rows[0]
        if what == "teams":
            team = json.loads(self.run_in("score", "--by", "team"))["standings"][0]
            return f"{team['team']} {cost(team)}"
        prize = what.split()[1]
        calls = json.loads(self.run_in("prizes", "--format", "json"))["prizes"]
        cars = sorted(call["car"] for call in calls if call["award"] == prize and "car" in call)
        return ", ".join(str(number) for number in cars) or "none"

    def check(self, found):
        """Scores what was read, and compares one figure."""
        rows, car, point = reading_rows(found["readings"])
        with open(os.path.join(self.folder, "readings.csv"), "w", encoding="utf-8", newline="") as file:
            csv.writer(file).writerows(rows)
        figure = found["figure"]
        if figure == "hidden while live":
            self.assertIsNotNone(self.point(car, point, "--live"))
            self.assertIsNone(self.point(car, point, "--live", "--public"))
        elif figure == "not on the route":
            self.assertIsNone(self.point(car, point))
        elif found["what"] is None:
            self.assertEqual(cost(self.point(car, point)), figure)
        else:
            self.assertEqual(self.told(found["what"], car, point), figure)

    def test_every_example_comes_to_its_figures(self):
        seen = figures = 0
        for rule, language, text, line in examples():
            with tempfile.TemporaryDirectory() as self.folder:
                self.write("entries.csv", ENTRIES)
                event = completed(json.loads(text) if language == "json" else {})
                self.write("event.json", json.dumps(event))
                if language == "csv":
                    self.write("decisions.csv", "kind,car,point,value,reason\n" + text)
                self.assertIn(language, ("json", "csv"))
                with self.subTest(rule):
                    self.assertEqual(schema_errors(event), [])
                    self.run_in("score", "--strict")
                    self.assertRegex(line, FIGURE)
                for found in FIGURE.finditer(line):
                    with self.subTest(rule, figure=found[0]):
                        self.check(found)
                        figures += 1
                self.assertEqual(len(re.findall("`[^`]+`", line)), len(FIGURE.findall(line)), line)
            seen += 1
        self.assertGreater(seen, 80)
        self.assertGreater(figures, 170)

    def test_every_case_that_is_named_is_there(self):
        with open(PAGE, encoding="utf-8") as page:
            text = page.read()
        named = set()
        for group in re.findall(r"cases? ((?:`[a-z0-9-]+`(?:, | and )?)+)", text):
            named.update(re.findall(r"`([a-z0-9-]+)`", group))
        self.assertGreater(len(named), 40)
        for name in sorted(named):
            self.assertTrue(os.path.exists(f"tests/cases/{name}.json"), name)


if __name__ == "__main__":
    unittest.main()
