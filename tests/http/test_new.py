# SPDX-License-Identifier: MIT
"""cairn new: a folder from a blank form or from another event, ready to check and to import."""

import csv
import json
import os
import re
import subprocess
import tempfile
import unittest

from tests.support.cairn import CAIRN
from tests.support.serving import ENTRIES, EVENT, SLUG, cairn, write_folder


class NewTest(unittest.TestCase):
    def setUp(self):
        self.place = tempfile.TemporaryDirectory()
        self.addCleanup(self.place.cleanup)

    def path(self, name):
        return os.path.join(self.place.name, name)

    def make(self, name, *arguments):
        told = cairn("new", self.path(name), *arguments)
        return told, self.rules(name)

    def rules(self, name):
        with open(os.path.join(self.path(name), "event.json"), encoding="utf-8") as file:
            return json.load(file)

    def refused(self, *arguments):
        done = subprocess.run([CAIRN, "new", *arguments], capture_output=True, timeout=60,
                              check=False)
        self.assertEqual((done.returncode, done.stdout), (2, b""), arguments)
        return done.stderr.decode()


class BlankTest(NewTest):
    def test_every_preset_passes_the_check_and_can_be_imported(self):
        listed = cairn("new", "--list")
        names = [line.split()[0] for line in listed.splitlines() if line[:1].strip()]
        self.assertGreaterEqual(len(names), 14)
        presets = re.search(r"Presets: (.*?)\.", cairn("new", "--help"), re.S)[1]
        self.assertCountEqual(re.sub(r"\(.*?\)", "", presets).replace(",", " ").split(), names)
        with open("schema/README.md", encoding="utf-8") as page:
            self.assertCountEqual(re.findall(r"^\| `([a-z-]+)`(?: \(default\))? \| .* \| (?:km|miles), ",
                                             page.read(), re.M), names)
        for name in names:
            told, rules = self.make(name, "--rules", name, "--first-day", "2031-02-28",
                                    "--timezone", "Atlantic/Azores")
            # Where its values come from: a rule book by name, no address.
            self.assertRegex(told, r"Technical Code|Appendix K|ACI Sport|NOP rally|Motorsport UK|"
                                   r"FFSA|§ 571|Toronto|Solway|London to Lisbon")
            self.assertNotIn("://", told)
            self.assertEqual(rules["slug"], name)
            self.assertEqual(rules["timezone"], "Atlantic/Azores")
            self.assertEqual(rules["days"][0]["date"], "2031-02-28")
            done = subprocess.run([CAIRN, "check", self.path(name)], capture_output=True,
                                  timeout=60, check=True, encoding="utf-8")
            # The one car is alone in its class; nothing else is doubtful, no speed above a limit.
            self.assertRegex(done.stderr, r"\Aentries\.csv:2: doubt: car 1 is alone in class .*\n\Z")
            self.assertIn("0 warnings, 1 doubts", done.stdout)
            cairn("import", self.place.name, self.path(name))
            self.assertTrue(os.path.exists(self.path(name + ".cairn")))

    def test_the_example_car_has_the_columns_that_the_rules_look_at(self):
        def example(name):
            with open(self.path(f"{name}/entries.csv"), encoding="utf-8", newline="") as file:
                return next(csv.DictReader(file))
        _, rules = self.make("averages", "--rules", "french-averages")
        self.assertEqual(example("averages")["groups"], "high")
        self.make("plain")
        self.assertFalse({"groups", "coefficient", "born"} & set(example("plain")))
        rules["scoring"].update(coefficient={"by": "entry"}, ties=["older-driver"])
        with open(self.path("averages/event.json"), "w", encoding="utf-8") as file:
            json.dump(rules, file)
        self.make("next", "--from", self.path("averages"), "--slug", "next", "--first-day",
                  "2032-05-20")
        self.assertEqual({key: example("next")[key] for key in ("groups", "coefficient", "born")},
                         {"groups": "high", "coefficient": "1", "born": "1960"})

    def test_published_values_stand_in_the_presets(self):
        for preset, kind, expected in (
                ("hundredths", "time-control", {"early": 100, "late": 100, "cap": {"late": 300}}),
                ("early-double", "time-control", {"early": 20, "late": 10, "cap": 200}),
                ("early-double", "regularity", {"early": 2, "late": 1, "cap": 200}),
                ("uk-road", "time-control", {"early": 60, "late": 15, "missed": 60}),
                ("uk-road", "regularity", {"early": 1, "late": 1, "cap": {"late": 60}}),
                ("uk-target", "time-control", {"early": 60, "late": 10}),
                ("uk-fails", "time-control", {"early": 2, "late": 1, "missed": {"fails": 1}}),
                ("norwegian", "time-control", {"early": 20, "late": 10, "cap": 300, "missed": 300}),
                ("norwegian", "special-test", {"late": "0.2"}),
                ("tsd-hundredths", "regularity", {"precision": "0.6", "late": 1, "cap": 500,
                                                  "missed": 1000})):
            _, rules = self.make(preset + kind, "--rules", preset)
            held = rules["scoring"]["defaults"][kind]
            self.assertEqual({key: held[key] for key in expected}, expected, preset)

    def test_uk_presets_have_the_keys_of_the_road(self):
        _, road = self.make("road", "--rules", "uk-road")
        first, _, regularity, end = road["route"]
        self.assertTrue(road["scoring"]["max_lateness_holds"])
        self.assertEqual(road["scoring"]["shown"], "time")
        # Three quarters of 36 minutes.
        self.assertEqual((first["target"], first["shortest"]), ("00:36:00", "00:27:00"))
        self.assertEqual(regularity["finish"], "control")
        self.assertEqual((end["early_from"], end["penalty"]["early"]), ("due", {"once": 1800}))
        _, target = self.make("target", "--rules", "uk-target")
        self.assertEqual(target["scoring"]["lateness"], "cumulative")
        self.assertEqual(target["scoring"]["defaults"]["special-test"]["missed"], "maximum")

    def test_the_slug_follows_the_folder_and_the_day_is_today_unless_told(self):
        _, rules = self.make("Harbour Run 2031/")
        self.assertEqual(rules["slug"], "harbour-run-2031")
        self.assertRegex(rules["days"][0]["date"], r"^20\d\d-\d\d-\d\d$")


