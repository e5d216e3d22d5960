# SPDX-License-Identifier: MIT
"""The effects shown before something is saved are those that it then has."""

import json
import random
from tests.support.effects import EffectsCheck



class EffectsTest(EffectsCheck):
    def test_each_kind_of_decision(self):
        for row in ({"kind": "penalty", "car": 1, "value": "500", "id": "p-1"},
                    {"kind": "revoke", "value": "p-1", "id": "r-1"},
                    {"kind": "revoke", "value": "r-1"},
                    {"kind": "penalty", "car": 2, "point": "TC1", "value": "-2.5"},
                    {"kind": "fails", "car": 1, "value": 2},
                    {"kind": "fails", "car": 2, "point": "T1", "value": 1},
                    {"kind": "faults", "car": 3, "point": "S1/finish", "value": "cone=1"},
                    {"kind": "waive", "car": 2, "point": "TC1"},
                    {"kind": "notional", "car": 3, "point": "S1", "value": 12},
                    {"kind": "cancel", "point": "PC1"},
                    {"kind": "close", "point": "day:1"},
                    {"kind": "allowance", "car": 3, "point": "TC1", "value": "00:02"},
                    {"kind": "retire", "car": 5, "point": "TC1"},
                    {"kind": "rejoin", "car": 5, "value": 2},
                    {"kind": "disqualify", "car": 8}):
            with self.subTest(row["kind"]):
                self.check("decisions", [dict(row, reason="trial")])

    def test_readings_and_corrections(self):
        self.check("readings", [{"point": "TC1", "car": 9, "time": "08:57", "id": "x-1"},
                                {"point": "S1/finish", "car": 9, "elapsed": "00:01:30"}])
        told = self.check("readings", [{"point": "TC1", "car": 9, "time": "08:54", "reason": "read "
                                        "wrongly", "replaces": "x-1", "id": "x-2"}])
        self.assertEqual([m["car"] for m in told["moves"]], [9])
        self.check("readings", [{"point": "TC1", "car": 9, "void": True, "replaces": "x-2",
                                 "reason": "not this car"}])

    def test_refused_rows_are_told_as_they_would_be(self):
        told = self.check("decisions", [{"kind": "nudge", "reason": "x"},
                                        {"kind": "revoke", "value": "nobody", "reason": "x"},
                                        {"kind": "penalty", "car": 77, "value": 1, "reason": "x"}])
        self.assertEqual((told["accepted"], told["moves"]), (0, []))
        told = self.check("readings", [{"point": "X", "car": 1}, {"point": "TC1", "car": 1}])
        self.assertEqual([row["row"] for row in told["refused"]], [1, 2])

    def test_lines_that_cannot_be_read_are_told_and_the_rest_is_tried(self):
        body = ('{"kind": "penalty", "car": 1, "value": "1", "reason": "x", "id": "n-1"}\n{"kind\n'
                '{"kind": "penalty", "car": 1, "value": "1", "reason": "x", "id": "n-1"}\n[]\n'
                '{"kind": "penalty", "car": [1], "value": "1", "reason": "x"}\n')
        tried = self.effects(body, "application/x-ndjson")
        taken = self.server.post("decisions", body, media_type="application/x-ndjson").json()
        for told in (tried, taken):
            self.assertEqual((told["accepted"], told["duplicates"],
                              [(row["row"], row["line"]) for row in told["refused"]]),
                             (1, 1, [(2, 2), (4, 4), (5, 5)]), told)

    def test_a_revoke_may_stand_before_what_it_names(self):
        def revoke(name, other):
            return {"kind": "revoke", "value": other, "reason": "by mistake", "id": name}
        told = self.check("decisions", [
            revoke("r-1", "r-none"), revoke("r-2", "r-3"), revoke("r-3", "r-4"),
            {"kind": "penalty", "car": 1, "value": "7", "reason": "noise", "id": "r-4"},
            {"kind": "nudge", "reason": "x"}])
        self.assertEqual((told["accepted"], [row["row"] for row in told["refused"]]), (3, [1, 5]))
        self.assertEqual([move["car"] for move in told["moves"]], [1])

    def test_in_other_forms(self):
        row = {"kind": "penalty", "car": 2, "value": "7", "reason": "noise"}
        told = self.effects([row])
        self.assertEqual(told, self.effects(json.dumps(row) + "\n", "application/x-ndjson"))
        self.assertEqual(told, self.effects("kind,car,value,reason\npenalty,2,7,noise\n",
                                            "text/csv"))

    def test_what_is_no_body(self):
        self.assert_problem(self.server.post("effects", b"{"), 400, "bad-request")
        self.assert_problem(self.server.post("effects", b"[]", media_type="text/plain"), 415)
        self.assert_problem(self.server.post("effects", [], self.server.timekeeper), 403)

    def test_many_rulings_one_after_the_other(self):
        dice = random.Random(2031)
        points = ["TC1", "PC1", "T1/1", "S1", "L1/2", "TC2"]
        for _ in range(40):
            car = dice.choice([1, 2, 3, 8, 9])
            row = dice.choice([
                {"kind": "penalty", "car": car, "value": dice.randrange(-50, 200)},
                {"kind": "waive", "car": car, "point": dice.choice(points)},
                {"kind": "notional", "car": car, "point": dice.choice(points),
                 "value": dice.randrange(100)},
                {"kind": "close", "point": dice.choice(points)}])
            self.check("decisions", [dict(row, reason=f"trial {dice.random()}")])
