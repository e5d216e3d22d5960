# SPDX-License-Identifier: MIT
"""An event in which being early costs fails: no page gives a gap in penalty between cars of
different fails."""

import copy

from test_paper import PaperTest
from tests.support import board, serving
from tests.support.serving import API, SLUG

EVENT = copy.deepcopy(serving.EVENT)
EVENT["scoring"] = {"defaults": {"time-control": {
    "precision": "minute", "per": "minute", "early": {"fails": 1}, "late": 10}}}
EVENT["route"] = [
    {"day": 1, "id": "TC1", "kind": "time-control", "name": "Old quay", "target": "00:45:00"},
    {"day": 1, "id": "T1", "kind": "set-time", "name": "Harbour pads", "targets": ["9"]},
    # not driven yet
    *[item for item in EVENT["route"] if item["id"] in ("R1", "S1")]]
EVENT["awards"] = []
# Car 5 has not been seen. Cars 1 and 2 are late; 3 and 8 are early, once each; 3 has lost most at the pads, 8 nothing.
READINGS = ("point,car,time,elapsed\nTC1,1,08:48,\nTC1,2,08:52,\nTC1,3,08:40,\nTC1,8,08:45,\n"
            "T1/1,1,,9\nT1/1,2,,9\nT1/1,3,,49\nT1/1,8,,9\n")
DECISIONS = "kind,car,point,value,reason\npenalty,5,,7,Plate missing\n"


class FailsTest(PaperTest):
    files = {"event": EVENT, "readings": READINGS, "decisions": DECISIONS}

    def page(self, path):
        answer = self.server.get(f"/{SLUG}/{path}")
        self.assertEqual(answer.status, 200, path)
        return answer.text

    def test_gaps_of_the_api(self):
        rows = self.server.get(f"{API}/standings").json()["standings"]
        self.assertEqual(
            [(r["car"], r["fails"], r["penalty"], r["behind_leader"], r["behind_next"],
              r["fails_behind_leader"], r["fails_behind_next"]) for r in rows],
            [(1, 0, "20.000", "0.000", "0.000", 0, 0), (2, 0, "50.000", "30.000", "30.000", 0, 0),
             (8, 1, "0.000", None, None, 1, 1), (3, 1, "40.000", None, "40.000", 1, 0)])

    def test_gaps_of_the_board_and_its_figures(self):
        for query, words in (("?view=live", "1 fail"), ("?view=live&lang=de", "1 Fehler")):
            table, = board.tables(self.page(query), "board")
            comma = "," if "de" in query else "."
            self.assertEqual([row[5].replace(comma, ".") for row in table.rows],
                             ["0.000", "30.000", words, words])
            self.assertEqual([row[6].replace(comma, ".") for row in table.rows],
                             ["0.000", "30.000", words, "40.000"])
            told = self.server.get(f"{API}/board{query}").json()
            self.assertEqual(told["leader"], ["", "", words, words])
            self.assertEqual(told["next"], ["", "", words, ""])
        told = self.server.get(f"{API}/board?class=C&view=live").json()
        self.assertNotIn("leader", told)  # all of one class have the same fails

    def test_gaps_of_screen_card_and_paper(self):
        table, = board.tables(self.page("screen?view=live"), "large")
        self.assertEqual(table.column("To leader"), ["0.000", "30.000", "1 fail", "1 fail"])
        card = self.page("cars/8")
        self.assertIn("<strong>1 fail</strong>", card)
        self.assertIn("<strong>40.000</strong>", card)
        self.assert_rows(self.paper("standings"), [("1", "1", "0.000"), ("2", "2", "30.000"),
                                                   ("3", "8", "1 fail"), ("4", "3", "1 fail")])

    def test_fails_at_a_test(self):
        """They stand in the card's picture and its twin, and among what a test's page says first."""
        self.assertNotIn("fail", board.tables(self.page("cars/3"), "twin")[0].rows[0][4])
        self.assertNotIn("<dt>Fails</dt>", self.page("tests/T1"))
        self.assert_taken(self.server.post("decisions", [
            {"kind": "fails", "car": 3, "point": "T1", "value": 2, "reason": "baulked", "id": "f-3"},
            {"kind": "fails", "car": 8, "point": "T1", "value": 1, "reason": "baulked", "id": "f-8"}
        ]), 2)
        card = self.page("cars/3")
        self.assertIn(">40, 2 fails</text>", card)
        self.assertEqual(board.tables(card, "twin")[0].rows[0],
                         ["T1 Harbour pads", "0.000", "40.000", "40.000", "2 fails"])
        self.assertIn(">1 fail</text>", self.page("cars/8"))
        self.assertIn(">1 Fehler</text>", self.page("cars/8?lang=de"))
        self.assertIn('<dt>Fails</dt><dd>2 cars <span class="no">8</span> '
                      '<span class="no">3</span></dd>', self.page("tests/T1"))
        self.assert_taken(self.server.post("decisions", [
            {"kind": "revoke", "value": id, "reason": "not so"} for id in ("f-3", "f-8")]), 2)

    def test_the_sum_of_a_day_has_its_fails(self):
        self.assertIn("<caption>Day 1, 2031-06-06: penalty 40.000, 1 fail</caption>",
                      self.page("cars/3"))
        self.assertIn(": penalty 50.000</caption>", self.page("cars/2"))

    def test_fails_of_a_card_on_paper(self):
        card = self.paper("cars/3")
        self.assertIn("Why Fails Penalty", card.words())
        self.assert_rows(card, [("TC1", "1", "0.000"), ("T1/1", "40.000"), ("controls", "1", "0.000"),
                                ("Total", "1", "40.000")])
        self.assertNotIn("Fails", self.paper("cars/2").text)

    def test_head_to_head(self):
        text = self.page("compare?cars=8,2,3")
        versus, = board.tables(text, "versus")
        self.assertEqual(versus.column("Behind the best of them"), ["1 fail", "0.000", "1 fail"])
        self.assertIn("Car 2 is 1 fail ahead of car 8. What made the difference: "
                      "<strong>TC1</strong> (+1 fail).", text)
        self.assertEqual(versus.column("Penalty"), ["0.000, 1 fail", "50.000", "40.000, 1 fail"])
        twin, = board.tables(text, "gaps")
        self.assertEqual(twin.rows[0][1:3], ["0.000, 1 fail", "50.000"])
        self.assertNotIn("<figure>", text)  # no gap in penalty along the event, either
        text = self.page("compare?cars=8,3")
        self.assertIn("<figure>", text)
        self.assertIn("Car 8 is 40.000 ahead of car 3.", text)
        self.assertIn("<strong>T1</strong> (+40.000)", text)

    def test_what_made_the_difference_may_be_no_test(self):
        text = self.page("compare?cars=1,2")
        self.assertIn("What made the difference: <strong>TC1</strong> (+30.000).", text)
        text = self.page("compare?cars=1,5")  # TC1 is to come for car 5
        self.assertIn("Car 5 is 13.000 ahead of car 1. What made the difference: "
                      "<strong>Decisions, absence, rounding</strong> (−7.000).", text)
        twin, = board.tables(text, "gaps")
        self.assertEqual(twin.rows[0], ["TC1 Old quay", "20.000", "–"])
