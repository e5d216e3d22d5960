# SPDX-License-Identifier: MIT
"""A test whose end is on the road's schedule, a shortest time, and lateness that holds: what desks, the office and
the public are told of them."""

import copy
import json

from tests.support import serving
from tests.support.serving import API, SLUG, ServedTest

EVENT = copy.deepcopy(serving.EVENT)
EVENT["scoring"].update(timing="scheduled", max_lateness="00:30:00", max_lateness_holds=True)
EVENT["awards"] = []
EVENT["route"] = [
    {"day": 1, "id": "TC1", "kind": "time-control", "name": "Old quay", "target": "00:30:00"},
    {"day": 1, "id": "R1", "kind": "regularity", "name": "Fulmar Moor", "reveal": "at-once", "start": "control",
     "finish": "control", "target": "00:12:00", "checks": [{"ideal": "00:05:00"}, {"ideal": "00:10:00"}]},
    {"day": 1, "id": "TC2", "kind": "time-control", "name": "New quay", "target": "00:09:00",
     "shortest": "00:06:00"},
    {"day": 1, "id": "PC1", "kind": "passage-control", "name": "Fulmar Bridge"},
    {"day": 1, "id": "S1", "kind": "special-test", "name": "Rope walk"}]
# Car 1 starts at 08:01, car 2 at 08:02; car 1 is 3 min late at the end of R1, car 2 4 min at TC1.
READINGS = "point,car,time\nTC1,1,08:31\nR1/2,1,08:46:20\nTC1,2,08:36\n"


class RoadTest(ServedTest):
    files = {"event": EVENT, "readings": READINGS, "decisions": "kind,car,point,value,reason\n"}

    def due(self, point):
        cars = self.server.get(f"{API}/expected?point={point}", self.server.organiser).json()["cars"]
        return {car["car"]: car["due"] and car["due"][:8] for car in cars}

    def examples(self, rules, item):
        told = self.server.send("POST", f"rules/examples/{item}", json.dumps(rules), self.server.organiser,
                                "application/json").json()
        self.assertEqual(told["errors"], [])
        return {e["case"]: e["scored"] for e in told["examples"]}

    def test_a_desk_expects_cars_at_the_end_of_a_test_by_the_road(self):
        # Scheduled 42 min after the start, with the lateness of TC1; car 1's own due time there is known.
        self.assertEqual({car: due for car, due in self.due("R1/2").items() if car < 4},
                         {1: "08:41:00", 2: "08:48:00", 3: "08:45:00"})
        # 51 min after the start, with what is carried: 3 min from R1's end, 4 from TC1.
        self.assertEqual({car: due for car, due in self.due("TC2").items() if car < 4},
                         {1: "08:55:00", 2: "08:57:00", 3: "08:54:00"})

    def test_a_starter_is_told_when_each_car_is_to_be_started(self):
        # By the control before, as soon as the car was there; then by the departure that was read.
        self.assertEqual({car: due for car, due in self.due("R1/start").items() if car < 4},
                         {1: "08:31:00", 2: "08:36:00", 3: None})
        self.assertEqual(set(self.due("S1/start").values()), {None})

    def test_the_office_sees_where_a_car_is_due_next(self):
        cars = {car["car"]: car for car in
                self.server.get(f"{API}/road", self.server.organiser).json()["cars"]}
        self.assertEqual((cars[1]["last"], cars[1]["next"], cars[1]["due"][:8]),
                         ("R1/2", "TC2", "08:55:00"))
        self.assertEqual((cars[2]["last"], cars[2]["next"], cars[2]["due"][:8]),
                         ("TC1", "R1/2", "08:48:00"))

    def test_the_test_s_page_tells_its_place_on_the_road(self):
        for lang, end, holds in (
                ("en", "Its end is a control on the road, 12 min after the control before.",
                 "A car more than 30 min late at a control has missed what follows"),
                ("de", "Das Ende ist eine Kontrolle auf der Strecke, 12 min nach der Kontrolle davor.",
                 "mehr als 30 min zu spät"),
                ("fr", "12 min après le contrôle précédent.", "plus de 30 min de retard"),
                ("it", "12 min dopo il controllo precedente.", "più di 30 min di ritardo")):
            page = self.server.get(f"/{SLUG}/tests/R1?lang={lang}").text
            self.assertIn(end, page)
            self.assertIn(holds, page)

    def test_examples_show_a_car_that_was_late_before(self):
        # 5 min late at R1's end, on time at TC2: the 9 minutes in 4, 2 short of 6.
        soon = self.examples(EVENT, "TC2")["too-soon"]
        self.assertEqual(soon["penalty"], "120.000")
        self.assertIn("at least 6 min: 2 min early", soon["why"])
        beyond = self.examples(EVENT, "PC1")["beyond"]
        self.assertEqual((beyond["state"], beyond["penalty"]), ("missed", "300.000"))
        self.assertIn("Since TC2 more than 30 min late: missed, 300.", beyond["why"])
        # Of a test whose end is on the road, that end is shown.
        late = self.examples(EVENT, "R1")["late"]
        self.assertEqual(late["point"], "R1/2")
        self.assertIn("On the road: Start", late["why"])
        plain = copy.deepcopy(EVENT)
        del plain["scoring"]["max_lateness_holds"], plain["route"][2]["shortest"]
        self.assertNotIn("too-soon", self.examples(plain, "TC2"))
        self.assertNotIn("beyond", self.examples(plain, "PC1"))


