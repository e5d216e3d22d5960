# SPDX-License-Identifier: MIT
"""Doubts: the review queue with its evidence, and what resolves them."""

import json

from tests.support import addresses
from tests.support.serving import API, ENTRIES, ServedTest, Server


class DoubtsTest(ServedTest):
    def doubts(self, kind=None):
        told = self.server.get(f"{API}/doubts", self.server.organiser).json()
        self.assertEqual(told["revision"], self.office_revision())
        return [d for d in told["doubts"] if kind in (None, d["kind"])]

    def test_two_desks_differ_until_one_is_withdrawn(self):
        rows = [{"point": "TC1", "car": 8, "time": "08:53", "id": "a-8", "by": "quay desk"},
                {"point": "TC1", "car": 8, "time": "09:23", "id": "b-8", "desk": "0a1b"}]
        self.assert_taken(self.server.post("readings", rows), 2)
        (doubt,) = self.doubts("differ")
        self.assertEqual((doubt["car"], doubt["point"], doubt["open"]), (8, "TC1", True))
        self.assertEqual({r["id"]: r["counts"] for r in doubt["readings"]},
                         {"a-8": True, "b-8": False})
        self.assertEqual(doubt["readings"][0]["extra"], {"desk": "0a1b"})
        self.assertGreater(doubt["places"], 0)
        # The other reading counts once the first is withdrawn, which is the effect that was shown.
        before = {row["car"]: row["position"] for row in self.rows()}
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 8, "void": True, "replaces": "a-8", "reason": "car 9"}]), 1)
        after = {row["car"]: row["position"] for row in self.rows()}
        self.assertEqual({m["car"]: m["after"]["position"] for m in doubt["moves"]
                          if m["before"]["position"] != m["after"]["position"]},
                         {car: after[car] for car in after if after[car] != before[car]})
        self.assertEqual(self.doubts("differ"), [])

    def rows(self):
        told = self.server.get(f"{API}/standings", self.server.organiser).json()
        return told["standings"] + told["unplaced"]

    def test_what_is_missing_out_of_order_or_flagged(self):
        self.assert_taken(self.server.post("readings", [
            {"point": "S1/start", "car": 2, "time": "08:40:00", "flags": "clock doubtful"}]), 1)
        kinds = {(d["kind"], d["car"], d["point"]) for d in self.doubts()}
        self.assertLessEqual({("order", 2, "S1/start"), ("flag", 2, "S1/start"),
                              ("missing", 2, "R1/1"), ("missing", 1, "R1/2")}, kinds)
        self.assertFalse(any(d["open"] for d in self.doubts() if d["kind"] != "differ"))

    def test_too_fast_for_the_road(self):
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 5, "time": "08:40", "id": "f-5"}]), 1)
        (doubt,) = self.doubts("fast")
        self.assertEqual((doubt["car"], doubt["point"], doubt["against"]), (5, "TC1", None))
        self.assertIn("53.485 km/h: above the published limit of 50 km/h", doubt["why"])

    def refusals(self):
        told = self.server.get(f"{API}/refusals", self.server.organiser).json()
        self.assertEqual(told["count"], len(told["refusals"]))
        return told["refusals"]

    def acknowledged(self):
        told = self.server.get(f"{API}/acknowledgements", self.server.organiser).json()
        return [a["case"] for a in told["acknowledgements"]]

    def look(self, case, state="acknowledged", reason="Asked the desk"):
        return self.server.post("doubts", {"case": case, "by": "C. Marsh", "reason": reason,
                                           "state": state})

    def last_of_log(self):
        told = self.server.get(f"{API}/log?kind=acknowledgement&limit=1", self.server.organiser)
        return told.json()["entries"][0]

    def test_a_doubt_that_needs_no_ruling_is_acknowledged_until_its_evidence_changes(self):
        def flagged():
            return [d for d in self.doubts("flag") if d["car"] == 3]
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 3, "id": "p-3", "flags": "typed-late"}]), 1)
        (doubt,) = flagged()
        revision = self.office_revision()
        answer = self.look(doubt["id"])
        self.assertEqual((answer.status, answer.json()["revision"]), (200, revision + 1))
        self.assertEqual(flagged(), [])
        self.assertIn(doubt["id"], self.acknowledged())
        entry = self.last_of_log()
        self.assertEqual((entry["car"], entry["point"], entry["why"], entry["by"]),
                         (3, "PC1", "Asked the desk", "C. Marsh"))
        self.assertEqual(entry["what"], "acknowledged: Car 3 at PC1: " + doubt["why"])
        self.assert_problem(self.look(doubt["id"]), 404)
        # It holds after a restart, and whatever comes in elsewhere.
        self.server.restart()
        self.assert_taken(self.server.post("readings", [{"point": "PC1", "car": 5}]), 1)
        self.assertEqual(flagged(), [])
        # Somebody takes it up again, and looks at it again.
        self.assertEqual(self.look(doubt["id"], "reopened", "Look twice").status, 200)
        self.assertEqual([d["id"] for d in flagged()], [doubt["id"]])
        self.assert_problem(self.look(doubt["id"], "reopened"), 404)
        self.assertEqual(self.look(doubt["id"]).status, 200)
        # A second reading there is other evidence.
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 3, "id": "p-3b"}]), 1)
        (again,) = flagged()
        self.assertNotEqual(again["id"], doubt["id"])
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 3, "replaces": name, "void": True, "reason": "not there"}
            for name in ("p-3", "p-3b")]), 2)

    def test_how_far_a_car_has_come_is_no_evidence_of_what_is_missing(self):
        def missing():
            return [d["id"] for d in self.doubts("missing")
                    if (d["car"], d["point"]) == (8, "PC1")]
        self.assert_taken(self.server.post("readings", [
            {"point": "S1/finish", "car": 8, "elapsed": "80", "id": "s-8"}]), 1)
        before = missing()
        self.assertEqual(len(before), 1)
        self.assert_taken(self.server.post("readings", [
            {"point": "TC2", "car": 8, "time": "09:50", "id": "t-8"}]), 1)
        self.assertEqual(missing(), before)
        self.assert_taken(self.server.post("readings", [
            {"point": point, "car": 8, "replaces": name, "void": True, "reason": "car 9"}
            for point, name in (("S1/finish", "s-8"), ("TC2", "t-8"))]), 2)

    def test_a_device_gone_wild_is_told_in_part_and_counted_in_whole(self):
        # Its own event: facts cannot be taken away. What took the square of it took minutes; the
        # client waits for one.
        many = 20005
        server = Server()
        self.addCleanup(server.end)
        rows = "point,car,time,id\n" + "".join(
            f"TC1,9,{8 + i // 3600:02d}:{i // 60 % 60:02d}:{i % 60:02d},w{i}\n"
            for i in range(many))
        answer = server.post("readings", rows.encode(), media_type="text/csv").json()
        self.assertEqual((answer["accepted"], answer["refused"]), (many, []))
        told = server.get(f"{API}/doubts", server.organiser).json()
        (doubt,) = [d for d in told["doubts"] if d["kind"] == "differ"]
        self.assertEqual((told["count"], told["open"]), (len(told["doubts"]), 1))
        self.assertEqual((doubt["readings_count"], len(doubt["readings"])), (many, 50))
        self.assertEqual([r["id"] for r in doubt["readings"] if r["counts"]], ["w0"])
        first = server.get(f"{API}/readings?point=TC1&car=9", server.organiser).json()
        rest = server.get(f"{API}/readings?point=TC1&car=9&after={first['next']}",
                          server.organiser).json()
        self.assertEqual((len(first["readings"]), first["more"]), (20000, 5))
        self.assertEqual((len(rest["readings"]), rest["more"], rest["next"]), (5, 0, None))
        self.assertEqual([r["id"] for r in first["readings"] + rest["readings"]],
                         [f"w{i}" for i in range(many)])
        for name in ("cars/9", "standings", "points", "road", "classifications/final"):
            self.assertEqual(server.get(f"{API}/{name}", server.organiser).status, 200)

    def test_what_stands_in_the_way_is_told_in_part_and_counted_in_whole(self):
        cars = range(100, 320)
        server = Server(entries=ENTRIES + "".join(
            f"{car},A. Vale,,Calder,Six,1955,1996,open,,\n" for car in cars))
        self.addCleanup(server.end)
        rows = [{"point": "TC1", "car": car, "time": time} for time in ("08:54", "09:24")
                for car in cars]
        self.assert_taken(server.post("readings", rows), 2 * len(cars))
        told = server.get(f"{API}/classifications/final", server.organiser).json()
        listed = [o for o in told["obstacles"] if o["kind"] == "doubt"]
        self.assertGreaterEqual(told["doubts"], len(cars))
        self.assertEqual(told["doubts"],
                         server.get(f"{API}/doubts", server.organiser).json()["open"])
        self.assertEqual(len(listed), 200)
        answer = server.post("notices", {"kind": "final"})
        self.assertIn(f"{told['doubts'] - 200} more are doubtful", answer.text)

    def test_of_very_many_refused_rows_some_are_kept_and_all_counted(self):
        kept = addresses.limits()["LIMIT_REFUSALS_KEPT"]
        server = Server()
        self.addCleanup(server.end)
        rows = [{"point": "NOWHERE", "car": n, "id": f"many-{n}"} for n in range(kept + 234)]
        told = server.post("readings", rows).json()
        self.assertEqual(len(told["refused"]), kept + 234)
        waits = server.get(f"{API}/refusals", server.organiser).json()
        self.assertEqual(waits["count"], kept + 1)
        last = waits["refusals"][0]
        self.assertEqual((last["row"], last["car"], last["point"]), (0, "", ""))
        self.assertIn(f" 234 more rows were refused; after the first {kept} of an upload",
                      last["title"])
        self.assertEqual(waits["refusals"][1]["row"], kept)
        entry = server.get(f"{API}/log?kind=readings", server.organiser).json()["entries"][0]
        self.assertIn(f"{kept + 234} refused", str(entry))
        done = server.ask("POST", f"{API}/doubts", json.dumps({
            "case": last["id"], "by": "A. Clerk", "reason": "A wrong file.",
            "state": "acknowledged"}).encode(),
            server.organiser, Content_Type="application/json")
        self.assertEqual(done.status, 200, done)
        waits = server.get(f"{API}/refusals", server.organiser).json()
        self.assertEqual(waits["count"], kept)

    def test_a_doubt_that_needs_a_ruling_stays(self):
        rows = [{"point": "TC1", "car": 9, "time": "08:54", "id": "x-9"},
                {"point": "TC1", "car": 9, "time": "09:24", "id": "y-9"}]
        self.assert_taken(self.server.post("readings", rows), 2)
        (doubt,) = self.doubts("differ")
        told = self.assert_problem(self.look(doubt["id"]), 409)
        self.assertIn("It needs a ruling.", told["detail"])
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 9, "void": True, "replaces": "y-9", "reason": "car 8"}]), 1)

    def test_refused_rows_wait_until_they_are_taken_or_acknowledged(self):
        rows = [{"point": "S1/finish", "car": 2, "elapsed": "71"},
                {"point": "S1/finish", "car": 77, "elapsed": "72", "id": "r-77"},
                {"point": "NOWHERE", "car": 2, "elapsed": "72"}]
        sent = self.server.post("readings", rows, self.server.timekeeper)
        told = self.assert_taken(sent, 1, 0, [2, 3])
        waiting = self.refusals()
        self.assertEqual([(r["row"], r["car"], r["point"], r["key"]["id"]) for r in waiting],
                         [(3, "2", "NOWHERE", 2), (2, "77", "S1/finish", 2)])
        self.assertEqual([r["reason"] for r in waiting][::-1],
                         [r["reason"] for r in told["refused"]])
        self.assertEqual(waiting[1]["title"],
                         "Row 2 of the upload of key 2 was refused: " + waiting[1]["reason"])
        # Sent again it is the same case.
        self.server.post("readings", rows, self.server.timekeeper)
        self.assertEqual([(r["id"], r["times"]) for r in self.refusals()],
                         [(r["id"], 2) for r in waiting])
        # What is mended under the same id is settled.
        self.assert_taken(self.server.post("readings", [
            {"point": "S1/finish", "car": 8, "elapsed": "72", "id": "r-77"}],
            self.server.timekeeper), 1)
        self.assertEqual([r["id"] for r in self.refusals()], [waiting[0]["id"]])
        self.assertEqual(self.look(waiting[0]["id"], reason="There is no such point").status, 200)
        self.assertEqual(self.refusals(), [])
        self.assertIn("was refused", self.last_of_log()["what"])
        self.server.post("readings", rows[2:], self.server.timekeeper)
        self.assertEqual(self.refusals(), [])
        self.assertEqual(self.look(waiting[0]["id"], "reopened").status, 200)
        self.assertEqual([r["id"] for r in self.refusals()], [waiting[0]["id"]])
        self.assertEqual(self.look(waiting[0]["id"]).status, 200)
        self.assert_taken(self.server.post("readings", [
            {"point": "S1/finish", "car": 8, "replaces": "r-77", "void": True, "reason": "2"}]), 1)

    def test_a_refused_row_that_was_corrected_waits_no_longer(self):
        """A desk keeps what it sent, and sends a correction of it under another id."""
        def send(**row):
            return self.server.post("readings", [dict({"point": "S1/finish"}, **row)],
                                    self.server.timekeeper)
        self.assert_taken(send(car=78, elapsed="72", id="w-78"), 0, 0, [1])
        self.assertEqual([r["reading"] for r in self.refusals()], ["w-78"])
        mended = {"car": 9, "elapsed": "72", "id": "w-9", "replaces": "w-78", "reason": "mistyped"}
        self.assert_taken(send(**mended), 1)
        self.assertEqual(self.refusals(), [])
        # The same row again comes after the correction, and is looked at anew.
        self.assert_taken(send(car=78, elapsed="72", id="w-78"), 0, 0, [1])
        waiting, = self.refusals()
        self.assertEqual(self.look(waiting["id"], reason="told by radio").status, 200)
        # In one upload, as of a desk that had no line.
        both = [{"point": "S1/finish", "car": 79, "elapsed": "72", "id": "w-79"},
                {"point": "S1/finish", "car": 9, "elapsed": "72", "id": "w-80",
                 "replaces": "w-79", "reason": "mistyped"}]
        told = self.server.post("readings", both, self.server.timekeeper)
        self.assert_taken(told, 1, 0, [1])
        self.assertEqual(self.refusals(), [])
        for id in ("w-9", "w-80"):
            self.assert_taken(send(car=9, void=True, replaces=id, reason="trial"), 1)

    def test_same_id_other_content_waits(self):
        self.assert_taken(self.server.post("readings", [
            {"point": "T1/1", "car": 5, "elapsed": "12", "id": "t-5"}]), 1)
        self.assert_taken(self.server.post("readings", [
            {"point": "T1/1", "car": 5, "elapsed": "13", "id": "t-5"}]), 0, 0, [1])
        (case,) = [r for r in self.refusals() if r["reading"] == "t-5"]
        self.assertEqual(case["elapsed"], "13")
        self.assertEqual(self.look(case["id"]).status, 200)
        self.assert_taken(self.server.post("readings", [
            {"point": "T1/1", "car": 5, "replaces": "t-5", "void": True, "reason": "13"}]), 1)

    def test_what_is_no_acknowledgement(self):
        for body, status in (({}, 400), ({"case": "0" * 16, "reason": "x"}, 400),
                             ({"case": "0" * 16, "state": "acknowledged"}, 400),
                             ({"case": "0" * 16, "state": "acknowledged", "reason": "x"}, 404),
                             ({"case": "x", "state": "reopened", "reason": "x"}, 404)):
            self.assert_problem(self.server.post("doubts", body), status)

    def test_only_organisers_are_told(self):
        self.assert_problem(self.server.get(f"{API}/doubts"), 401)
        self.assert_problem(self.server.get(f"{API}/doubts", self.server.timekeeper), 403)


