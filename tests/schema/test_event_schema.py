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
            "a rate below nothing": lambda e: e["scoring"]["defaults"]["regularity"].update(late=-1),
            "a penalty without end": lambda e: e["scoring"].update(day_cap="1000000000.001"),
            "a target of two days": lambda e: e["route"][control].update(target=172800),
            "a unit of no length": lambda e: e["scoring"]["defaults"]["regularity"].update(per="0"),
            "what is missed at a control costs a maximum": lambda e: e["route"][control].update(
                penalty={"missed": "maximum"}),
            "what is missed costs a maximum that is not set": lambda e: (
                e["route"][special].pop("maximum"),
                e["route"][special].update(faults={}, penalty={"missed": "maximum"})),
            "a fault worth a maximum that is not set": lambda e: (
                e["route"][special].pop("maximum"),
                e["route"][special].update(faults={"cone": 5, "wrong-route": "maximum"})),
            "what is over no bogey": lambda e: (
                e["route"][special].pop("bogey"), e["route"][special].update(method="over-bogey")),
            "steps without a last one": lambda e: e["scoring"]["defaults"]["regularity"].update(
                late=[{"to": "00:01:00", "rate": 1}]),
            "a value of a line in a wrong form": lambda e: e["route"][control].update(
                {"for": [{"period": "C", "target": "soon"}]}),
            "checks of a line that are no list": lambda e: e["route"][regularity].update(
                {"for": [{"period": "C", "checks": {}}]}),
            "checks of a line that are all off": lambda e: e["route"][regularity].update(
                {"for": [{"period": "C", "checks": [None] * len(e["route"][regularity]["checks"])}]}),
            "another kind's key in a line": lambda e: e["route"][laps].update(
                {"for": [{"period": "C", "bogey": "10"}]}),
            "a check at nothing": lambda e: e["route"][regularity]["checks"][0].clear(),
            "a first speed from further on": lambda e: e["route"][regularity]["speeds"][0].update(
                {"from": "0.5"}),
            "a car that stands still": lambda e: e["route"][regularity]["speeds"][0].update(speed=0),
            "a time after a control for a start of its own": lambda e: e["route"][regularity].update(
                start="reading", start_after="90"),
            "one lap that is compared with itself": lambda e: e["route"][laps].update(
                laps=1, reference="first"),
            "a coefficient by class without a table": lambda e: e["scoring"].update(
                coefficient={"by": "class"}),
            "a table of a coefficient by year": lambda e: e["scoring"].update(
                coefficient={"by": "year", "table": {"C": "1.1"}}),
            "periods of a scheme that has its own": lambda e: e["classes"].update(
                periods=[{"id": "C"}]),
            "a scheme of one's own without periods": lambda e: e.update(classes={"scheme": "custom"}),
            "an edition of a scheme without": lambda e: e["classes"].update(edition=2025),
            "a share above all": lambda e: e["scoring"].update(finisher={"share": "1.5"}),
            "a prize of nothing": lambda e: e["awards"][0].update(by="make", of=""),
            "a prize for all cars of one": lambda e: e["awards"][0].update(by="overall", of="C"),
            "a prize for teams within a penalty": lambda e: (
                e["awards"][0].pop("of", None), e["awards"][0].update(by="team", within=30)),
        }
        self.demo.setdefault("awards", [{"id": "cup", "name": "Cup", "by": "overall"}])
        self.assertTrue(self.taken(self.demo))
        for name, change in spoil.items():
            event = copy.deepcopy(self.demo)
            change(event)
            with self.subTest(name):
                self.assertFalse(self.validator.is_valid(event))
                self.assertFalse(self.taken(event))

    def test_the_program_refuses_what_the_schema_refuses_in_any_place(self):
        """Each value of each case in turn is something else."""
        forms = (None, "", -1, "1.2345", "none", [], {"x": 1})
        seen, tried = set(), 0
        for path in sorted(glob.glob("build/cases/*/event/event.json")):
            event = load(path)
            folder = os.path.dirname(path)
            if not isinstance(event.get("route"), list) or not self.scored(folder, event):
                continue
            for place in places(event):
                name = place_name(event, place)
                if name in seen:
                    continue
                seen.add(name)
                for form in forms:
                    other = copy.deepcopy(event)
                    holder_of(other, place)[place[-1]] = form
                    if not self.validator.is_valid(other):
                        tried += 1
                        self.assertFalse(self.scored(folder, other), f"{path} {name}: {form!r}")
        self.assertGreater(tried, 1500)

    def scored(self, folder, event):
        """Whether the program takes the rules with the entries of a folder."""
        with tempfile.TemporaryDirectory() as bare:
            shutil.copy(os.path.join(folder, "entries.csv"), bare)
            with open(os.path.join(bare, "event.json"), "w", encoding="utf-8") as file:
                json.dump(event, file)
            run = subprocess.run([CAIRN, "check", bare], capture_output=True, check=False)
            self.assertIn(run.returncode, (0, 2))
            return run.returncode == 0


def places(value, place=()):
    """The ways to all values inside of one, as tuples of keys and places in lists."""
    inner = (value.items() if isinstance(value, dict) else
             enumerate(value) if isinstance(value, list) else ())
    for key, member in inner:
        yield (*place, key)
        yield from places(member, (*place, key))


def holder_of(value, place):
    """The object or list that holds what stands at a place."""
    for key in place[:-1]:
        value = value[key]
    return value


def place_name(event, place):
    """A place without its numbers in lists, but with the kind of its item and its type."""
    names = ["" if isinstance(key, int) else key for key in place]
    if place[0] == "route" and len(place) > 1:
        names[1] = event["route"][place[1]]["kind"]
    return (*names, type(holder_of(event, place)[place[-1]]).__name__)


if __name__ == "__main__":
    unittest.main()
