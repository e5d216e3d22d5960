# SPDX-License-Identifier: MIT
"""The disk of one event does not answer: the other events are written, read and listed as usual.
What was sent to the first is answered once its disk answers, and is then stored."""

import json
import os
import shutil
import sqlite3
import threading
import unittest

from tests.support.cairn import cairn
from tests.support.running import (API, SLUG, RunningTest, demo_rows, preloaded, read_rows, rename,
                                   write_folder)

HELD_SYNC = os.path.join(os.path.dirname(os.path.abspath(__file__)), "held_sync.c")
STUCK, WELL, LATE = "stuck-2027", "well-2027", "late-2027"


class SlowDiskTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.data = self.path("data")
        self.keys = {slug: self.make(slug, self.data) for slug in (STUCK, WELL)}
        self.rows = [row for row in demo_rows("readings") if row["id"] and not row["replaces"]]
        self.gate, self.count = self.path("gate"), self.path("count")
        self.env = preloaded(HELD_SYNC, self.path("held_sync.so"))
        self.env |= {"HELD_SYNC_OF": STUCK, "HELD_SYNC_WHILE": self.gate,
                     "HELD_SYNC_COUNT": self.count}
        self.addCleanup(self.let_go)  # after the server's own clean-up it does not matter
        self.server = self.start(self.data, env=self.env)

    def make(self, slug, data):
        """An event without readings; returns an organiser's key."""
        cairn("import", data, rename(write_folder(self.path(slug)), slug))
        return cairn("key", "add", data, slug, "--role", "organiser").stdout.decode().strip()

    def let_go(self):
        if os.path.exists(self.gate):
            os.remove(self.gate)

    def held(self):
        """How many syncs wait, or have waited."""
        return os.path.getsize(self.count) if os.path.exists(self.count) else 0

    def post(self, slug, rows):
        return self.client(self.server, self.keys[slug]).ask(
            "POST", API.replace(SLUG, slug) + "/readings", json.dumps(rows).encode(), "application/json")

    def stop_disk(self):
        with open(self.gate, "w", encoding="ascii"):
            pass

    def hold(self):
        """Posts a reading to the event whose disk does not answer. Returns the list that its
        answer will come into, and the thread that waits for it."""
        self.stop_disk()
        answers = []
        thread = threading.Thread(
            target=lambda: answers.append(self.post(STUCK, self.rows[:1])), daemon=True)
        thread.start()
        self.wait_for(lambda: self.held() == 1)
        return answers, thread

    def assert_well(self, slug, rows):
        for row in rows:
            answer = self.post(slug, [row])
            self.assertEqual((answer.status, answer.json()["accepted"]), (200, 1), answer.body)

    def test_other_events_go_on(self):
        answers, thread = self.hold()
        self.assert_well(WELL, self.rows[:20])
        # What another process does to the event that is well is seen, and a new event is served.
        desk = cairn("key", "add", self.data, WELL, "--role", "timekeeper", "--points", "TC1")
        timekeeper = self.client(self.server, desk.stdout.decode().strip())
        self.wait_for(lambda: timekeeper.get(
            API.replace(SLUG, WELL) + "/standings").status == 200)
        self.keys[LATE] = self.make(LATE, self.path("elsewhere"))
        shutil.move(self.path("elsewhere", LATE + ".cairn"), self.data)
        anybody = self.client(self.server)
        self.wait_for(lambda: anybody.get(API.replace(SLUG, LATE)).status == 200)
        self.assert_well(LATE, self.rows[:3])
        # The event that waits is read as it was; nothing of what waits is shown.
        self.assertEqual(self.client(self.server, self.keys[STUCK]).get(
            API.replace(SLUG, STUCK)).json()["revision"], 1)
        # A key that nobody knows yet is looked for in its file, but not until the disk answers.
        stranger = self.client(self.server, self.keys[WELL])
        self.assertEqual(stranger.get(API.replace(SLUG, STUCK)).status, 401)
        self.assertEqual((answers, self.held()), ([], 1))
        self.let_go()
        thread.join(60)
        self.assertEqual([answer.status for answer in answers], [200])
        for slug, count in ((STUCK, 1), (WELL, 20), (LATE, 3)):
            cairn("export", self.data, slug, self.path("export-" + slug))
            self.assertEqual(len(read_rows(self.path("export-" + slug, "readings.csv"))), count)

    def test_a_start_waits_for_no_file(self):
        """A disk that does not answer for some seconds at the start: the other events are served,
        and its own once it answers."""
        self.assertEqual(self.server.end(), 0)
        # In the usual mode, which a file that is opened is taken out of: that goes to the disk.
        file = sqlite3.connect(os.path.join(self.data, STUCK + ".cairn"))
        self.assertEqual(file.execute("PRAGMA journal_mode = DELETE").fetchone(), ("delete",))
        file.close()
        self.stop_disk()
        self.server = self.start(self.data, env=self.env)
        self.assertEqual(self.held(), 1)
        self.assert_well(WELL, self.rows[:3])
        anybody = self.client(self.server)
        told = anybody.get(API.replace(SLUG, STUCK))
        self.assertEqual(told.status, 503, told.body)
        self.assertIn("just being opened", told.json()["detail"])
        self.assertIn("retry-after", told.headers)
        self.assertIn(STUCK + ": takes long to open", self.server.errors())
        self.let_go()
        self.wait_for(lambda: anybody.get(API.replace(SLUG, STUCK)).status == 200)
        self.assert_well(STUCK, self.rows[:1])

    def test_a_document_as_deep_as_any_is_refused_by_the_thread_of_its_event(self):
        """The thread's stack is small, since there may be hundreds of them: deep nesting must not
        overflow it."""
        client = self.client(self.server, self.keys[WELL])
        for deep in (b"[" * 2047 + b"]" * 2047, b'{"a":' * 2047 + b"1" + b"}" * 2047,
                     b"[" * 100000 + b"]" * 100000):
            answer = client.ask("PUT", API.replace(SLUG, WELL) + "/rules", deep,
                                "application/json")
            self.assertEqual(answer.status, 422, answer.body)
        self.assert_well(WELL, self.rows[:1])

    def test_the_end_waits_for_what_was_sent_and_for_nothing_else(self):
        answers, thread = self.hold()
        self.server.process.terminate()
        # The other event is closed meanwhile: what was in its log is in the file.
        log = os.path.join(self.data, WELL + ".cairn-wal")
        self.wait_for(lambda: not os.path.exists(log))
        self.assertTrue(self.server.running())
        self.assertEqual(answers, [])
        self.let_go()
        thread.join(60)
        self.assertEqual([answer.status for answer in answers], [200])
        self.assertEqual(self.server.end(), 0, self.server.errors())


if __name__ == "__main__":
    unittest.main()
