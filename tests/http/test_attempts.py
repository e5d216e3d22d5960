# SPDX-License-Identifier: MIT
"""A special test of several attempts, as desks, cards, pages and the office see it."""

import copy
import json
import subprocess

from tests.support.serving import API, EVENT, SLUG, ServedTest

AUTOTEST = copy.deepcopy(EVENT)
AUTOTEST["route"][4:5] = [
    {"day": 1, "id": "S1", "kind": "special-test", "name": "Rope walk", "attempts": 2,
     "counts": "sum", "maximum": {"best": "class", "plus": "00:00:30"},
     "faults": {"cone": 5, "wrong-test": "maximum"},
     "penalty": {"precision": "tenth", "late": "0.1", "missed": "maximum"}},
    {"day": 1, "id": "S2", "kind": "special-test", "name": "Kiln yard", "attempts": 3,
     "method": "behind-best", "best": "faultless"}]


class AttemptsTest(ServedTest):
    files = {"event": AUTOTEST, "readings": (
        "point,car,elapsed,faults\n"
        "S1/finish,1,41.2,\nS2/finish,1,60,\nS1/finish,2,39,cone=1\nS1/finish-2,2,40,\n"),
        "decisions": "kind,car,point,value,reason\n"}

    def point(self, car, point):
        card = self.server.get(f"{API}/cars/{car}", self.server.organiser).json()
        return next(p for p in card["points"] if p["point"] == point)

    def test_a_desk_has_a_start_and_a_finish_for_each_attempt(self):
        points = self.server.get(f"{API}/desk", self.server.organiser).json()["points"]
        points = [p for p in points if p["kind"] == "special-test"]
        self.assertEqual([(p["id"], p["part"], p["number"]) for p in points[:4]],
                         [("S1/start", "start", 1), ("S1/finish", "finish", 1),
                          ("S1/start-2", "start", 2), ("S1/finish-2", "finish", 2)])
        self.assertEqual(len(points), 10)

    def test_a_car_read_at_another_test_is_still_expected_for_its_second_attempt(self):
        def state(point, number):
            told = self.server.get(f"{API}/expected?point={point}", self.server.organiser).json()
            return next(car["state"] for car in told["cars"] if car["car"] == number)
        self.assertEqual(state("S1/finish-2", 1), "expected")
        self.assertEqual(state("S1/start-2", 1), "expected")
        self.assertEqual(state("S1/start-2", 2), "missing")
        self.assertEqual(state("S1/finish-2", 2), "seen")

    def test_a_sum_is_awaited_with_what_it_costs_so_far(self):
        point = self.point(1, "S1")
        self.assertEqual((point["state"], point["penalty"]), ("awaiting", "41.200"))
        self.assertIn("Together 41.2 = 41.2. Awaited: so far it costs 41.2.", point["why"])
        self.assertEqual(self.point(2, "S1")["penalty"], "84.000")
        row = self.server.get(f"{API}/cars/1?format=csv", self.server.organiser).text
        self.assertIn(",41.200,0,awaiting,", row)
        paper = subprocess.run(
            ["pdftotext", "-layout", "-", "-"], check=True, capture_output=True,
            input=self.server.get(f"{API}/paper/cars/1", self.server.organiser).body).stdout.decode()
        row = next(line for line in paper.splitlines() if line.strip().startswith("S1 "))
        self.assertTrue(row.rstrip().endswith(" 41.200"), row)
        row = next(line for line in paper.splitlines() if line.strip().startswith("T1/1 "))
        self.assertTrue(row.rstrip().endswith("–"), row)

    def test_the_page_of_a_test_tells_what_counts(self):
        page = self.server.get(f"/{SLUG}/tests/S1").text
        for sentence in ("2 attempts; they are added up.",
                         "Nobody is counted worse than the best of the same era plus 30 s.",
                         "Who does not finish is counted at the maximum."):
            self.assertIn(sentence, page)
        page = self.server.get(f"/{SLUG}/tests/S2").text
        for sentence in ("3 attempts; the best one counts.",
                         "The best is that of the attempts without faults, if there are any."):
            self.assertIn(sentence, page)

    def test_the_office_sees_what_the_second_attempt_changes(self):
        told = self.server.send("POST", "rules/examples/S2", json.dumps(AUTOTEST),
                                self.server.organiser).json()
        why = {one["case"]: one["scored"]["why"] for one in told["examples"]}
        self.assertIn("Attempt 3 counts, the best.", why["on-time"])
        self.assertIn("Attempt 3. No finish.", why["missed"])
        self.assertIn("Attempt 1 counts, the best.", why["missed"])