class LateRulingTest(ServedTest):
    """Two organisers rule on the same readings: the slower one is told so, and none of its rows
    is accepted."""

    def rule(self, rows, said, key=None):
        rows = [{"point": "TC1", "car": 8, "reason": "paper", **row} for row in rows]
        return self.server.post("readings", rows, key or self.server.organiser,
                                If_Match=f'"e{said}"')

    def said(self):
        told = self.server.get(f"{API}/doubts", self.server.organiser).json()["doubts"]
        (doubt,) = [d for d in told if d["kind"] == "differ"]
        return doubt["said"]

    def test_what_was_said_meanwhile_is_not_overruled_unseen(self):
        send = self.server.post
        self.assert_taken(send("readings", [
            {"point": "TC1", "car": 8, "time": "08:53", "id": "a"},
            {"point": "TC1", "car": 8, "time": "09:23", "id": "b"}]), 2)
        said = self.said()
        self.assertEqual(said, 2)
        # What comes in elsewhere does not matter.
        self.assert_taken(send("readings", [{"point": "TC1", "car": 9, "time": "08:59"}]), 1)
        self.assert_taken(self.rule([{"replaces": "a", "void": True, "id": "r"}], said), 1)
        before = self.office_revision()
        for rows in ([{"replaces": "b", "void": True}], [{"time": "08:50"}],
                     [{"replaces": "b", "car": 9, "time": "09:23"}],
                     [{"point": "X"}, {"car": 77}, {"replaces": "r", "time": "08:54"}]):
            self.assert_problem(self.rule(rows, said), 412, "somebody-was-first")
        self.assertEqual(self.office_revision(), before)
        self.assertEqual(self.rule([{"point": "X"}, {"car": 77}], said).json()["accepted"], 0)
        # A reading given to another car is said of the one that it is taken from, too.
        self.assert_taken(send("readings", [{"point": "TC1", "car": 9, "time": "09:23",
                                             "replaces": "b", "reason": "car 9"}]), 1)
        self.assert_problem(self.rule([{"time": "08:50"}], 4), 412)
        self.assert_taken(self.rule([{"time": "08:50"}], 5), 1)
        # A timekeeper cannot find out by it what was said.
        self.assert_taken(self.rule([{"time": "08:51"}], 99, self.server.timekeeper), 1)
