# SPDX-License-Identifier: MIT
"""The review queue: doubts with evidence, and what resolves them."""

from serving import API, ServedTest


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
        # The other reading counts once the first is withdrawn: just the effect that was told.
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

    def test_only_organisers_are_told(self):
        self.assert_problem(self.server.get(f"{API}/doubts"), 401)
        self.assert_problem(self.server.get(f"{API}/doubts", self.server.timekeeper), 403)
