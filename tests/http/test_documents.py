# SPDX-License-Identifier: MIT
"""Decisions, notices, entry lists and rules."""

import copy
import json

from tests.support.serving import API, ENTRIES, EVENT, SLUG, ServedTest


class DecisionsTest(ServedTest):
    def post(self, rows, media_type="application/json"):
        return self.server.post("decisions", rows, media_type=media_type)

    def penalty(self, car):
        return self.server.get(f"{API}/cars/{car}").json()["penalty"]

    def test_each_kind_is_taken_and_told_by_the_next_get(self):
        self.assert_taken(self.post([{"kind": "penalty", "car": 3, "value": "12.5", "id": "p-3",
                                      "reason": "noise"}]), 1)
        self.assertEqual(self.penalty(3), "12.500")
        self.assert_taken(self.post("kind,car,point,value,reason\n"
                                    "revoke,,,p-3,it was the wind\n", "text/csv"), 1)
        self.assertEqual(self.penalty(3), "0.000")
        self.assert_taken(self.post(json.dumps({"kind": "notional", "car": 9, "point": "T1/1",
                                                "value": 33, "reason": "blocked"}),
                                    "application/x-ndjson"), 1)
        self.assertEqual(self.state(9, "T1/1"), ("notional", "33.000"))
        self.assert_taken(self.post([
            {"kind": "waive", "car": 8, "point": "T1/2", "reason": "flock of sheep"},
            {"kind": "cancel", "point": "L1", "reason": "flooded"},
            {"kind": "allowance", "car": 2, "point": "TC1", "value": "00:01", "reason": "held up"},
            {"kind": "retire", "car": 9, "point": "T1", "reason": "axle"},
            {"kind": "rejoin", "car": 9, "value": "2", "reason": "mended"},
            {"kind": "close", "point": "PC1", "reason": "last car is through"},
            {"kind": "disqualify", "car": 5, "reason": "short cut"}]), 7)
        self.assertEqual(self.state(8, "T1/2"), ("waived", "0.000"))
        self.assertEqual(self.state(1, "L1/2"), ("cancelled", "0.000"))
        self.assertEqual(self.state(2, "TC1"), ("clean", "0.000"))
        self.assertEqual(self.state(8, "PC1"), ("missed", "300.000"))
        self.assertEqual(self.server.get(f"{API}/cars/5").json()["status"], "disqualified")

    def test_duplicates_and_refused(self):
        row = {"kind": "penalty", "car": 1, "value": "0", "reason": "none", "id": "twice"}
        told = self.assert_taken(self.post([
            row, row, dict(row, reason="other"), dict(row, id="a", car=77),
            dict(row, id="b", value="x"), dict(row, id="c", reason=""), dict(row, id="d", kind="nudge"),
            dict(row, id="e", point="day:1"), {"kind": "revoke", "value": "nobody", "reason": "x"},
            {"kind": "close", "point": "day:9", "reason": "x"},
            {"kind": "waive", "car": 1, "point": "S9", "reason": "x"}]), 1, 1, range(3, 12))
        self.assertTrue(all(row["reason"] for row in told["refused"]))
        self.assertEqual(told["refused"][1]["id"], "a")


class RevealTest(ServedTest):
    def test_closing_the_hidden_test_shows_it(self):
        self.assertNotIn("R1", self.server.get(API).text)
        revision = self.public_revision()
        self.assert_taken(self.server.post("decisions", [
            {"kind": "close", "point": "R1", "reason": "sweeper is in"}]), 1)
        self.assertIn("R1", [i["id"] for i in self.server.get(API).json()["route"]])
        self.assertEqual(self.public_revision(), revision + 1)
        self.assertIn("R1/1", self.server.get(f"/{SLUG}/cars/1").text)


