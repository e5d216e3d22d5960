# SPDX-License-Identifier: MIT
"""schema/event.schema.json and the program accept the same files."""

import copy
import glob
import json
import os
import shutil
import subprocess
import tempfile
import unittest

import jsonschema

CAIRN = os.environ.get("CAIRN", "build/cairn")
DEMO = "seed-demo/merrow-2027"


def load(path):
    with open(path, encoding="utf-8-sig") as f:
        return json.load(f)


class EventSchema(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        schema = load("schema/event.schema.json")
        jsonschema.Draft202012Validator.check_schema(schema)
        cls.validator = jsonschema.Draft202012Validator(schema)
        cls.demo = load(os.path.join(DEMO, "event.json"))

    def taken(self, event):
        """Whether the program scores the demo's entries under this event.json."""
        with tempfile.TemporaryDirectory() as folder:
            shutil.copy(os.path.join(DEMO, "entries.csv"), folder)
            with open(os.path.join(folder, "event.json"), "w", encoding="utf-8") as f:
                json.dump(event, f)
            run = subprocess.run([CAIRN, "score", folder], capture_output=True, check=False)
            self.assertIn(run.returncode, (0, 2))
            return run.returncode == 0

    def test_the_demo_is_valid(self):
        self.assertEqual([], [e.message for e in self.validator.iter_errors(self.demo)])

    def test_every_preset_is_valid(self):
        presets = glob.glob("schema/presets/*.json")
        self.assertGreater(len(presets), 13)
        for path in presets:
            with self.subTest(path):
                self.assertEqual([], [e.message for e in self.validator.iter_errors(load(path))])

    def test_every_case_that_scores_is_valid(self):
        seen = 0
        for path in sorted(glob.glob("build/cases/*/case.json")):
            case = load(path)
            if any(run.get("exit", 0) != 0 for run in case["runs"]):
                continue
            event = load(os.path.join(os.path.dirname(path), "event", "event.json"))
            with self.subTest(path):
                self.assertEqual([], [e.message for e in self.validator.iter_errors(event)])
            seen += 1
        self.assertGreater(seen, 50)

    def test_what_the_schema_refuses_the_program_refuses(self):
        def item(kind):
            return next(i for i in range(len(self.demo["route"]))
                        if self.demo["route"][i]["kind"] == kind)
        control, regularity = item("time-control"), item("regularity")
        special, laps = item("special-test"), item("consistency")
        spoil = {
            "no slug": lambda e: e.pop("slug"),
            "a slug with capitals": lambda e: e.update(slug="Merrow"),
            "an unknown key at the top": lambda e: e.update(colour="green"),
            "an unknown unit": lambda e: e.update(unit="verst"),
            "a day without a date": lambda e: e["days"][0].pop("date"),
            "a start that is no time": lambda e: e["days"][0].update(first_start="8 o'clock"),
            "a control without a target": lambda e: e["route"][control].pop("target"),
            "a control that hides": lambda e: e["route"][control].update(reveal="closed"),
            "a kind that nobody knows": lambda e: e["route"][control].update(kind="picnic"),
            "checks that are no list": lambda e: e["route"][regularity].update(checks={}),
            "a speed with a letter": lambda e: e["route"][regularity]["speeds"][0].update(speed="4x"),
            "an unknown method": lambda e: e["route"][special].update(method="luck"),
            "laps in words": lambda e: e["route"][laps].update(laps="four"),
            "another kind's key": lambda e: e["route"][laps].update(bogey="10"),
            "a line for nobody": lambda e: e["route"][control].update({"for": [{"off": True}]}),
            "a line for two sorts of cars": lambda e: e["route"][control].update(
                {"for": [{"period": "C", "class": "C", "off": True}]}),
            "a line with a fault worth null": lambda e: e["route"][control].update(
                {"for": [{"period": "C", "faults": {"board": None}}]}),
            "a line that makes another test": lambda e: e["route"][laps].update(
                {"for": [{"period": "C", "laps": 2}]}),
            "a line with values that is off": lambda e: e["route"][control].update(
                {"for": [{"period": "C", "off": True, "target": 9}]}),
            "a fault worth a word that is none": lambda e: e["route"][special]["faults"].update(
                cone="mised"),
            "a fault worth no fails": lambda e: e["route"][control].update(
                faults={"board": {"fails": 0}}),
            "a fault of a control worth its maximum": lambda e: e["route"][control].update(
                faults={"board": "maximum"}),
            "an unknown rule key": lambda e: e["scoring"]["defaults"]["regularity"].update(mercy=1),
            "an unknown tie": lambda e: e["scoring"].update(ties=["best-hat"]),
            "a penalty with four decimals": lambda e: e["scoring"].update(absent_day_cap="1.2345"),
        }
        self.assertTrue(self.taken(self.demo))
        for name, change in spoil.items():
            event = copy.deepcopy(self.demo)
            change(event)
            with self.subTest(name):
                self.assertFalse(self.validator.is_valid(event))
                self.assertFalse(self.taken(event))


if __name__ == "__main__":
    unittest.main()
