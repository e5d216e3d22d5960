# SPDX-License-Identifier: MIT
"""What the office reads, and that two organisers do not overwrite each other's changes."""

import json

from tests.support.serving import API, ENTRIES, EVENT, SLUG, ServedTest, Server


class OfficeTest(ServedTest):
    def get(self, name):
        return self.server.get(f"{API}/{name}", self.server.organiser)

    def put(self, name, body, media_type, **headers):
        return self.server.send("PUT", name, body, self.server.organiser, media_type, **headers)


class UnchangedTest(OfficeTest):
    """These tests write nothing."""

    def test_documents_come_back_byte_by_byte(self):
        with open(self.server.folder + "/event/event.json", "rb") as file:
            self.assertEqual(self.get("rules").body, file.read())
        with open(self.server.folder + "/event/entries.csv", "rb") as file:
            self.assertEqual(self.get("entries").body, file.read())

    def test_points_count_what_the_cards_tell(self):
        seen = {}
        for car in (1, 2, 3, 5, 8, 9):
            for point in self.get(f"cars/{car}").json()["points"]:
                seen.setdefault(point["point"], 0)
                seen[point["point"]] += point["actual"] is not None
        points = {p["point"]: p for p in self.get("points").json()["points"]}
        for point in ("TC1", "R1/1", "T1/1"):
            self.assertEqual(points[point]["seen"], seen[point], point)


class DocumentsTest(OfficeTest):
    def test_a_document_taken_is_the_one_that_is_read_next(self):
        text = ENTRIES + "12,L. Marsh,,Calder,Nine,1961,1500,open,,\n"
        self.assertEqual(self.put("entries", text, "text/csv").status, 200)
        self.assertEqual(self.get("entries").text, text)
        self.assertEqual(self.put("entries", "broken", "text/csv").status, 422)
        self.assertEqual(self.get("entries").text, text)

    def test_the_slower_of_two_organisers_is_told(self):
        for name, first, second, media_type in (
                ("rules", json.dumps({**EVENT, "name": "First"}),
                 json.dumps({**EVENT, "name": "Second"}), "application/json"),
                ("entries", ENTRIES.replace("A. Thorne", "A. Thorn"),
                 ENTRIES.replace("A. Thorne", "A. Torn"), "text/csv")):
            tag = self.get(name).headers["etag"]
            self.assertEqual(self.put(name, first, media_type, If_Match=tag).status, 200)
            late = self.put(name, second, media_type, If_Match=tag)
            self.assert_problem(late, 412, "somebody-was-first")
            self.assertEqual(self.get(name).text, first)
            tag = self.get(name).headers["etag"]
            self.assertEqual(self.put(name, second, media_type, If_Match=tag).status, 200)

    def test_the_tag_of_the_compressed_form_will_do_and_any_will_for_a_star(self):
        packed = self.server.get(f"{API}/rules", self.server.organiser,
                                 Accept_Encoding="gzip").headers["etag"]
        text = self.get("rules").body
        self.assertEqual(self.put("rules", text, "application/json", If_Match=packed).status, 200)
        self.assertEqual(self.put("rules", text, "application/json", If_Match="*").status, 200)

    def test_tags_survive_a_restart(self):
        before = [self.get(name).headers["etag"] for name in ("rules", "entries", "decisions")]
        self.server.restart()
        after = [self.get(name).headers["etag"] for name in ("rules", "entries", "decisions")]
        self.assertEqual(before, after)


