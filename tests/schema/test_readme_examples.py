# SPDX-License-Identifier: MIT
"""Every example of schema/README.md, put into an event that has what it speaks of, is taken, and
`cairn check` doubts nothing in it."""

import json
import os
import re
import subprocess
import tempfile
import unittest

from small_event import ENTRIES, completed, schema_errors

CAIRN = os.environ.get("CAIRN", "build/cairn")
PAGE = "schema/README.md"

# What examples name: items, groups, categories, days, cars.
AROUND = {
    "days": [{"date": "2027-05-20", "first_start": "08:00", "interval": "00:01:00"},
             {"date": "2027-05-21", "first_start": "08:00", "interval": "00:01:00"}],
    "classes": {"scheme": "fiva", "groups": [{"id": "low"}, {"id": "ladies"}],
                "categories": [{"id": "tour", "name": "Tour"}, {"id": "touring", "name": "Touring"},
                               {"id": "sports", "name": "Sports"}]},
    "scoring": {"teams": {"count": 2}},
    "route": [{"kind": "time-control"}, {"kind": "regularity"}, {"kind": "set-time"}, {"kind": "set-time"},
              {"kind": "special-test"}, {"kind": "time-control", "day": 2}],
}
CARS = ENTRIES.replace("1,A. Thorne", "7,A. Thorne").replace("2,B. Ashdown", "9,B. Ashdown") \
    + ("11,H. Marl,,Calder,Six,1903,1100,touring,,ALD,Fell,ladies,,\n"
       "12,J. Orme,,Calder,Six,1934,1300,tour,,ALD,Fell,,,\n")

SCORING = ("coefficient", "day_cap", "ties", "finisher")

def blocks(language):
    with open(PAGE, encoding="utf-8") as page:
        return re.findall(rf"^```{language}\n(.*?)^```$", page.read(), re.M | re.S)


def parts(text):
    """The examples of a block: objects, or members of the event or of its scoring, a line each where
    several lines begin alike."""
    if text.startswith("{"):
        return [json.loads(text)]
    lines = text.splitlines()
    if len({line.split(":")[0] for line in lines}) == 1:
        return [json.loads("{" + line + "}") for line in lines]
    return [json.loads("{" + text + "}")]


def event_with(example):
    """An event that has the example: a whole item, or members of the event or of its scoring."""
    event = json.loads(json.dumps(AROUND))
    if "early_from" in example:
        event["scoring"]["timing"] = "scheduled"
    if example.get("counts") == "ties":
        event["scoring"]["ties"] = [f"time:{example['id']}", f"test:{example['id']}"]
    if "kind" in example:
        event["route"] = [item for item in event["route"] if item["kind"] != example["kind"]]
        event["route"].insert(1, example)
    else:
        for key, value in example.items():
            owner = event["scoring"] if key in SCORING else event
            if isinstance(value, dict) and isinstance(owner.get(key), dict):
                owner[key].update(value)
            else:
                owner[key] = value
    return completed(event)


class ReadmeExamples(unittest.TestCase):
    def check(self, event, decisions=""):
        self.assertEqual(schema_errors(event), [])
        with tempfile.TemporaryDirectory() as folder:
            files = {"event.json": json.dumps(event), "entries.csv": CARS}
            if decisions:
                files["decisions.csv"] = decisions
            for name, text in files.items():
                with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
                    file.write(text)
            done = subprocess.run([CAIRN, "check", folder], capture_output=True, check=False, text=True)
        self.assertEqual(done.returncode, 0, done.stderr)
        # Of the cars, which are not the page's, much may be asked.
        told = [line for line in done.stderr.splitlines() if not line.startswith("entries.csv")]
        self.assertEqual(told, [])

    def test_every_example_is_taken(self):
        seen = 0
        for text in blocks("json"):
            for example in parts(text):
                with self.subTest(text):
                    self.check(event_with(example))
                    seen += 1
        self.assertGreater(seen, 18)

    def test_every_row_of_the_rules_table_is_taken(self):
        with open(PAGE, encoding="utf-8") as page:
            rows = re.findall(r"^\| `(\".*?)` \|", page.read(), re.M)
        self.assertGreater(len(rows), 6)
        for row in rows:
            with self.subTest(row):
                self.check(event_with({"day": 1, "id": "TC9", "kind": "time-control", "target": "00:30:00",
                                       "penalty": json.loads("{" + row + "}")}))

    def test_every_list_of_decisions_is_taken(self):
        lists = [text for text in blocks("csv") if text.startswith("kind,")]
        self.assertGreater(len(lists), 1)
        for text in lists:
            with self.subTest(text):
                event = event_with({})
                for item in event["route"]:
                    item.setdefault("faults", {"stop": 60})
                self.check(event, text)


if __name__ == "__main__":
    unittest.main()
