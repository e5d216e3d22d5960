# SPDX-License-Identifier: MIT
"""Start lists: made, previewed and saved; prizes."""

import csv
import io
import os

from tests.support import cairn as program
from tests.support.serving import API, SLUG, ServedTest, cairn


class StartsTest(ServedTest):
    def make(self, day=2, key=None, **plan):
        return self.server.post(f"starts/{day}", plan, key)

    def order(self, answer):
        self.assertEqual(answer.status, 200, str(answer))
        return [(row["car"], row["time"]) for row in answer.json()["starts"]]

    def listed(self, day=2):
        rows = self.server.get(f"{API}/starts/{day}").json()["starts"]
        return [(row["car"], row["time"]) for row in rows]

    def test_a_list_that_is_not_saved_changes_nothing(self):
        before = self.office_revision(), self.listed()
        answer = self.make(order="reversed")
        self.assertEqual(answer.json()["saved"], False)
        self.assertEqual([car for car, _ in self.order(answer)], [9, 8, 5, 3, 2, 1])
        self.assertEqual((self.office_revision(), self.listed()), before)

    def test_a_saved_list_is_the_next_that_everybody_sees(self):
        before = self.office_revision()
        answer = self.make(order="era", first="10:00", interval=120, intervals={"C": "00:03:00"},
                           gaps={"3": "00:10:00"}, late={"1": "end", "8": "10:01"}, save=True)
        told = answer.json()
        self.assertEqual((told["saved"], told["revision"], told["day"], told["date"]),
                         (True, before + 1, 2, "2031-06-07"))
        expected = [(9, "10:00:00"), (8, "10:01:00"), (2, "10:03:00"), (3, "10:05:00"),
                    (5, "10:17:00"), (1, "10:19:00")]
        self.assertEqual(self.order(answer), expected)
        self.assertEqual(self.listed(), expected)
        # The other day keeps its own, and a second list replaces the first.
        self.order(self.make(day=1, order="number", save=True))
        self.assertEqual(self.listed(), expected)
        self.order(self.make(order="number", save=True))
        self.assertEqual(self.listed()[0], (1, "09:01:00"))
        self.assertEqual(self.listed(1)[:2], [(1, "08:01:00"), (2, "08:02:00")])

    def test_exported_and_made_again_by_the_command(self):
        self.order(self.make(order="reversed", save=True))
        folder = os.path.join(self.server.folder, "out")
        cairn("export", self.server.data, SLUG, folder)
        with open(os.path.join(folder, "starts.csv"), encoding="utf-8", newline="") as file:
            rows = [row for row in csv.DictReader(file) if row["day"] == "2"]
        self.assertEqual([(int(row["car"]), row["time"]) for row in rows], self.listed())
        told = cairn("startlist", self.server.data, SLUG, "--day", "2", "--order", "era", "--csv",
                     "--save")
        self.wait_for(lambda: self.listed()[0][0] == 1 and self.listed()[1][0] == 9)
        self.assertEqual([int(row["car"]) for row in csv.DictReader(io.StringIO(told))],
                         [car for car, _ in self.listed()])
        cairn("startlist", folder, "--day", "2", "--order", "era", "--save")
        self.assertEqual(cairn("startlist", folder, "--day", "2", "--order", "era", "--csv"), told)

    def test_a_list_for_an_event_that_is_not_there_is_refused(self):
        for slug, told in (("not-there", "no such event file"), ("../x", "no slug")):
            with self.subTest(slug):
                done = program.cairn("startlist", self.server.data, slug, "--day", "1", "--save",
                                     code=2)
                self.assertIn(told, done.stderr.decode())

    def test_by_standings_what_is_awaited_or_hidden_is_told(self):
        told = self.make(order="standings-reversed").json()
        self.assertIn("the order tells of R1, which the public does not see yet", told["doubts"])
        self.assertIn("car 3 still awaits a reading and starts behind those with a place",
                      told["doubts"])

    def test_what_is_wrong_is_told_place_by_place_and_nothing_is_kept(self):
        before = self.office_revision(), self.listed()
        told = self.assert_problem(self.make(order="luck", late={"77": "end"}, save=True), 422,
                                   "bad-document")
        self.assertEqual(told["errors"], [
            "plan: order: “luck” must be number, reversed, standings, standings-reversed or era",
            "plan: late: car “77” is not in the entry list"])
        self.assert_problem(self.make(day=1, order="standings", save=True), 422)
        self.assert_problem(self.make(day=3), 404)
        for body in (b"", b"[", b"[]", b'"x"', b'{"save": 1}', b"\xff"):
            self.assertTrue(self.assert_problem(self.server.post("starts/2", body), 422)["errors"])
        self.assert_problem(self.server.post("starts/2", b"{}", media_type="text/csv"), 415)
        self.assert_problem(self.make(key=self.server.timekeeper), 403)
        answer = self.server.post("starts/2", {"save": True}, If_Match='"p00"')
        self.assert_problem(answer, 412)
        self.assertEqual((self.office_revision(), self.listed()), before)


