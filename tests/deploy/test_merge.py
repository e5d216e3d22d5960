# SPDX-License-Identifier: MIT
"""Two servers of one event whose files diverged, merged again."""

import json
import os
import shutil
import subprocess
import time
import unittest

from tests.support import cairn as program, serving

API, SLUG = serving.API, serving.SLUG
BYS = ("overall", "class", "category", "day", "test", "team")


class MergeTest(unittest.TestCase):
    """Two servers that begin with the same file."""

    def setUp(self):
        self.one = serving.Server()
        self.addCleanup(self.one.end)
        self.two = serving.Server()
        self.addCleanup(self.two.end)
        # The second goes on from a copy of the first, keys and all.
        self.two.process.terminate()
        self.two.process.wait(60)
        self.two.process.stdout.close()
        os.remove(self.file(self.two))
        serving.cairn("backup", self.one.data, SLUG, self.file(self.two))
        self.two.organiser = self.one.organiser
        self.two.start()

    @staticmethod
    def file(server):
        return os.path.join(server.data, SLUG + ".cairn")

    def merge(self, server, other, *options, code=0):
        """Merges the other's file into the server's; returns (output, errors)."""
        done = subprocess.run([program.CAIRN, "merge", server.data, SLUG, self.file(other),
                               *options], capture_output=True, timeout=120, check=False)
        told = done.stdout.decode(), done.stderr.decode()
        self.assertEqual(done.returncode, code, told)
        return told

    def folder(self, server):
        """The event folder of a server: {name: bytes}."""
        path = os.path.join(server.folder, "export")
        shutil.rmtree(path, ignore_errors=True)
        serving.cairn("export", server.data, SLUG, path)
        found = {}
        for name in os.listdir(path):
            with open(os.path.join(path, name), "rb") as file:
                found[name] = file.read()
        return found

    def standings(self, server):
        """All standings as an organiser sees them, without their revisions."""
        found = []
        for by in BYS:
            told = server.get(f"{API}/standings?by={by}", server.organiser).json()
            del told["revision"]
            found.append(told)
        return found

    def take(self, server, name, rows):
        told = server.post(name, rows)
        self.assertEqual(told.status, 200, str(told))
        self.assertEqual(told.json()["refused"], [])

    def test_what_has_no_car_of_the_list_is_merged_too(self):
        desk = {"point": "TC1", "desk": "0a1b2c3d"}
        self.assertEqual(self.one.post("readings", [
            {**desk, "car": 417, "time": "08:55", "id": "only-one"}]).json()["accepted"], 1)
        self.assertEqual(self.two.post("readings", [
            {**desk, "time": "08:56", "id": "blank-two"},
            {**desk, "car": 9, "time": "08:57", "id": "trial-two", "flags": "rehearsal"},
        ]).json()["accepted"], 2)
        self.merge(self.one, self.two)
        aside = self.folder(self.one)["unassigned.csv"].decode()
        for name in ("only-one", "blank-two", "trial-two"):
            self.assertIn(name, aside)
        self.merge(self.two, self.one)
        self.assertEqual(self.folder(self.two)["unassigned.csv"].decode(), aside)

    def test_both_ways_give_the_same(self):
        self.take(self.one, "readings", [
            {"point": "TC1", "car": 8, "time": "08:54:10", "id": "one-1"},
            {"point": "R1/1", "car": 2, "time": "09:17:00", "id": "one-2"},
            {"point": "PC1", "car": 5}])
        self.take(self.two, "readings", [
            {"point": "TC1", "car": 8, "time": "08:55:10", "id": "two-1", "at":
             "2031-06-06T08:55:12Z"},
            {"point": "R1/start", "car": 2, "time": "09:10:00", "id": "two-2"},
            {"point": "TC1", "car": 1, "time": "08:46:59", "replaces": "seed-1", "reason": "misread",
             "id": "two-3"}, {"point": "PC1", "car": 5}])
        self.take(self.one, "decisions", [
            {"kind": "allowance", "car": 2, "point": "R1/1", "value": "00:00:05",
             "reason": "sheep on the road"}])
        self.take(self.two, "decisions", [
            {"kind": "revoke", "value": "ruling-1", "reason": "it was another car"},
            {"kind": "close", "point": "TC1", "reason": "course car through"}])
        self.assertNotEqual(self.standings(self.one), self.standings(self.two))
        told, errors = self.merge(self.one, self.two)
        self.assertEqual((told, errors), (f"{SLUG}: 3 readings, 2 decisions, 0 notices added\n", ""))
        told, _ = self.merge(self.two, self.one)
        self.assertEqual(told, f"{SLUG}: 2 readings, 1 decisions, 0 notices added\n")
        self.assertEqual(self.folder(self.one), self.folder(self.two))
        # The servers saw it without being started again.
        self.assertEqual(self.settled(self.one), self.settled(self.two))
        self.assertEqual(self.state(self.one, 8, "TC1"), self.state(self.two, 8, "TC1"))
        # Again: nothing is there to add, and no revision is made.
        before = self.one.get(API, self.one.organiser).json()["revision"]
        told, _ = self.merge(self.one, self.two)
        self.assertEqual(told, f"{SLUG}: 0 readings, 0 decisions, 0 notices added\n")
        self.assertEqual(self.one.get(API, self.one.organiser).json()["revision"], before)

    def settled(self, server):
        """The standings of the server, which must equal those that its folder scores."""
        path = os.path.join(server.folder, "export")
        self.folder(server)
        want = json.loads(serving.cairn("score", path, "--live", "--format", "json"))

        def seen():
            told = server.get(f"{API}/standings", server.organiser).json()
            return all(told[name] == want[name] for name in ("standings", "unplaced"))
        self.wait_for(seen)
        return self.standings(server)

    def wait_for(self, what):
        """Waits until what() is true."""
        until = time.monotonic() + 60
        while not what():
            self.assertLess(time.monotonic(), until, "the server does not see what was merged")
            time.sleep(0.02)

    def state(self, server, car, point):
        card = server.get(f"{API}/cars/{car}", server.organiser).json()
        return next((p["state"], p["penalty"]) for p in card["points"] if p["point"] == point)

    def test_what_was_posted_through_both_counts_once(self):
        rows = [{"point": "PC1", "car": car, "id": f"desk-{car}"} for car in (3, 5, 8, 9)]
        self.take(self.one, "readings", rows[:3])
        self.take(self.two, "readings", rows[1:])
        self.merge(self.one, self.two)
        exported = self.folder(self.one)["readings.csv"]
        for car in (3, 5, 8, 9):
            self.assertEqual(exported.count(f"desk-{car},".encode()), 1)

    def test_one_id_with_two_contents_is_told_and_nothing_taken(self):
        self.take(self.one, "readings", [{"point": "PC1", "car": 3, "id": "desk-1"}])
        self.take(self.two, "readings", [{"point": "PC1", "car": 5, "id": "desk-1"},
                                         {"point": "PC1", "car": 8, "id": "desk-2"}])
        self.take(self.one, "decisions", [{"kind": "penalty", "car": 3, "value": "5",
                                           "reason": "noise", "id": "d-1"}])
        self.take(self.two, "decisions", [{"kind": "penalty", "car": 3, "value": "50",
                                           "reason": "noise", "id": "d-1"}])
        before = self.folder(self.one)
        told, errors = self.merge(self.one, self.two, code=2)
        self.assertEqual(told, "")
        self.assertEqual(errors.splitlines(), [
            "readings: “desk-1” says something else here than in the other file",
            "decisions: “d-1” says something else here than in the other file"])
        self.assertEqual(self.folder(self.one), before)
        told, errors = self.merge(self.one, self.two, "--leave-conflicts", code=2)
        self.assertEqual(told, f"{SLUG}: 1 readings, 0 decisions, 0 notices added\n")
        self.assertEqual(errors.count("refused: "), 2)
        rows = self.folder(self.one)["readings.csv"].decode()
        self.assertIn("PC1,3,,,,desk-1,", rows)
        self.assertIn("PC1,8,,,,desk-2,", rows)

    def put_entries(self, server, text):
        told = server.send("PUT", "entries", text, server.organiser, "text/csv")
        self.assertEqual(told.status, 200, str(told))

    def test_a_late_entry_on_either_side(self):
        late = serving.ENTRIES + "12,L. Comer,,Marl,Ten,1950,,open,,\n"
        self.put_entries(self.two, late)
        self.take(self.two, "readings", [{"point": "PC1", "car": 12, "id": "late"}])
        self.take(self.one, "readings", [{"point": "PC1", "car": 8, "id": "usual"}])
        self.merge(self.one, self.two)
        self.assertEqual(self.folder(self.one)["entries.csv"].decode(), late)
        self.merge(self.two, self.one)
        self.assertEqual(self.folder(self.one), self.folder(self.two))

    def test_documents_that_both_changed_are_for_a_person(self):
        self.put_entries(self.one, serving.ENTRIES + "12,L. Comer,,Marl,Ten,1950,,open,,\n")
        self.put_entries(self.two, serving.ENTRIES + "13,L. Comer,,Marl,Ten,1950,,open,,\n")
        for ours, theirs in ((self.one, self.two), (self.two, self.one)):
            before = self.folder(ours)
            _, errors = self.merge(ours, theirs, code=2)
            self.assertIn("entries.csv: both sides changed it", errors)
            self.assertEqual(self.folder(ours), before)

    def test_facts_that_would_lose_their_place(self):
        """The other file's entry list lacks a car that was read here."""
        fewer = "".join(line for line in serving.ENTRIES.splitlines(True)
                        if not line.startswith("9,"))
        self.put_entries(self.two, fewer)
        self.take(self.one, "readings", [{"point": "PC1", "car": 9, "id": "nine"}])
        before = self.folder(self.one), self.folder(self.two)
        _, errors = self.merge(self.one, self.two, code=2)
        self.assertIn("would lose its place", errors)
        _, errors = self.merge(self.two, self.one, code=2)
        self.assertIn("readings: “nine” has no place", errors)
        self.assertEqual((self.folder(self.one), self.folder(self.two)), before)

    def test_notices_come_along_once(self):
        for server, title in ((self.one, "Start delayed"), (self.two, "Lunch moved")):
            told = server.send("POST", "notices", {"title": title, "text": "By ten minutes."},
                               server.organiser)
            self.assertEqual(told.status, 200, str(told))
        for _ in range(2):
            self.merge(self.one, self.two)
            self.merge(self.two, self.one)
        for server in (self.one, self.two):
            self.wait_for(lambda server=server: len(self.notices(server)) == 2)
            self.assertEqual(sorted(self.notices(server)), ["Lunch moved", "Start delayed"])

    def test_cases_come_along_with_their_answers(self):
        case = {"kind": "protest", "car": 1, "text": "We were held up."}
        self.assertEqual(self.two.send("POST", "enquiries", case, self.two.organiser).status, 200)
        self.merge(self.one, self.two)
        self.wait_for(lambda: len(self.cases(self.one)) == 1)
        self.assertIsNone(self.cases(self.one)[0]["answer"])
        told = self.two.send("POST", "enquiries/1", {"outcome": "upheld", "text": "So it was."},
                             self.two.organiser)
        self.assertEqual(told.status, 200, str(told))
        for _ in range(2):
            self.merge(self.one, self.two)
        self.wait_for(lambda: self.cases(self.one) == self.cases(self.two))
        self.assertEqual(self.cases(self.one)[0]["answer"]["outcome"], "upheld")

    def cases(self, server):
        told = server.get(f"{API}/enquiries", server.organiser).json()["enquiries"]
        return [{**case, "number": 0} for case in told]

    def notices(self, server):
        return [notice["title"] for notice in server.get(f"{API}/notices").json()["notices"]]

    def test_a_hidden_reading_changes_nothing_public(self):
        self.take(self.two, "readings", [{"point": "R1/1", "car": 2, "time": "09:17:00"}])
        public = [self.one.get(path) for path in (API, f"{API}/standings", f"/{SLUG}/")]
        office = self.one.get(API, self.one.organiser).json()["revision"]
        self.merge(self.one, self.two)
        self.wait_for(
            lambda: self.one.get(API, self.one.organiser).json()["revision"] > office)
        again = [self.one.get(path) for path in (API, f"{API}/standings", f"/{SLUG}/")]
        self.assertEqual([(a.body, a.headers["etag"]) for a in public],
                         [(a.body, a.headers["etag"]) for a in again])

    def test_what_cannot_be_merged(self):
        other = os.path.join(self.one.folder, "other")
        event = dict(serving.EVENT, slug="fulmar-2031")
        serving.cairn("import", other, serving.write_folder(os.path.join(other, "event"), event))
        words = os.path.join(self.one.folder, "words")
        with open(words, "w", encoding="ascii") as file:
            file.write("no event file " * 100)
        for path, told in ((os.path.join(other, "fulmar-2031.cairn"), "the other file is of"),
                           (self.file(self.one), "that is the same file"),
                           (words, words), (words + "-none", "no such event file")):
            done = subprocess.run([program.CAIRN, "merge", self.one.data, SLUG, path],
                                  capture_output=True, timeout=60, check=False)
            self.assertEqual((done.returncode, done.stdout), (2, b""), path)
            self.assertIn(told, done.stderr.decode())
        for arguments in ((), (self.one.data, SLUG), (self.one.data, "Not A Slug", words),
                          (self.one.data, SLUG, words, "--no-such")):
            done = subprocess.run([program.CAIRN, "merge", *arguments], capture_output=True,
                                  timeout=60, check=False)
            self.assertEqual(done.returncode, 2)


if __name__ == "__main__":
    unittest.main()
