# SPDX-License-Identifier: MIT
"""The log: every fact that changed the event, who, when, why, and what it changed."""

import csv
import io

from tests.support.serving import API, ENTRIES, EVENT, ServedTest


class LogTest(ServedTest):
    def log(self, query="", key=None):
        answer = self.server.get(f"{API}/log?limit=500{query}", key or self.server.organiser)
        self.assertEqual(answer.status, 200, str(answer))
        self.assertEqual(answer.headers["cache-control"], "private, no-store")
        return answer.json()["entries"]

    def entry(self, name):
        answer = self.server.get(f"{API}/log/{name}", self.server.organiser)
        self.assertEqual(answer.status, 200, str(answer))
        return answer.json()

    def decide(self, **row):
        row = {"by": "C. Marsh", "at": "2031-06-06T12:00:00Z", **row}
        self.assert_taken(self.server.post("decisions", [row]), 1)
        return self.log("&kind=office")[0]

    def test_what_was_imported_stands_at_its_beginning(self):
        entries = self.log()
        self.assertEqual([e["what"] for e in entries if e["source"] == "import"][::-1],
                         ["rules imported", "entry list imported", "8 readings imported",
                          "penalty of 30 for car 2"])
        made = [e["what"] for e in entries if e["kind"] == "key"]
        self.assertIn("key 1 made: organiser", made)
        self.assertIn("key 2 made: timekeeper for TC1,R1,S1", made)
        self.assertEqual([e["at"] for e in entries], sorted((e["at"] for e in entries),
                                                            reverse=True))

    def test_a_decision_and_its_undoing_with_what_they_moved(self):
        before = self.places()
        ruling = self.decide(kind="penalty", car=1, value="500", reason="Wrong way", id="way-1")
        self.assertEqual((ruling["kind"], ruling["what"], ruling["why"], ruling["by"],
                          ruling["car"]),
                         ("decision", "penalty of 500 for car 1", "Wrong way", "C. Marsh", 1))
        after = self.places()
        effect = self.entry(ruling["id"])["effect"]
        self.assertEqual({m["car"]: (m["before"]["position"], m["after"]["position"])
                          for m in effect["moves"]
                          if m["before"]["position"] != m["after"]["position"]},
                         {car: (before[car], after[car]) for car in after
                          if before[car] != after[car]})
        undo = self.decide(kind="revoke", value="way-1", reason="It was the right way")
        self.assertEqual((undo["kind"], undo["what"], undo["car"]),
                         ("undo", "undone: penalty of 500 for car 1", 1))
        self.assertEqual(self.places(), before)
        back = self.entry(undo["id"])["effect"]
        self.assertEqual({m["car"]: m["before"] for m in back["moves"]},
                         {m["car"]: m["after"] for m in effect["moves"]})
        # Later facts change nothing of what is told about it.
        self.decide(kind="disqualify", car=2, reason="No brakes", id="brakes-2")
        self.assertEqual(self.entry(ruling["id"])["effect"], effect)
        self.decide(kind="revoke", value="brakes-2", reason="They were tested again")

    def places(self):
        told = self.server.get(f"{API}/standings", self.server.organiser).json()
        return {row["car"]: row["position"] for row in told["standings"] + told["unplaced"]}

    def test_uploads_and_corrections_with_old_and_new(self):
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 9, "time": "08:54", "id": "nine"}], self.server.timekeeper), 1)
        upload = self.log("&kind=readings")[0]
        self.assertEqual((upload["what"], upload["taken"], upload["key"]["id"]),
                         ("reading of car 9 at TC1: 08:54", 1, 2))
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 9, "time": "08:57", "id": "nine-b", "replaces": "nine",
             "reason": "misread", "by": "quay desk"}, {"point": "X", "car": 9}]), 1, 0, [2])
        both = self.log()[:2]
        self.assertEqual([e["kind"] for e in both], ["correction", "readings"])
        self.assertEqual((both[0]["what"], both[0]["changes"], both[0]["why"], both[0]["by"]),
                         ("reading of car 9 at TC1 corrected",
                          ["car 9 at TC1, 08:54 → 08:57"], "misread", "quay desk"))
        self.assertEqual(both[1]["what"], "1 reading taken, 1 refused")
        (moved,) = [m for m in self.entry(both[0]["id"])["effect"]["moves"] if m["car"] == 9]
        self.assertEqual((moved["before"]["penalty"], moved["after"]["penalty"]),
                         ("0.000", "30.000"))
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 9, "replaces": "nine-b", "void": True, "reason": "car 8"}]), 1)
        gone = self.log()[0]
        self.assertEqual((gone["kind"], gone["changes"]),
                         ("withdrawal", ["car 9 at TC1, 08:57 → none"]))
        self.assertIn(gone["id"], [e["id"] for e in self.log("&car=9")])
        self.assertNotIn(gone["id"], [e["id"] for e in self.log("&car=3")])

    def test_documents_tell_what_is_different_and_from_when(self):
        changed = ENTRIES.replace("A. Thorne,M. Vale", "A. Thorne,L. Gale")
        answer = self.server.send(
            "PUT", "entries?by=C.%20Marsh&reason=M.%20Vale%20is%20ill&since=2031-06-07", changed,
            self.server.organiser, "text/csv")
        self.assertEqual(answer.status, 200, str(answer))
        entry = self.log()[0]
        self.assertEqual((entry["kind"], entry["what"], entry["changes"], entry["why"],
                          entry["by"], entry["since"]),
                         ("entries", "entry list replaced",
                          ["car 1: navigator M. Vale → L. Gale"], "M. Vale is ill", "C. Marsh",
                          "2031-06-07"))
        self.assertEqual(self.entry(entry["id"])["effect"], None)
        self.assertEqual([e["id"] for e in self.log("&car=1&kind=entries")], [entry["id"]])
        self.assertEqual(self.log("&car=2&kind=entries"), [])
        self.server.send("PUT", "entries", ENTRIES, self.server.organiser, "text/csv")
        rules = dict(EVENT, route=[dict(item, name="Young quay") if item["id"] == "TC2" else item
                                   for item in EVENT["route"]])
        self.server.send("PUT", "rules", rules, self.server.organiser)
        self.assertEqual(self.log()[0]["changes"], ["route[TC2].name: New quay → Young quay"])
        self.server.send("PUT", "rules", EVENT, self.server.organiser)
        wrong = self.server.send("PUT", "entries?since=soon", ENTRIES, self.server.organiser,
                                 "text/csv")
        self.assert_problem(wrong, 400)

    def test_start_lists_notices_cases_and_keys(self):
        self.server.post("starts/2", {"order": "reversed", "save": True})
        self.assertEqual(self.log()[0]["what"], "start list kept")
        self.server.post("notices", {"title": "Tea"})
        self.assertRegex(self.log()[0]["what"], r"^notice \d+ posted: Tea$")
        self.server.post("enquiries", {"kind": "protest", "car": 1, "text": "Too slow?"})
        case = self.log()[0]
        self.assertEqual((case["kind"], case["car"], case["why"]), ("enquiry", 1, "Too slow?"))
        number = case["id"][1:]
        self.server.post(f"enquiries/{number}", {"outcome": "rejected", "text": "No."})
        self.assertEqual(self.log()[0]["what"], f"protest {number} of car 1: rejected")
        key = self.server.post("keys", {"role": "timekeeper", "points": "PC1",
                                        "label": "Bridge", "base": "https://127.0.0.1"}).json()
        self.assertEqual(self.log()[0]["what"],
                         f"key {key['id']} made: timekeeper for PC1, Bridge")
        self.server.post(f"keys/{key['id']}", {"revoke": True})
        self.assertEqual(self.log("&kind=key")[0]["what"],
                         f"key {key['id']} revoked: timekeeper for PC1, Bridge")

    def test_pages_hold_everything_once(self):
        whole = [e["id"] for e in self.log()]
        found, before = [], ""
        for _ in range(len(whole)):
            told = self.server.get(f"{API}/log?limit=3{before}", self.server.organiser).json()
            found += [e["id"] for e in told["entries"]]
            if told["next"] is None:
                break
            self.assertEqual(told["next"], found[-1])
            before = f"&before={told['next']}"
        self.assertEqual(found, whole)

    def test_found_by_text(self):
        self.decide(kind="penalty", car=3, value="1", reason="Café, cœur and tyre ẞ")
        for text, count in (("CAFE", 1), ("penalty%20cafe", 1), ("penalty%20coffee", 0)):
            self.assertEqual(len(self.log(f"&text={text}")), count, text)

    def test_as_csv(self):
        self.decide(kind="penalty", car=5, value="2", reason="=1+1", by="@marsh")
        answer = self.server.get(f"{API}/log?format=csv&limit=1", self.server.organiser)
        self.assertEqual(answer.media_type, "text/csv")
        heads, row = csv.reader(io.StringIO(answer.text))
        told = dict(zip(heads, row))
        self.assertEqual((told["kind"], told["car"], told["what"], told["why"], told["by"]),
                         ("decision", "5", "penalty of 2 for car 5", "'=1+1", "'@marsh"))

    def test_wrong_questions(self):
        for query in ("limit=0", "limit=501", "limit=x", "kind=gossip", "car=0", "car=x",
                      "before=d999", "before=x1", "before=", "format=xml"):
            answer = self.server.get(f"{API}/log?{query}", self.server.organiser)
            self.assertEqual(answer.status, 200 if query == "before=" else 400, str(answer))
        for name in ("d999", "x1", "d", "d1x", "-1", "d01"):
            self.assert_problem(self.server.get(f"{API}/log/{name}", self.server.organiser), 404)

    def test_only_organisers_are_told(self):
        for path in ("log", "log/u1", "refusals", "acknowledgements"):
            self.assert_problem(self.server.get(f"{API}/{path}"), 401)
            self.assert_problem(self.server.get(f"{API}/{path}", self.server.timekeeper), 403)
