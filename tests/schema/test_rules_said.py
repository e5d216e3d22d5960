# SPDX-License-Identifier: MIT
"""Every example of schema/RULES.md is completed to an event and taken, and every case that it names
is there."""

import copy
import json
import os
import re
import subprocess
import tempfile
import unittest

CAIRN = os.environ.get("CAIRN", "build/cairn")
PAGE = "schema/RULES.md"

BASE = {
    "name": "Rule", "slug": "rule", "timezone": "Etc/UTC", "unit": "km",
    "days": [{"date": "2027-05-20", "first_start": "08:00", "interval": "00:01:00"}],
    "classes": {"scheme": "fiva",
                "groups": [{"id": "low"}, {"id": "ladies"}],
                "categories": [{"id": "tour", "name": "Touring"}]},
    "scoring": {"timing": "target"},
    "route": [{"kind": "time-control"}, {"kind": "time-control"}, {"kind": "regularity"}],
}

# What an item of each kind needs, where an example does not say it.
NEEDS = {
    "time-control": {"target": "00:30:00"},
    "passage-control": {},
    "regularity": {"speeds": [{"from": 0, "speed": 45}], "checks": [{"at": 3}, {"at": 6}]},
    "set-time": {"targets": ["11.70", "9.00"]},
    "special-test": {},
    "consistency": {"laps": 3},
}
LETTERS = {"time-control": "TC", "passage-control": "PC", "regularity": "R", "set-time": "T",
           "special-test": "S", "consistency": "L"}

ENTRIES = """number,driver,navigator,make,model,year,engine_cc,category,team,country,club,groups,coefficient,born
12,A. Thorne,M. Vale,Calder,Six,1929,1996,tour,Rooks,XA,Moor,low,1.2,1950
14,B. Ashdown,,Brixham,Tourer,1934,1287,,Rooks,XB,Moor,low;ladies,,1960-02-01
15,E. Quill,R. Sedge,Calder,Eight,1955,3400,,,XA,Fell,,,
"""


def examples():
    """The blocks of the page: the line above each, its language, its text."""
    with open(PAGE, encoding="utf-8") as page:
        text = page.read()
    rule = ""
    for match in re.finditer(r"^\*\*(?P<rule>[^\n]*)$|^```(?P<language>\w+)\n(?P<text>.*?)^```$", text,
                             re.M | re.S):
        if match["rule"] is not None:
            rule = match["rule"].split("\n")[0]
        else:
            yield rule, match["language"], match["text"]


def completed(example):
    """The event of an example: what it does not say is the plain event's."""
    event = copy.deepcopy(BASE)
    for key, value in example.items():
        if isinstance(value, dict):
            event[key].update(value)
        else:
            event[key] = value
    for group in BASE["classes"]["groups"]:
        if group["id"] not in [own["id"] for own in event["classes"]["groups"]]:
            event["classes"]["groups"].append(group)
    counts = {}
    for item in event["route"]:
        kind = item["kind"]
        counts[kind] = counts.get(kind, 0) + 1
        item.setdefault("day", 1)
        item.setdefault("id", f"{LETTERS[kind]}{counts[kind]}")
        for key, value in NEEDS[kind].items():
            if key != "speeds" or "checks" not in item or "at" in item["checks"][0]:
                item.setdefault(key, value)
    return event


class RulesSaid(unittest.TestCase):
    def score(self, event, decisions=""):
        with tempfile.TemporaryDirectory() as folder:
            files = {"event.json": json.dumps(event), "entries.csv": ENTRIES}
            if decisions:
                files["decisions.csv"] = "kind,car,point,value,reason\n" + decisions
            for name, text in files.items():
                with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
                    file.write(text)
            run = subprocess.run([CAIRN, "score", "--strict", folder], capture_output=True,
                                 check=False, text=True)
            self.assertEqual((run.returncode, run.stderr), (0, ""))

    def test_every_example_is_taken(self):
        seen = 0
        for rule, language, text in examples():
            with self.subTest(rule, text=text):
                if language == "json":
                    self.score(completed(json.loads(text)))
                else:
                    self.assertEqual(language, "csv")
                    self.score(completed({}), text)
                seen += 1
        self.assertGreater(seen, 70)

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