class NoticesTest(ServedTest):
    def post(self, notice):
        return self.server.post("notices", notice)

    def test_a_notice_is_on_the_board_at_once(self):
        before = self.server.get(f"{API}/notices").json()
        answer = self.post({"title": "Fog <b>now</b>", "text": "Lights & care"})
        self.assertEqual(answer.status, 200, str(answer))
        told = answer.json()
        self.assertEqual(list(told), ["number", "revision"])
        board = self.server.get(f"{API}/notices").json()
        self.assertEqual(board["notices"][:-1], before["notices"])
        last = board["notices"][-1]
        self.assertEqual((last["number"], last["title"], last["text"]),
                         (told["number"], "Fog <b>now</b>", "Lights & care"))
        self.assertEqual(board["revision"], before["revision"] + 1)
        page = self.server.get(f"/{SLUG}/notices").text
        self.assertIn("Fog &lt;b&gt;now&lt;/b&gt;", page)
        self.assertIn("Lights &amp; care", page)

    def test_a_notice_over_several_lines_without_a_text(self):
        self.assertEqual(self.post(b'\n{\n"title":\n"Lunch"\n}\n').status, 200)
        self.assertEqual(self.server.get(f"{API}/notices").json()["notices"][-1]["text"], "")

    def test_what_is_no_notice(self):
        before = self.office_revision()
        for body in (b"", b"{}", b"[]", b'[{"title":"x"}]', b'{"title":""}', b'{"text":"x"}',
                     b'{"title":"x","colour":"red"}', b'{"title":["x"]}', b'{"title":"x"},{"title":"y"}',
                     b'{"title":"x"}{"title":"y"}', b'{"title":"x"', b'{"title":"\xff"}', b"null",
                     b'{"title":null}', b'{"title":"x"}]', b'],[{"title":"x"}'):
            with self.subTest(body):
                self.assert_problem(self.post(body), 400, "bad-request")
        self.assertEqual(self.office_revision(), before)


class EntriesTest(ServedTest):
    def put(self, text):
        return self.server.send("PUT", "entries", text, self.server.organiser, "text/csv")

    def test_a_new_list_is_in_force_at_once(self):
        before = self.office_revision()
        answer = self.put("\ufeff" + ENTRIES + "12,P. Late,,Marl,Ten,1937,,open,,\n")
        self.assertEqual((answer.status, answer.json()), (200, {"revision": before + 1}))
        self.assertEqual(self.server.get(f"{API}/cars/12").json()["crew"], ["P. Late"])
        self.assertEqual(self.server.get(API).json()["cars"], 7)
        self.assertEqual(self.state(1, "S1"), ("scored", "80.000"))
        self.assert_taken(self.server.post("readings", [{"point": "PC1", "car": 12}]), 1)
        told = self.assert_problem(self.put(ENTRIES), 422, "bad-document")
        self.assertIn("would be lost", told["errors"][0])

    def test_a_broken_list_changes_nothing(self):
        before = self.office_revision(), self.server.get(f"{API}/standings").body
        for text, wrong in (
                ("", "entries.csv"), ("number,driver\n1,x\n", "column"),
                (ENTRIES + "1,Twice,,Marl,Ten,1937,,open,,\n", "1"),
                (ENTRIES + "0,Zero,,Marl,Ten,1937,,open,,\n", "entries.csv:8"),
                (ENTRIES + "13,Old,,Marl,Ten,1066,,open,,\n", "entries.csv:8"),
                (ENTRIES + "13,Odd,,Marl,Ten,1937,,moon,,\n", "moon")):
            with self.subTest(wrong):
                told = self.assert_problem(self.put(text), 422, "bad-document")
                self.assertTrue(told["errors"])
                self.assertIn(wrong, " ".join(told["errors"]))
        self.assertEqual((self.office_revision(), self.server.get(f"{API}/standings").body), before)

    def test_warnings_are_not_among_the_errors(self):
        kept = self.server.get(f"{API}/entries", self.server.organiser).text
        odd = kept.replace("number,", "colour,number,").replace("\n", "\n,")[:-1]
        told = self.assert_problem(self.put(odd + ",0,Zero,,Marl,Ten,1937,,open,,\n"), 422)
        line = str(odd.count("\n") + 1)
        self.assertEqual([error.split(":")[1] for error in told["errors"]], [line])
        self.assertEqual(self.put(odd).status, 200)
        rules = self.server.send("PUT", "rules", json.dumps(dict(EVENT, unit="furlong")),
                                 self.server.organiser)
        self.assertEqual([error.split(": ")[1] for error in
                          self.assert_problem(rules, 422)["errors"]], ["unit"])
        self.assertEqual(self.put(kept).status, 200)

    def test_a_list_that_would_lose_a_car_with_readings_is_refused(self):
        before = self.server.get(f"{API}/standings").body
        for number in ("1", "2"):
            text = "".join(line for line in ENTRIES.splitlines(True)
                           if not line.startswith(number + ","))
            told = self.assert_problem(self.put(text), 422)
            self.assertIn("seed-" + number, " ".join(told["errors"]))
        self.assertEqual(self.server.get(f"{API}/standings").body, before)

    def test_a_car_without_readings_may_go(self):
        text = "".join(line for line in ENTRIES.splitlines(True) if not line.startswith("8,"))
        self.assertEqual(self.put(text).status, 200)
        self.assertEqual(self.server.get(f"{API}/cars/8").status, 404)
        self.assertEqual(self.put(ENTRIES).status, 200)
        self.assertEqual(self.server.get(f"{API}/cars/8").status, 200)