class ShownListTest(ServedTest):
    """The list that is saved is the one that was shown, and replaces those that it was to
    replace."""

    def make(self, tag=None, **plan):
        sent = {} if tag is None else {"If_Match": f'"{tag}"'}
        return self.server.post("starts/2", {"order": "standings", **plan}, **sent)

    def test_a_list_that_came_out_otherwise_is_not_kept(self):
        self.assert_taken(self.server.post("decisions", [
            {"kind": "close", "point": "day:1", "reason": "last car is in"}]), 1)
        shown = self.make().json()
        self.assertEqual(self.make().json()["tag"], shown["tag"])
        # A reading at a point that the order does not rest on changes nothing about it.
        self.assert_taken(self.server.post("readings", [{"point": "L1/1", "car": 3,
                                                           "elapsed": "00:01:10"}]), 1)
        self.assertEqual(self.make().json()["tag"], shown["tag"])
        self.assert_taken(self.server.post("decisions", [
            {"kind": "penalty", "car": shown["starts"][0]["car"], "value": 5000,
             "reason": "short cut"}]), 1)
        before = self.server.get(f"{API}/starts/2").json()["starts"]
        self.assert_problem(self.make(shown["tag"], save=True), 412, "somebody-was-first")
        self.assertEqual(self.server.get(f"{API}/starts/2").json()["starts"], before)
        shown = self.make().json()
        kept = self.make(shown["tag"], save=True)
        self.assertEqual(kept.json()["starts"], shown["starts"])
        self.assertEqual(self.server.get(f"{API}/starts/2").json()["starts"], shown["starts"])

    def test_a_list_in_the_place_of_another_one_is_not_kept(self):
        shown = self.make(order="era").json()["tag"]
        self.assertEqual(self.make(order="reversed", save=True).status, 200)
        self.assert_problem(self.make(shown, order="era", save=True), 412, "somebody-was-first")
        sent = self.server.post("starts/2", {"order": "era", "save": True}, If_Match="*")
        self.assertEqual(sent.status, 200, str(sent))


class DisqualifiedTest(ServedTest):
    def test_a_disqualified_car_is_on_no_start_list(self):
        self.assert_taken(self.server.post("decisions", [
            {"kind": "disqualify", "car": 5, "reason": "short cut"},
            {"kind": "retire", "car": 9, "point": "S1", "reason": "axle"}]), 2)
        self.assertEqual(self.server.post("starts/2", {"save": True}).status, 200)
        cars = [row["car"] for row in self.server.get(f"{API}/starts/2").json()["starts"]]
        self.assertEqual(cars, [1, 2, 3, 8])


class PrizesTest(ServedTest):
    def prizes(self, **headers):
        return self.server.get(f"{API}/prizes", self.server.organiser, **headers)

    def test_they_are_read_out_last_to_first(self):
        told = self.prizes().json()
        self.assertEqual((told["status"], told["revision"]), ("live", self.office_revision()))
        self.assertEqual([p["award"] for p in told["prizes"]][-2:], ["bowl", "bowl"])
        self.assertEqual([p["place"] for p in told["prizes"]][-2:], [2, 1])
        rows = self.server.get(f"{API}/standings", self.server.organiser).json()["standings"]
        self.assertEqual([p.get("car") for p in told["prizes"]][:-3:-1],
                         [row["car"] for row in rows[:2]])

    def test_a_decision_moves_them_and_the_tag(self):
        before = self.prizes()
        winner = before.json()["prizes"][-1]["car"]
        self.assert_taken(self.server.post("decisions", [
            {"kind": "penalty", "car": winner, "value": 5000, "reason": "noise"}]), 1)
        after = self.prizes(If_None_Match=before.headers["etag"])
        self.assertEqual(after.status, 200)
        self.assertNotEqual(after.json()["prizes"][-1]["car"], winner)

    def test_csv_has_the_same_rows(self):
        told = self.prizes().json()["prizes"]
        text = self.server.get(f"{API}/prizes?format=csv", self.server.organiser).text
        rows = list(csv.DictReader(io.StringIO(text)))
        self.assertEqual([(r["award"], r["place"], r["car"]) for r in rows],
                         [(p["award"], str(p["place"] or ""), str(p.get("car", "")))
                          for p in told])

    def test_only_organisers_are_told(self):
        self.assert_problem(self.server.get(f"{API}/prizes"), 401)
        self.assert_problem(self.server.get(f"{API}/prizes", self.server.timekeeper), 403)
