# SPDX-License-Identifier: MIT
"""What is told of a car at a point that its route does not pass."""

import copy

from tests.support import serving
from tests.support.serving import API, ServedTest

EVENT = copy.deepcopy(serving.EVENT)
ITEMS = {item["id"]: item for item in EVENT["route"]}
ITEMS["PC1"]["for"] = [{"category": "club", "off": True}]
ITEMS["R1"]["for"] = [{"category": "club", "checks": [None, *ITEMS["R1"]["checks"][1:]]}]


class OffRouteTest(ServedTest):
    files = {"event": EVENT,
             "readings": "point,car,time\nTC1,1,08:46:30\nPC1,1,\nPC1,3,\nPC1,5,08:59\n"}

    def effects(self, *rows):
        told = self.server.post("effects", [dict(row, reason="trial") for row in rows])
        self.assertEqual(told.status, 200, told.text)
        return told.json()

    def test_a_car_read_off_its_route_is_no_car_of_the_point(self):
        points = self.server.get(f"{API}/points", self.server.organiser).json()["points"]
        gate, = [point for point in points if point["point"] == "PC1"]
        self.assertEqual({key: gate[key] for key in ("expected", "seen", "missing", "doubtful")},
                         {"expected": 3, "seen": 1, "missing": 0, "doubtful": 2})
        self.assertIsNone(gate["last"])

    def test_the_doubt_says_that_it_is_off_the_route(self):
        told = self.server.get(f"{API}/doubts", self.server.organiser).json()["doubts"]
        self.assertEqual({(doubt["kind"], doubt["car"], doubt.get("off_route")) for doubt in told},
                         {("out", 3, True), ("out", 5, True)})

    def test_a_decision_there_is_said_to_have_no_effect(self):
        told = self.effects({"kind": "penalty", "car": 3, "point": "PC1", "value": "20"},
                            {"kind": "penalty", "car": 1, "point": "PC1", "value": "20"},
                            {"kind": "waive", "car": 5, "point": "R1/1"},
                            {"kind": "waive", "car": 5, "point": "R1/2"},
                            {"kind": "cancel", "point": "PC1"})
        self.assertEqual(told["off_route"], [{"kind": "penalty", "car": 3, "point": "PC1"},
                                             {"kind": "waive", "car": 5, "point": "R1/1"}])
        # What was kept before is no news.
        self.assert_taken(self.server.post("decisions", [
            {"kind": "penalty", "car": 3, "point": "PC1", "value": "20", "reason": "kept"}]), 1)
        self.assertNotIn("off_route", self.effects({"kind": "penalty", "car": 3, "value": "1"}))
        # A retirement there is one behind the point before.
        self.assertNotIn("off_route", self.effects({"kind": "retire", "car": 9, "point": "PC1"}))
