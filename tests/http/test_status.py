# SPDX-License-Identifier: MIT
"""The state of the machine, as an event's organiser sees it."""

import os
import time

from test_limits import LimitedTest
from tests.support import serving
from tests.support.serving import API, SLUG

LINES = ["server", "revision", "desks", "without-car", "commit", "publish", "queue", "failures",
         "connections", "listeners", "turned-away", "keys", "disk", "file", "facts", "copies"]


class StatusTest(LimitedTest):
    """A server that knows where its backups are."""

    @classmethod
    def setUpClass(cls):
        cls.copies = serving.tempfile.mkdtemp(prefix="cairn-copies-")
        cls.addClassCleanup(serving.shutil.rmtree, cls.copies)
        cls.options = ("--backups", cls.copies)
        super().setUpClass()

    def status(self):
        answer = self.server.get(f"{API}/status", self.server.organiser)
        self.assertEqual(answer.status, 200, str(answer))
        self.assertEqual(answer.headers["cache-control"], "private, no-store")
        self.assertNotIn("etag", answer.headers)
        return answer.json()

    def line(self, name):
        return next(line for line in self.status()["lines"] if line["id"] == name)

    def copy(self, slug, minutes):
        """Makes a backup of that age."""
        path = os.path.join(self.copies, f"{slug}.20310606T{minutes:04d}00Z.cairn")
        with open(path, "w", encoding="ascii") as file:
            file.write("copy")
        when = time.time() - 60 * minutes - 5
        os.utime(path, (when, when))

    def test_every_line_says_whether_it_is_fine(self):
        told = self.status()
        self.assertEqual((told["event"], told["revision"]), (SLUG, self.office_revision()))
        self.assertEqual([line["id"] for line in told["lines"]], LINES)
        for line in told["lines"]:
            self.assertIn(line["state"], ("fine", "look", "unknown"))
            self.assertEqual(line["advice"] is None, line["state"] == "fine", line)
            self.assertTrue(line["is"] and line["what"])

    def test_times_are_told_once_there_are_some(self):
        self.server.post("readings", [{"point": "PC1", "car": 8, "id": "status-1"}])
        for name in ("commit", "publish"):
            self.assertRegex(self.line(name)["is"],
                             r"^half (within \d+\.\d\d ms|after more than 5 s), 99 of 100 (within "
                             r"\d+\.\d\d ms|after more than 5 s); \d+ since the start$")
        self.assertRegex(self.line("revision")["is"], r"^revision \d+, changed \d+ s ago$")
        self.assertRegex(self.line("server")["is"], r"^version \S+, up for \d+ (s|min)$")

    def test_a_desk_with_a_gap(self):
        self.assertEqual(self.line("desks")["state"], "fine")
        self.server.post("readings", [
            {"point": "PC1", "car": 5, "desk": "0a1b2c3d", "seq": "1", "id": "status-2"},
            {"point": "PC1", "car": 5, "desk": "0a1b2c3d", "seq": "3", "id": "status-3"}])
        line = self.line("desks")
        self.assertEqual((line["state"], line["is"]),
                         ("look", "1 of 1 with gaps, 1 reading not here"))
        self.server.post("readings", [
            {"point": "PC1", "car": 5, "desk": "0a1b2c3d", "seq": "2", "id": "status-4"}])
        self.assertEqual(self.line("desks")["is"], "1 heard of, nothing missing")

    def test_copies_by_the_age_of_the_newest(self):
        for name in os.listdir(self.copies):
            os.remove(os.path.join(self.copies, name))
        self.assertEqual((self.line("copies")["state"], self.line("copies")["is"]),
                         ("look", "none of this event"))
        self.copy("another-2031", 1)  # is no copy of this one
        self.assertEqual(self.line("copies")["is"], "none of this event")
        self.copy(SLUG, 40)
        self.assertEqual((self.line("copies")["state"], self.line("copies")["is"]),
                         ("look", "the newest is 40 min old"))
        self.copy(SLUG, 5)
        self.assertEqual((self.line("copies")["state"], self.line("copies")["is"]),
                         ("fine", "the newest is 5 min old"))

    def test_many_wrong_keys(self):
        self.assertEqual(self.line("keys")["state"], "fine")
        for _ in range(50):
            self.server.get(API, "nonsense", source="127.0.8.1")
        self.assertEqual(self.line("keys")["state"], "look")

    def test_it_is_for_this_events_organiser_and_tells_of_no_other(self):
        other = dict(serving.EVENT, slug="other-2031", name="Other")
        folder = serving.write_folder(self.server.folder + "/other", event=other)
        serving.cairn("import", self.server.data, folder)
        self.wait_for(lambda: self.server.get("/api/v1/events/other-2031").status == 200)
        for key, status in ((None, 401), (self.server.timekeeper, 403)):
            self.assert_problem(self.server.get(f"{API}/status", key), status)
        self.assert_problem(self.server.get("/api/v1/events/other-2031/status",
                                            self.server.organiser), 401)
        told = self.server.get(f"{API}/status", self.server.organiser).text
        self.assertNotIn("other", told.lower())
        self.assertNotIn(self.server.folder, told)
        self.assertNotIn(self.copies, told)


class UntoldTest(LimitedTest):
    def test_a_server_that_knows_of_no_copies(self):
        lines = self.server.get(f"{API}/status", self.server.organiser).json()["lines"]
        copies = next(line for line in lines if line["id"] == "copies")
        self.assertEqual(copies["state"], "unknown")
        self.assertIn("--backups", copies["advice"])