class RulesTest(ServedTest):
    def put(self, event):
        body = event if isinstance(event, (str, bytes)) else json.dumps(event)
        return self.server.send("PUT", "rules", body, self.server.organiser)

    def changed(self, change):
        event = copy.deepcopy(EVENT)
        change(event)
        return event

    def test_new_rules_are_in_force_at_once(self):
        before = self.office_revision()

        def dearer(event):
            event["route"][4]["faults"]["cone"] = 50
        answer = self.put(self.changed(dearer))
        self.assertEqual((answer.status, answer.json()), (200, {"revision": before + 1}))
        self.assertEqual(self.state(1, "S1"), ("scored", "125.000"))
        self.assertEqual(self.put(EVENT).status, 200)
        self.assertEqual(self.state(1, "S1"), ("scored", "80.000"))

    def test_broken_rules_are_told_place_by_place(self):
        before = self.office_revision(), self.server.get(f"{API}/standings").body

        def breaks(event):
            event["unit"] = "furlong"
            event["route"][2]["speeds"][0]["speed"] = -1
            event["nonsense"] = True
        told = self.assert_problem(self.put(self.changed(breaks)), 422, "bad-document")
        self.assertGreaterEqual(len(told["errors"]), 3)
        for place in ("event.json: unit: ", "event.json: route[2].speeds[0]", "nonsense"):
            self.assertIn(place, "\n".join(told["errors"]))
        for body in (b"", b"{", b"[]", b"null", b"\xff", b'{"name": "x"}', b'"' + b"x" * 100000):
            self.assertTrue(self.assert_problem(self.put(body), 422)["errors"])
        self.assertEqual((self.office_revision(), self.server.get(f"{API}/standings").body), before)

    def test_the_slug_stays(self):
        told = self.assert_problem(self.put(dict(EVENT, slug="other")), 422)
        self.assertIn("slug", told["errors"][0])
        self.assertEqual(self.server.get("/api/v1/events/other").status, 404)
        self.assertEqual(self.server.get(API).status, 200)

    def test_rules_that_would_lose_a_reading_or_a_decision_are_refused(self):
        before = self.office_revision()
        told = self.assert_problem(self.put(self.changed(lambda e: e["route"].pop(1))), 422)
        self.assertIn("seed-4", " ".join(told["errors"]))
        self.assertIn("would be lost", told["errors"][0])

        def fewer_faults(event):
            del event["route"][4]["faults"]["cone"]
        told = self.assert_problem(self.put(self.changed(fewer_faults)), 422)
        self.assertIn("seed-8", " ".join(told["errors"]))
        self.assertEqual(self.office_revision(), before)
        self.assertEqual(self.state(1, "PC1")[0], "clean")

    def test_entries_that_no_longer_fit_are_told(self):
        told = self.assert_problem(self.put(self.changed(
            lambda e: e["classes"]["categories"].pop())), 422)
        self.assertIn("entries.csv", " ".join(told["errors"]))

    def test_a_test_without_readings_may_go(self):
        self.assertEqual(self.put(self.changed(lambda e: e["route"].pop(5))).status, 200)
        self.assertEqual(self.server.get(f"{API}/tests/L1").status, 404)
        self.assertEqual(self.put(EVENT).status, 200)
        self.assertEqual(self.server.get(f"{API}/tests/L1").status, 200)