class AfterTest(NewTest):
    def setUp(self):
        super().setUp()
        self.old = write_folder(self.path("old"), {**EVENT, "days": [
            {"date": "2031-02-27", "first_start": "08:01", "interval": "00:01:00"},
            {"date": "2031-02-28", "first_start": "08:01", "interval": "00:01:00"},
            {"date": "2031-03-01", "first_start": "08:01", "interval": "00:01:00"}]})

    def dates(self, name):
        return [day["date"] for day in self.rules(name)["days"]]

    def test_all_days_move_by_as_many_as_the_first_over_ends_of_months_and_leap_days(self):
        for name, first, expected in (
                ("leap", "2032-02-27", ["2032-02-27", "2032-02-28", "2032-02-29"]),
                ("plain", "2033-02-27", ["2033-02-27", "2033-02-28", "2033-03-01"]),
                ("autumn", "2031-09-29", ["2031-09-29", "2031-09-30", "2031-10-01"]),
                ("turn", "2031-12-30", ["2031-12-30", "2031-12-31", "2032-01-01"]),
                ("back", "2029-12-31", ["2029-12-31", "2030-01-01", "2030-01-02"])):
            self.make(name, "--from", self.old, "--first-day", first, "--slug", name)
            self.assertEqual(self.dates(name), expected)

    def test_the_rest_stays_and_the_year_follows_in_name_and_slug(self):
        _, rules = self.make("next", "--from", self.old)
        self.assertEqual(rules["slug"], SLUG.replace("2031", "2032"))
        self.assertEqual(rules["name"], EVENT["name"].replace("2031", "2032"))
        self.assertEqual(self.dates("next"), ["2032-02-26", "2032-02-27", "2032-02-28"])
        for key in ("classes", "scoring", "route", "awards", "unit", "timezone"):
            self.assertEqual(rules[key], EVENT[key], key)
        self.assertEqual(sorted(os.listdir(self.path("next"))), ["entries.csv", "event.json"])
        with open(self.path("next/entries.csv"), encoding="utf-8", newline="") as file:
            rows = list(csv.DictReader(file))
        self.assertEqual([row["number"] for row in rows], ["1"])
        self.assertEqual(rows[0]["category"], "open")
        cairn("check", self.path("next"))

    def test_the_entry_list_is_kept_where_it_is_asked_for(self):
        self.make("next", "--from", self.old, "--entries")
        with open(self.path("next/entries.csv"), encoding="utf-8") as file:
            self.assertEqual(file.read(), ENTRIES)

    def test_an_event_file_gives_the_same_as_its_folder(self):
        cairn("import", self.place.name, self.old)
        self.make("one", "--from", self.old, "--entries")
        self.make("two", "--from", self.path(SLUG + ".cairn"), "--entries")
        for name in ("event.json", "entries.csv"):
            with open(self.path("one/" + name), "rb") as one, \
                    open(self.path("two/" + name), "rb") as two:
                self.assertEqual(one.read(), two.read())

    def test_numbers_keep_their_digits(self):
        with open(self.old + "/event.json", encoding="utf-8") as file:
            text = file.read()
        with open(self.old + "/event.json", "w", encoding="utf-8") as file:
            file.write(text.replace('"speed": 48', '"speed": 48.100'))
        self.make("next", "--from", self.old)
        with open(self.path("next/event.json"), encoding="utf-8") as file:
            self.assertIn('"speed": 48.100', file.read())

    def test_a_slug_without_a_year_must_be_given_anew(self):
        old = write_folder(self.path("plain"), {**EVENT, "slug": "trial"})
        self.assertIn("give the new event a slug", self.refused(self.path("x"), "--from", old))
        self.assertFalse(os.path.exists(self.path("x")))