class DecisionsTest(OfficeTest):
    def test_decisions_are_told_with_their_ids_and_whether_they_hold(self):
        rows = [{"kind": "waive", "car": 1, "point": "TC1", "reason": "flock of sheep"}]
        self.assert_taken(self.server.post("decisions", rows), 1)
        mine = self.get("decisions").json()["decisions"][-1]
        self.assertEqual((mine["kind"], mine["car"], mine["point"], mine["holds"]),
                         ("waive", "1", "TC1", True))
        self.assertRegex(mine["id"], r"^[0-9a-f]{32}$")
        self.assert_taken(self.server.post("decisions", [
            {"kind": "revoke", "value": mine["id"], "reason": "no sheep after all"}]), 1)
        told = self.get("decisions").json()["decisions"]
        self.assertEqual([d["holds"] for d in told[-2:]], [False, True])
        self.assertEqual([d["number"] for d in told], list(range(1, len(told) + 1)))

    def test_the_slower_of_two_organisers_is_told(self):
        tag = self.get("decisions").headers["etag"]
        ruling = [{"kind": "penalty", "car": 3, "value": "10", "reason": "late at parc ferme"}]
        other = [{"kind": "penalty", "car": 3, "value": "20", "reason": "late at parc ferme"}]
        sent = {"Content_Type": "application/json", "If_Match": tag, "key": self.server.organiser}
        first = self.server.ask("POST", f"{API}/decisions", json.dumps(ruling).encode(), **sent)
        self.assert_taken(first, 1)
        late = self.server.ask("POST", f"{API}/decisions", json.dumps(other).encode(), **sent)
        self.assert_problem(late, 412, "somebody-was-first")
        self.assertEqual(self.state_of_penalty(3), "10.000")

    def state_of_penalty(self, car):
        return self.get(f"cars/{car}").json()["penalty"]


class ReadingsTest(OfficeTest):
    def test_readings_are_told_with_what_counts(self):
        rows = [{"point": "TC1", "car": 5, "time": "08:50:00", "id": "first",
                 "at": "2031-06-06T09:50:00Z"},
                {"point": "TC1", "car": 5, "time": "08:51:00", "id": "second",
                 "at": "2031-06-06T09:51:00Z", "desk": "0a1b2c3d"},
                {"point": "TC1", "car": 8, "time": "08:52:00", "id": "third", "replaces": "first",
                 "reason": "it was car 8"}]
        self.assert_taken(self.server.post("readings", rows), 3)
        told = {r["id"]: r for r in self.get("readings?point=TC1").json()["readings"]}
        self.assertEqual((told["first"]["counts"], told["first"]["replaced"]), (False, True))
        self.assertEqual((told["second"]["counts"], told["second"]["replaced"]), (True, False))
        self.assertEqual(told["second"]["extra"], {"desk": "0a1b2c3d"})
        self.assertEqual(told["third"]["replaces"], "first")
        of_car = self.get("readings?point=TC1&car=8").json()["readings"]
        self.assertEqual([r["id"] for r in of_car], ["third"])
        self.assertEqual(len(self.get("readings").json()["readings"]), 8 + 3)
        self.assert_problem(self.get("readings?point=X"), 404)
        self.assert_problem(self.get("readings?car=77"), 404)


class ControlRoomTest(OfficeTest):
    def points(self):
        return {p["point"]: p for p in self.get("points").json()["points"]}

    def road(self):
        return {c["car"]: c for c in self.get("road").json()["cars"]}

    def test_points_and_the_road_follow_the_readings_and_rulings(self):
        points = self.points()
        self.assertEqual(list(points)[:3], ["TC1", "TC1/out", "PC1"])
        self.assertEqual((points["TC1"]["expected"], points["TC1"]["seen"],
                          points["TC1"]["missing"], points["TC1"]["last"]), (6, 3, 0, "08:48:10"))
        self.assertEqual(points["TC1/out"]["missing"], 0)
        road = self.road()
        self.assertEqual((road[2]["last"], road[2]["last_time"], road[2]["next"]),
                         ("PC1", None, "TC2"))
        self.assertEqual((road[8]["last"], road[8]["next"], road[8]["due"]),
                         (None, "TC1", "08:53:00"))
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 5}, {"point": "TC1", "car": 3, "time": "08:49:00"}]), 2)
        self.assert_taken(self.server.post("decisions", [
            {"kind": "retire", "car": 9, "reason": "gearbox"},
            {"kind": "retire", "car": 8, "point": "TC1", "reason": "magneto"}]), 2)
        points, road = self.points(), self.road()
        self.assertEqual((points["TC1"]["missing"], points["TC1"]["doubtful"],
                          points["TC1"]["expected"]), (1, 1, 5))
        self.assertEqual(points["PC1"]["expected"], 4)
        self.assertEqual((road[9]["status"], road[9]["next"]), ("not-started", None))
        self.assertEqual(road[8]["next"], "TC1")
        self.assert_taken(self.server.post("decisions", [
            {"kind": "close", "point": "TC1", "reason": "last car through"}]), 1)
        self.assertTrue(self.points()["TC1"]["closed"])
        self.assertEqual(self.points()["TC1"]["missing"], 2)


