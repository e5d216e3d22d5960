# SPDX-License-Identifier: MIT
"""A data folder or an event file that is write-protected: reported clearly, changed by nobody,
and no trouble for another event. Where the tests run as root, which may write everything, the
program runs as nobody."""

import json
import os
import shutil
import signal
import subprocess
import unittest

from tests.support.cairn import NOBODY, as_nobody
from tests.support.running import API, SLUG, RunningTest, demo_rows, rename, write_folder
from tests.support.standings import compare, score, unnumbered

OTHER = "merrow-2026"
READING = json.dumps([{"point": "TC1", "car": 22, "time": "09:06:30"}]).encode()


class ReadOnlyTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.addCleanup(self.let_go)
        self.program, self.who = as_nobody(self.folder)
        self.data = self.import_demo(readings=demo_rows("readings")[:3000],
                                     decisions=demo_rows("decisions")[:4])
        self.event = self.path("data-event")
        self.key = self.add_key(self.data)
        self.run_as("import", self.path("other"),
                    rename(write_folder(self.path("other-event")), OTHER), owner=True)
        self.other_key = self.run_as("key", "add", self.path("other"), OTHER, "--role",
                                     "organiser", owner=True).stdout.decode().strip()
        self.file = os.path.join(self.data, SLUG + ".cairn")
        os.chmod(self.file, 0o444)

    def let_go(self):
        """Makes the folder writable again, so that it can be removed."""
        for folder, _, _ in os.walk(self.folder):
            os.chmod(folder, 0o755)

    def run_as(self, *arguments, owner=False):
        """Runs a command as the one who may not write, or as the owner."""
        done = subprocess.run([self.program, *arguments], capture_output=True, timeout=60,
                              check=False, **({} if owner else self.who))
        if owner:
            self.assertEqual(done.returncode, 0, done.stderr)
        return done

    def give_to_nobody(self, path):
        if self.who:
            os.chown(path, NOBODY, NOBODY)

    def content(self):
        out = {}
        for name in sorted(os.listdir(self.data)):
            with open(os.path.join(self.data, name), "rb") as file:
                out[name] = file.read()
        return out

    def is_told(self, done):
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertIn(SLUG, done.stderr.decode())
        self.assertEqual(done.stdout, b"")

    def serve(self):
        return self.start(self.data, program=self.program, **self.who)

    def is_served_or_told(self, server):
        """The event is served where its file can be read at all; else the answer says which file
        cannot be read."""
        office = self.client(server, self.key)
        if office.get(API).status == 404:
            self.assertIn(self.file, server.errors())
            return
        compare(self, office, self.event, bys=("overall", "test"))
        told = office.ask("POST", f"{API}/readings", READING, "application/json")
        self.assertEqual(told.status, 503, told.body)
        self.assertEqual(told.json()["status"], 503)
        compare(self, office, self.event, bys=("overall",))

    def test_read_only_folder(self):
        os.chmod(self.data, 0o555)
        before = self.content()
        for arguments in (("key", "add", self.data, SLUG, "--role", "organiser"),
                          ("key", "revoke", self.data, SLUG, "1"),
                          ("import", self.data, write_folder(self.path("more"),
                                                             demo_rows("readings")[:3100]))):
            with self.subTest(command=arguments[0]):
                self.is_told(self.run_as(*arguments))
        server = self.serve()
        self.is_served_or_told(server)
        self.assertEqual(self.client(server).get("/").status, 200)
        self.assertEqual(server.end(), 0)
        self.assertEqual(self.content(), before)

    def test_read_only_file_beside_another_event(self):
        other = shutil.copy(self.path("other", OTHER + ".cairn"), self.data)
        self.give_to_nobody(other)
        self.give_to_nobody(self.data)
        before = self.content()[SLUG + ".cairn"]
        server = self.serve()
        self.is_served_or_told(server)
        told = self.client(server, self.other_key).ask(
            "POST", f"/api/v1/events/{OTHER}/readings", READING, "application/json")
        self.assertEqual(told.status, 200, told.body)
        self.assertEqual(told.json()["accepted"], 1)
        self.assertEqual(server.end(), 0)
        self.assertEqual(self.content()[SLUG + ".cairn"], before)

    def test_file_that_may_be_written_again(self):
        """The files that SQLite made beside the event file meanwhile, which are write-protected
        too, hinder neither the running server nor the next one."""
        self.give_to_nobody(self.data)
        for name in os.listdir(self.data):
            self.give_to_nobody(os.path.join(self.data, name))
        for again in (False, True):
            os.chmod(self.file, 0o444)
            server = self.serve()
            office = self.client(server, self.key)
            self.assertEqual(
                office.ask("POST", f"{API}/readings", READING, "application/json").status, 503)
            if again:
                server.end(signal.SIGKILL)
            os.chmod(self.file, 0o640)
            if again:
                server = self.serve()
                office = self.client(server, self.key)
            else:
                self.wait_for(lambda office=office:
                              office.get(f"{API}/status").json()["writes"] == "good")
            told = office.ask("POST", f"{API}/readings", READING, "application/json")
            self.assertEqual(told.status, 200, told.body)
            self.assertEqual(server.end(), 0)

    def test_file_that_cannot_be_read(self):
        os.chmod(self.file, 0o000)
        other = shutil.copy(self.path("other", OTHER + ".cairn"), self.data)
        self.give_to_nobody(other)
        self.give_to_nobody(self.data)
        server = self.serve()
        self.assertIn(self.file, server.errors())
        public = self.client(server)
        self.assertEqual(public.get(API).status, 404)
        self.assertEqual(public.get(f"/api/v1/events/{OTHER}").status, 200)
        self.assertEqual(server.end(), 0)

    def test_folder_that_turns_read_only_while_it_is_served(self):
        os.chmod(self.file, 0o644)
        self.give_to_nobody(self.file)
        self.give_to_nobody(self.data)
        server = self.serve()
        office = self.client(server, self.key)
        os.chmod(self.file, 0o444)
        os.chmod(self.data, 0o555)
        rows = demo_rows("readings")
        kept = rows[:3000]
        for at in range(3000, 3500, 100):
            told = office.post("readings", rows[at:at + 100])
            self.assertIn(told.status, (200, 503))
            if told.status == 200:
                kept = kept + rows[at:at + 100]
        folder = write_folder(self.path("kept"), kept, demo_rows("decisions")[:4])
        self.assertEqual(unnumbered(office.good(f"{API}/standings")), unnumbered(score(folder)))
        self.assertEqual(server.end(), 0)

    def test_places_that_cannot_be_written(self):
        shut = self.path("shut")
        os.mkdir(shut)
        os.chmod(shut, 0o555)
        self.give_to_nobody(self.data)
        self.give_to_nobody(self.file)
        for arguments in (("backup", self.data, SLUG, os.path.join(shut, "copy.cairn")),
                          ("export", self.data, SLUG, os.path.join(shut, "out")),
                          ("export", self.data, SLUG, shut),
                          ("import", shut, self.event),
                          ("import", os.path.join(shut, "new"), self.event)):
            with self.subTest(command=arguments[0], place=arguments[-1]):
                done = self.run_as(*arguments)
                self.assertEqual(done.returncode, 1, done.stderr)
                self.assertIn(shut, done.stderr.decode())
                self.assertEqual(os.listdir(shut), [])

    def test_no_data_folder(self):
        done = self.run_as("serve", self.path("nowhere"), "--listen", "127.0.0.1:0")
        self.assertEqual(done.returncode, 1)
        self.assertIn(self.path("nowhere"), done.stderr.decode())
        self.assertNotIn("\n\n", done.stderr.decode())
        self.assertEqual(done.stdout, b"")


if __name__ == "__main__":
    unittest.main()