class RefusedTest(NewTest):
    def test_nothing_is_overwritten(self):
        self.make("mine")
        before = self.rules("mine")
        self.assertIn("not empty; nothing was written", self.refused(self.path("mine")))
        self.assertEqual(self.rules("mine"), before)
        with open(self.path("file"), "w", encoding="utf-8") as file:
            file.write("kept")
        self.refused(self.path("file"))
        with open(self.path("file"), encoding="utf-8") as file:
            self.assertEqual(file.read(), "kept")

    def test_an_empty_folder_that_is_there_will_do(self):
        os.mkdir(self.path("empty"))
        self.make("empty")

    def test_wrong_arguments_are_told_and_nothing_is_made(self):
        here = self.path("x")
        for words, arguments in (
                ("it needs one folder", ()),
                ("it needs one folder", (here, here)),
                ("is no preset: see cairn new --list", (here, "--rules", "moon")),
                ("exclude each other", (here, "--rules", "fiva", "--from", here)),
                ("--entries needs --from", (here, "--entries")),
                ("--colour is not known", (here, "--colour", "red")),
                ("--list takes no value", ("--list=yes",)),
                ("--slug needs a value", (here, "--slug")),
                ("--first-day: “30.2.2031” is no date", (here, "--first-day", "30.2.2031")),
                ("--first-day: “2031-02-29” is no date", (here, "--first-day", "2031-02-29")),
                ("event.json: slug: “A b” must be", (here, "--slug", "A b")),
                ("event.json: name: must not be empty", (here, "--name", "")),
                ("event.json: timezone: “no zone!” is no name", (here, "--timezone", "no zone!")),
                ("no such folder", (here, "--from", self.path("gone"))),
                ("event.json: is not in", (here, "--from", self.place.name)),
                ("No such file", (self.path("a/b"),))):
            self.assertIn(words, self.refused(*arguments))
            self.assertFalse(os.path.exists(here), arguments)

    def test_what_is_no_event_is_told(self):
        with open(self.path("x.cairn"), "w", encoding="utf-8") as file:
            file.write("no database, and long enough to be looked at\n" * 50)
        self.assertIn("x.cairn", self.refused(self.path("new"), "--from", self.path("x.cairn")))
        old = write_folder(self.path("old"), {**EVENT, "unit": "furlong"})
        self.assertIn("event.json: unit:", self.refused(self.path("new"), "--from", old))


if __name__ == "__main__":
    unittest.main()