class TwoServersTest(ServedTest):
    def test_the_same_facts_have_the_same_tags(self):
        other = Server()
        self.addCleanup(other.end)
        for name in ("rules", "entries", "decisions"):
            tags = [server.get(f"/api/v1/events/{SLUG}/{name}", server.organiser).headers["etag"]
                    for server in (self.server, other)]
            self.assertEqual(tags[0], tags[1])


class ProposalTest(OfficeTest):
    def try_out(self, name, body, media_type="application/json"):
        return self.server.send("POST", f"{name}/try", body, self.server.organiser,
                                media_type).json()

    def test_a_new_entry_list_is_compared_and_not_taken(self):
        before = self.get("entries").text
        text = (ENTRIES.replace("9,H. Fenn", "9,H. Fenny")
                .replace("5,E. Quill,R. Sedge,Calder,Eight,1955,3400,club,", "7,E. Q,,Marl,Two,1950,,club,"))
        told = self.try_out("entries", text, "text/csv")
        self.assertEqual((told["taken"], told["added"], told["changed"], told["gone"],
                          told["cars"]), (True, [7], [9], [5], 6))
        self.assertEqual((told["errors"], told["lost"]), ([], []))
        self.assertEqual(self.get("entries").text, before)

    def test_groups_are_compared_by_their_ids(self):
        groups = [{"id": "new"}] + EVENT["classes"]["groups"][::-1]
        told = self.try_out("rules", {**EVENT, "classes": {**EVENT["classes"], "groups": groups}})
        self.assertEqual((told["taken"], told["changed"]), (True, []))
        for named in ("ladies", '"low;ladies"', ""):
            entries = ENTRIES.replace("open,Rooks,low", "open,Rooks," + named)
            told = self.try_out("entries", entries, "text/csv")
            self.assertEqual((told["taken"], told["changed"]), (True, [1]), named)

    def test_what_is_wrong_is_told_with_its_place(self):
        told = self.try_out("entries", ENTRIES.replace(",1929,", ",29,"), "text/csv")
        self.assertFalse(told["taken"])
        self.assertEqual(told["errors"][0]["place"], "entries.csv:2")
        self.assertNotIn("added", told)
        told = self.try_out("rules", {**EVENT, "wheels": 4})
        self.assertIn("wheels", told["errors"][0]["place"])

    def test_facts_that_would_lose_their_place_are_told(self):
        lines = [line for line in ENTRIES.splitlines(True) if not line.startswith("1,")]
        told = self.try_out("entries", "".join(lines), "text/csv")
        self.assertFalse(told["taken"])
        self.assertIn("seed-1", [fact.get("reading") for fact in told["lost"]])
        self.assertEqual(told["gone"], [1])
        self.assertEqual(self.put("entries", "".join(lines), "text/csv").status, 422)

    def test_what_is_tried_and_what_is_taken_agree(self):
        for name, body, media_type in (
                ("entries", ENTRIES, "text/csv"), ("entries", "", "text/csv"),
                ("rules", json.dumps(EVENT), "application/json"),
                ("rules", json.dumps({**EVENT, "slug": "other"}), "application/json"),
                ("rules", json.dumps({**EVENT, "route": EVENT["route"][1:]}), "application/json"),
                ("rules", "{", "application/json")):
            told = self.try_out(name, body, media_type)
            self.assertEqual(self.put(name, body, media_type).status == 200, told["taken"],
                             (name, body[:40], told))
