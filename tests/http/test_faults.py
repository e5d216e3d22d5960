# SPDX-License-Identifier: MIT
"""Faults at any point, and decisions that add to a point or test: told at a desk and in the office,
on cards, pages and paper, in the log and in the folder."""

import copy
import csv
import os

from test_paper import PaperTest
from tests.support import board, serving
from tests.support.serving import API, SECRET, SLUG, cairn

EVENT = copy.deepcopy(serving.EVENT)
ITEMS = {item["id"]: item for item in EVENT["route"]}
ITEMS["TC1"]["faults"] = {"zone": 50, "wrong-way": "missed"}
ITEMS["R1"]["faults"] = {"stop": 60}
ITEMS["T1"]["faults"] = {"stop": {"fails": 1}, "board": "missed"}
READINGS = "point,car,time,faults\nTC1,1,08:46,\nTC1,2,08:47,zone=1\n"
DECISIONS = "kind,car,point,value,reason,id,at,by\n"


class FaultsTest(PaperTest):
    files = {"event": EVENT, "readings": READINGS, "decisions": DECISIONS}

    def card(self, car, key=None):
        return self.server.get(f"{API}/cars/{car}", key).json()

    def point(self, car, point, key=None):
        rows = [row for row in self.card(car, key)["points"] if row["point"] == point]
        return [(row["kind"], row["penalty"], row["fails"], row["state"]) for row in rows]

    def decide(self, **row):
        told = self.server.post("decisions", [dict(row, reason="judge of facts", by="Clerk")]).json()
        self.assertEqual((told["accepted"], told["refused"]), (1, []), told)

    def test_a_control_sheet_names_the_faults_of_its_point(self):
        key = self.server.organiser
        self.assertIn("Faults here, each with how many times: zone, wrong-way.",
                      self.paper("control?point=TC1/out", key).text)
        for point in ("S1/finish", "PC1"):
            self.assertNotIn("Faults here", self.paper(f"control?point={point}", key).text)

    def test_a_desk_is_told_the_faults_of_its_points_and_sends_them(self):
        told = self.server.get(f"{API}/desk", self.server.timekeeper).json()
        faults = {point["id"]: point["faults"] for point in told["points"]}
        self.assertEqual((faults["TC1"], faults["TC1/out"], faults["R1/1"]),
                         (["zone", "wrong-way"], ["zone", "wrong-way"], ["stop"]))
        answer = self.server.post("readings", [
            {"point": "TC1", "car": 3, "time": "08:48", "faults": {"zone": 2}},
            {"point": "TC1/out", "car": 3, "time": "08:50", "faults": "wrong-way=1"},
            {"point": "TC1", "car": 5, "time": "08:50", "faults": "stop=1"}],
            self.server.timekeeper).json()
        self.assertEqual([row["reason"] for row in answer["refused"]],
                         ["TC1 names no fault “stop”; it names zone, wrong-way"])
        self.assertEqual(self.point(3, "TC1"), [("time-control", "1000.000", 0, "missed")])
        cars = self.server.get(f"{API}/expected?point=TC1", self.server.timekeeper).json()["cars"]
        self.assertEqual({car["car"]: car["faults"] for car in cars}[3], "zone=2")

    def test_decisions_stand_on_the_card_in_the_item_and_in_the_log(self):
        self.decide(kind="penalty", car=1, point="TC1", value="12.5")
        self.decide(kind="fails", car=1, value=2)
        self.decide(kind="fails", car=1, point="T1", value=1)
        self.decide(kind="faults", car=1, point="TC1/out", value="zone=1")
        self.assertEqual(self.point(1, "TC1"), [("time-control", "50.000", 0, "scored"),
                                                ("penalty", "12.500", 0, "scored")])
        self.assertEqual(self.point(1, "T1"), [("fails", "0.000", 1, "scored")])
        card = self.card(1)
        self.assertEqual((card["penalty"], card["fails"]), ("62.500", 3))
        self.assertEqual([(step["of"], step["penalty"], step["fails"]) for step in card["total"]
                          if step["of"] in ("T1", "controls", "decision")],
                         [("T1", "0.000", 1), ("controls", "62.500", 0), ("decision", "0.000", 2)])
        page = self.server.get(f"/{SLUG}/cars/1").text
        table = board.tables(page, "card")[0]
        self.assertEqual([row[4] for row in table.rows if row[0].startswith("TC1")],
                         ["50.000", "12.500"])
        self.assertIn("Decided: judge of facts: 12.5 for the control, outside every cap of it.", page)
        self.assertIn("faults: zone=1", page)
        self.assertIn("fails: 2", page)
        self.assert_rows(self.paper("cars/1"), [("TC1", "50.000"), ("TC1", "12.500")])
        table = list(csv.DictReader(self.server.get(f"{API}/cars/1?format=csv").text.splitlines()))
        self.assertEqual([(row["kind"], row["penalty"]) for row in table if row["point"] == "TC1"],
                         [("time-control", "50.000"), ("penalty", "12.500")])
        log = self.server.get(f"{API}/log", self.server.organiser).json()["entries"]
        self.assertTrue(any("faults of zone=1 for car 1 at TC1/out" in entry["what"]
                            for entry in log), [entry["what"] for entry in log])

    def test_a_decision_at_a_hidden_test_is_hidden_with_it(self):
        before = self.card(5)
        self.decide(kind="penalty", car=5, point="R1", value="33.25")
        self.decide(kind="faults", car=5, point="R1/1", value="stop=1")
        self.assertEqual(self.card(5)["penalty"], before["penalty"])
        public = self.server.get(f"/{SLUG}/cars/5").text
        self.assertFalse([word for word in ("33.25", "stop=1", SECRET) if word in public])
        self.assertEqual(self.point(5, "R1", self.server.organiser),
                         [("penalty", "33.250", 0, "scored")])
        self.assertEqual(self.point(5, "R1/1", self.server.organiser),
                         [("regularity", "60.000", 0, "awaiting")])

    def test_wrong_decisions_are_refused_with_their_reason(self):
        rows = [{"kind": "fails", "car": 1, "value": "100"},
                {"kind": "faults", "car": 1, "point": "R1", "value": "stop=1"},
                {"kind": "faults", "car": 1, "point": "R1/1", "value": "cone=1"},
                {"kind": "faults", "car": 1, "value": "stop=1"},
                {"kind": "faults", "car": 1, "point": "R1/1", "value": "stop"},
                {"kind": "penalty", "car": 1, "point": "day:1", "value": "5"}]
        told = self.server.post("decisions", [dict(row, reason="x") for row in rows]).json()
        self.assertEqual([row["reason"] for row in told["refused"]], [
            "value “100” is not a number of fails from 1 to 99",
            "“R1” is a test: name the point of it where the fault was, such as “R1/start”",
            "R1 names no fault “cone”; it names stop",
            "faults needs a point",
            "faults “stop” must be written like cone=2;line=1",
            "point “day:1” is not on the route"])

    def test_the_folder_has_them_and_gives_the_same_standings_again(self):
        self.decide(kind="penalty", car=8, point="T1", value="-5")
        self.decide(kind="fails", car=8, point="TC1", value=1)
        folder = os.path.join(self.server.folder, "out")
        cairn("export", self.server.data, SLUG, folder)
        with open(os.path.join(folder, "decisions.csv"), encoding="utf-8", newline="") as file:
            rows = [(row["kind"], row["point"], row["value"]) for row in csv.DictReader(file)
                    if row["car"] == "8"]
        self.assertEqual(sorted(rows), [("fails", "TC1", "1"), ("penalty", "T1", "-5")])
        again = os.path.join(self.server.folder, "again")
        cairn("import", again, folder)
        cairn("export", again, SLUG, folder + "-again")
        for name in os.listdir(folder):
            with open(os.path.join(folder, name), "rb") as one, \
                 open(os.path.join(folder + "-again", name), "rb") as other:
                self.assertEqual(one.read(), other.read(), name)

    def test_the_page_of_a_test_says_what_its_faults_are_worth(self):
        for language, words in (("en", "Faults: stop 1 fail, board counts as missed."),
                                ("de", "Fehler: stop 1 Fehler, board gilt als versäumt."),
                                ("fr", "Fautes : stop 1 échec, board compte comme manqué."),
                                ("it", "Falli: stop 1 errore, board vale come mancato.")):
            self.assertIn(words, self.server.get(f"/{SLUG}/tests/T1?lang={language}").text)