FIRST = copy.deepcopy(EVENT)
FIRST["route"] = [
    {"day": 1, "id": "S1", "kind": "special-test", "name": "Rope walk", "attempts": 2},
    {"day": 1, "id": "TC1", "kind": "time-control", "name": "Old quay", "target": "00:30:00"},
    {"day": 1, "id": "R1", "kind": "regularity", "name": "Fulmar Moor", "reveal": "at-once", "start": "control",
     "start_after": "00:03:00", "checks": [{"ideal": "00:05:00"}]},
    {"day": 2, "id": "R2", "kind": "regularity", "name": "Skua Moor", "start": "control",
     "reveal": "at-once", "checks": [{"ideal": "00:05:00"}]},
    {"day": 2, "id": "TC2", "kind": "time-control", "name": "New quay", "target": "00:09:00"}]


class StartTest(ServedTest):
    files = {"event": FIRST, "readings": "point,car,time\nTC1,1,08:31\nTC1/out,1,08:34\nTC1,2,08:32\n",
             "decisions": "kind,car,point,value,reason\n"}

    def due(self, point):
        cars = self.server.get(f"{API}/expected?point={point}", self.server.organiser).json()["cars"]
        return [(car["car"], car["due"] and car["due"][:8]) for car in cars if car["car"] < 4]

    def test_the_first_test_of_a_day_starts_cars_as_they_start_the_day(self):
        self.assertEqual(self.due("S1/start"), [(1, "08:01:00"), (2, "08:02:00"), (3, "08:03:00")])
        self.assertEqual(self.due("R2/start"), [(1, "09:01:00"), (2, "09:02:00"), (3, "09:03:00")])

    def test_a_later_attempt_has_no_such_time(self):
        points = self.server.get(f"{API}/desk", self.server.organiser).json()["points"]
        [second] = [p["id"] for p in points
                    if (p["item"], p["part"], p["number"]) == ("S1", "start", 2)]
        self.assertEqual({due for _, due in self.due(second)}, {None})

    def test_a_test_from_the_control_starts_after_the_departure_that_was_read(self):
        self.assertEqual(self.due("R1/start"), [(2, "08:35:00"), (1, "08:37:00"), (3, None)])

    def test_an_allowance_at_the_start_moves_it(self):
        self.assert_taken(self.server.post("decisions", [
            {"kind": "allowance", "car": 2, "point": "R1/start", "value": "00:02:00", "reason": "cattle"}]), 1)
        self.assertIn((2, "08:37:00"), self.due("R1/start"))
