# SPDX-License-Identifier: MIT
"""Trying rules before they are saved: what they would change, and worked examples of an item."""

import copy
import json

from tests.support.serving import API, EVENT, ServedTest


class RulesTest(ServedTest):
    """These tests write nothing, except the last test, which saves its own rules."""

    def tried(self, rules):
        answer = self.server.send("POST", "rules/try", json.dumps(rules), self.server.organiser,
                                  "application/json")
        self.assertEqual(answer.status, 200)
        return answer.json()

    def examples(self, rules, item):
        answer = self.server.send("POST", f"rules/examples/{item}", json.dumps(rules),
                                  self.server.organiser, "application/json")
        self.assertEqual(answer.status, 200)
        return answer.json()

    def by_case(self, rules, item):
        return {e["case"]: e["scored"] for e in self.examples(rules, item)["examples"]}

    def test_every_item_has_its_examples(self):
        for item, point, cases in (
                ("TC1", "TC1", ["on-time", "late", "early", "missed"]),
                ("PC1", "PC1", ["on-time", "missed"]),
                ("R1", "R1/1", ["on-time", "late", "early", "capped", "missed"]),
                ("T1", "T1/1", ["on-time", "late", "early", "capped", "missed"]),
                ("S1", "S1", ["on-time", "late", "fault", "missed"]),
                ("L1", "L1/2", ["on-time", "late", "early", "missed"])):
            told = self.examples(EVENT, item)
            self.assertEqual(told["errors"], [])
            self.assertEqual([e["case"] for e in told["examples"]], cases, item)
            self.assertEqual({e["scored"]["point"] for e in told["examples"]}, {point})
            self.assertEqual({e["car"] for e in told["examples"]}, {5})  # the middle of the list

    def test_the_total_of_a_car_is_shown_as_it_would_be(self):
        rules = copy.deepcopy(EVENT)
        rules["scoring"]["coefficient"] = {"by": "year", "apply": "total"}
        now = self.tried(EVENT)["example"]
        card = self.tried(rules)["example"]
        self.assertEqual(now["total"], self.server.get(
            f"{API}/cars/{now['car']}", self.server.organiser).json()["total"])
        self.assertIn("coefficient", [step["of"] for step in card["total"]])
        self.assertNotIn("coefficient", [step["of"] for step in now["total"]])

    def test_examples_cost_what_the_rules_say(self):
        late = self.by_case(EVENT, "TC1")["late"]
        # Car 5 starts at 08:05, 45 minutes later it is due; 2 min 20 s late is 2 minutes at 10.
        self.assertEqual((late["due"][:5], late["penalty"]), ("08:50", "20.000"))
        self.assertIn("2 min late", late["why"])
        moor = self.by_case(EVENT, "R1")
        self.assertEqual(moor["late"]["penalty"], "7.000")
        self.assertEqual(moor["early"]["penalty"], "3.000")
        self.assertEqual(moor["capped"]["penalty"], "60.000")
        self.assertEqual(moor["missed"]["penalty"], "120.000")
        self.assertEqual(self.by_case(EVENT, "T1")["late"]["penalty"], "7.000")
        for item in ("TC1", "PC1", "R1", "T1", "L1"):
            self.assertEqual(self.by_case(EVENT, item)["on-time"]["state"], "clean", item)

    def test_examples_follow_rules_that_are_not_taken_yet(self):
        rules = copy.deepcopy(EVENT)
        rules["route"][2]["penalty"] = {"late": "2.5", "grace": 1, "grace_deducted": True}
        self.assertEqual(self.by_case(rules, "R1")["late"]["penalty"], "15.000")
        rules["scoring"]["timing"] = "scheduled"
        rules["route"][0]["penalty"] = {"early": {"fails": 1}}
        self.assertEqual(self.by_case(rules, "TC1")["early"]["fails"], 1)

    def test_each_line_of_for_has_examples_of_a_car_that_it_is_for(self):
        rules = copy.deepcopy(EVENT)
        rules["route"][2]["for"] = [{"period": "B", "off": True},
                                    {"class": "D", "penalty": {"late": 3}}]
        told = self.examples(rules, "R1")
        self.assertEqual(told["errors"], [])
        late = {e["car"]: e["scored"] for e in told["examples"] if e["case"] == "late"}
        told = self.server.get(f"{API}/standings", self.server.organiser).json()
        years = {row["car"]: row["year"] for row in told["standings"] + told["unplaced"]}
        of_d = [car for car in late if 1931 <= years[car] <= 1945]
        self.assertEqual([late[car]["penalty"] for car in of_d], ["21.000"])
        self.assertIn("Values for class D.", late[of_d[0]]["why"])
        self.assertEqual([late[car]["penalty"] for car in late if car not in of_d], ["7.000"])

    def test_examples_go_past_a_step_and_before_an_early_limit(self):
        rules = copy.deepcopy(EVENT)
        rules["route"][0]["penalty"] = {"late": [{"to": "00:01:00", "rate": 2}, {"rate": 5}],
                                        "early_limit": "00:15:00", "missed": 900}
        told = self.by_case(rules, "TC1")
        self.assertEqual(told["past-step"]["penalty"], "12.000")
        self.assertIn("2 up to 1 min, then 5: 1 × 2 + 2 × 5 = 12", told["past-step"]["why"])
        self.assertEqual((told["too-early"]["state"], told["too-early"]["penalty"]),
                         ("missed", "900.000"))

    def test_no_example_where_the_rules_are_wrong_or_the_night_too_long(self):
        rules = copy.deepcopy(EVENT)
        rules["route"][2]["speeds"][0]["speed"] = -1
        told = self.examples(rules, "R1")
        self.assertEqual([e["place"] for e in told["errors"]],
                         ["event.json: route[2].speeds[0].speed"])
        self.assertEqual(told["examples"], [])
        self.assertEqual(self.examples(EVENT, "R9")["examples"], [])
        rules = copy.deepcopy(EVENT)
        rules["days"][0]["first_start"] = "47:30"
        self.assertEqual(self.examples(rules, "TC1")["examples"], [])

    def test_examples_are_for_organisers(self):
        for key, status in ((None, 401), (self.server.timekeeper, 403)):
            answer = self.server.send("POST", "rules/examples/R1", json.dumps(EVENT), key,
                                      "application/json")
            self.assertEqual(answer.status, status)

    def test_what_new_rules_would_move_is_what_they_move(self):
        self.assertEqual(self.tried(EVENT)["moves"], [])
        rules = copy.deepcopy(EVENT)
        rules["scoring"]["defaults"]["time-control"].update(late=70)
        told = self.tried(rules)
        self.assertTrue(told["taken"])
        self.assertTrue(told["moves"])
        self.assertEqual(self.server.send("PUT", "rules", json.dumps(rules), self.server.organiser,
                                          "application/json").status, 200)
        for move in told["moves"]:
            row = self.server.get(f"{API}/cars/{move['car']}", self.server.organiser).json()
            self.assertEqual((row["penalty"], row["position"], row["class_position"]),
                             tuple(move["after"][k] for k in
                                   ("penalty", "position", "class_position")))
