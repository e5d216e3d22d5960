# SPDX-License-Identifier: MIT
"""A server whose event file is removed, replaced or overwritten under it: it still answers reads,
acknowledges nothing, says why, and recovers."""

import contextlib
import os
import re
import shutil
import signal
import sqlite3
import unittest

from tests.support import machine
from tests.support.cairn import NOBODY, as_nobody, cairn
from tests.support.recovery import RecoveryTest
from tests.support.running import API, SLUG, write_folder

ROOT = os.geteuid() == 0


class FileGoneTest(RecoveryTest):
    def test_a_file_that_was_moved_away_and_back(self):
        server = self.start(self.data)
        client = self.client(server, self.key)
        os.rename(self.file, self.file + ".x")
        self.is_gone(server, client)
        os.rename(self.file + ".x", self.file)
        self.assertEqual(self.post(client, 200, 300).status, 200)
        self.assertTrue(self.can_write(client))
        self.assertEqual(server.end(), 0)
        self.is_kept(300)

    def test_a_file_that_was_replaced(self):
        """What the server had is saved under another name, and does not damage the file that was
        put in."""
        cairn("backup", self.data, SLUG, self.copy)
        for how in (signal.SIGTERM, signal.SIGKILL):
            server = self.start(self.data)
            client = self.client(server, self.key)
            self.assertEqual(self.post(client, 200, 300).status, 200)
            os.rename(shutil.copy(self.copy, self.path("new")), self.file)
            self.is_gone(server, client)
            self.wait_for(lambda server=server: "is kept as" in server.errors())
            server.end(how)
            kept = re.search(r"is kept as (\S+?)\"", server.errors()).group(1)
            self.is_kept(200)
            for file, count in ((self.file, 200), (kept, 300)):
                with contextlib.closing(sqlite3.connect(file)) as db:
                    self.assertEqual(db.execute("PRAGMA integrity_check").fetchone(), ("ok",))
                    self.assertEqual(db.execute("SELECT count(*) FROM reading").fetchone(),
                                     (count,))
        cairn("merge", self.data, SLUG, kept)
        self.is_kept(300)

    def test_a_file_that_was_removed(self):
        """The server still has its content, and saves it under a name when it ends."""
        server = self.start(self.data)
        client = self.client(server, self.key)
        self.assertEqual(self.post(client, 200, 300).status, 200)
        os.remove(self.file)
        self.is_gone(server, client)
        self.assertEqual(server.end(), 0)
        kept = re.search(r"is kept as (\S+?)\"", server.errors()).group(1)
        self.assertEqual(self.restore(kept)[0], 0)
        self.is_kept(300)
        self.assertEqual(self.post(self.client(self.start(self.data), self.key), 300, 400).status,
                         200)

    def test_a_file_that_comes_back_after_the_end(self):
        """A file that is moved back after the server's end is complete, with the log that the
        server left."""
        server = self.start(self.data)
        client = self.client(server, self.key)
        self.assertEqual(self.post(client, 200, 300).status, 200)
        os.rename(self.file, self.file + ".x")
        self.is_gone(server, client)
        self.assertEqual(server.end(), 0)
        os.rename(self.file + ".x", self.file)
        self.is_kept(300)

    def test_a_file_that_was_cut_off(self):
        """Nothing is acknowledged, and no answer says that the event can be written."""
        server = self.start(self.data)
        client = self.client(server, self.key)
        os.truncate(self.file, 4096)
        self.is_gone(server, client)

    def take_in_log(self):
        """Empties the write-ahead log into the file, as another command does that finds the log
        long."""
        with contextlib.closing(sqlite3.connect(self.file)) as db:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def write_over(self, how):
        """The file keeps its inode and gets other content."""
        if how == "copy":
            shutil.copyfile(self.copy, self.file)
        elif how == "none":
            os.truncate(self.file, 0)
        elif how == "half":
            os.truncate(self.file, os.path.getsize(self.file) // 2 // 4096 * 4096)
        else:
            with open(self.file, "r+b") as file:
                file.seek(os.path.getsize(self.file) // 3 // 4096 * 4096)
                file.write(bytes(8192))

    def test_a_file_that_was_written_over_in_place(self):
        """Noticed before the next answer, left as it is, and reported, at the next start too."""
        with open(self.file, "rb") as file:
            first = file.read()
        cairn("backup", self.data, SLUG, self.copy)
        for how in ("copy", "none", "half", "zeros"):
            for end in (signal.SIGTERM, signal.SIGKILL):
                with self.subTest(how=how, end=end):
                    for name in os.listdir(self.data):
                        os.remove(os.path.join(self.data, name))
                    with open(self.file, "wb") as file:
                        file.write(first)
                    server = self.start(self.data)
                    client = self.client(server, self.key)
                    self.assertEqual(self.post(client, 200, 300).status, 200)
                    self.take_in_log()
                    self.assertEqual(self.post(client, 300, 310).status, 200)
                    self.write_over(how)
                    with open(self.file, "rb") as file:
                        put = file.read()
                    self.is_gone(server, client)
                    self.wait_for(lambda server=server: "is kept as" in server.errors())
                    server.end(end)
                    self.assertRegex(server.errors(), r"is kept as \S+-wal\.old")
                    with open(self.file, "rb") as file:
                        self.assertEqual(file.read(), put, "nothing was written into it")
                    log = self.file + "-wal"  # an empty one at most, of who looked beside it
                    self.assertTrue(not os.path.exists(log) or os.path.getsize(log) == 0)
                    if how == "copy":
                        self.is_kept(200)
                        continue
                    told = cairn("doctor", self.data, code=None).stdout.decode()
                    self.assertRegex(told, f"(?m)^bad: event {SLUG}: ")
                    server = self.start(self.data)
                    self.wait_for(lambda server=server: SLUG in server.errors())
                    server.end()

    def test_what_is_acknowledged_beside_a_file_written_over_is_there(self):
        """Whenever the file is overwritten by a copy that keeps the log: either all goes on or
        nothing does."""
        cairn("backup", self.data, SLUG, self.copy)
        server = self.start(self.data)
        client = self.client(server, self.key)
        taken = 200
        for at in range(200, 400, 10):
            if at == 300:
                self.write_over("copy")
            if self.post(client, at, at + 10).status != 200:
                break
            taken = at + 10
        self.assertGreaterEqual(taken, 300)
        server.end(signal.SIGKILL)
        if "is kept as" not in server.errors():
            self.is_kept(taken)

    def test_commands_beside_a_server_are_no_change_of_the_file(self):
        server = self.start(self.data)
        client = self.client(server, self.key)
        for at in range(200, 400):
            self.assertEqual(self.post(client, at, at + 1).status, 200)
            if at % 25 == 0:
                self.add_key(self.data)
                self.export(self.data, f"beside{at}")
                cairn("backup", self.data, SLUG, self.copy, "--replace")
                self.take_in_log()
            if at % 40 == 0:
                os.utime(self.file)
        self.assertTrue(self.can_write(client))
        self.assertNotIn("removed or replaced", server.errors())
        # The server's own, and the one that reads the file again after each of them.
        held = list(machine.descriptors(server.pid).values())
        self.assertEqual(held.count(self.file), 2)
        self.assertEqual(server.end(), 0)
        self.is_kept(400)

    def test_a_log_that_was_removed(self):
        server = self.start(self.data)
        client = self.client(server, self.key)
        self.assertEqual(self.post(client, 200, 300).status, 200)
        os.remove(self.file + "-wal")
        self.is_gone(server, client)

    def test_a_commit_into_a_file_that_is_not_there_is_not_acknowledged(self):
        """What is posted in the moment of the removal is answered with 503, and what was
        acknowledged before is stored."""
        server = self.start(self.data)
        client = self.client(server, self.key)
        taken, at = 200, 200
        for at in range(200, 500, 5):
            if at == 350:
                os.rename(self.file, self.file + ".x")
            if self.post(client, at, at + 5).status == 200:
                taken = at + 5
        self.assertEqual(taken, 350)
        os.rename(self.file + ".x", self.file)
        server.end(signal.SIGKILL)
        self.is_kept(350)


class OtherUserTest(RecoveryTest):
    def test_what_is_made_belongs_to_the_owner_of_the_folder(self):
        """Files made by root in the folder of another user belong to that user."""
        home = self.path("home")
        os.mkdir(home)
        owner = NOBODY if ROOT else os.geteuid()
        if ROOT:
            os.chown(home, NOBODY, NOBODY)
        folder = write_folder(self.path("event"), self.rows[:100])
        cairn("import", home, folder)
        cairn("key", "add", home, SLUG, "--role", "organiser")
        cairn("backup", home, SLUG, self.copy)
        cairn("restore", home, SLUG, self.copy)
        cairn("startlist", home, SLUG, "--day", "2", "--save")
        for name in os.listdir(home):
            self.assertEqual(os.stat(os.path.join(home, name)).st_uid, owner, name)
        told = cairn("doctor", home, code=None).stdout.decode()
        self.assertNotIn("belongs to another user", told)

    def take_away(self):
        """Makes the files readable and not writable for the server: where the tests run as root,
        the files are root's and the server another user's; else by their modes. Returns how to
        start it."""
        program, options = as_nobody(self.folder)
        if ROOT:
            os.chown(self.data, NOBODY, NOBODY)
        for name in os.listdir(self.data):
            os.chmod(os.path.join(self.data, name), 0o644 if ROOT else 0o444)
        return {"program": program, **options}

    def give_back(self):
        for name in os.listdir(self.data):
            if ROOT:
                os.chown(os.path.join(self.data, name), NOBODY, NOBODY)
            else:
                os.chmod(os.path.join(self.data, name), 0o644)

    def test_a_file_of_another_user_is_taken_up_when_it_is_given_back(self):
        server = self.start(self.data, **self.take_away())
        client = self.client(server, self.key)
        self.assertIn('read-only: ', server.errors())
        self.assertFalse(self.can_write(client))
        told = self.post(client, 200, 210)
        self.assertEqual(told.status, 503)
        self.assertIn("belongs to another user", told.json()["detail"])
        # Another process has its lock too: it cannot note its state there.
        self.assertIn(f"doubtful: server of {SLUG}: it runs, and cannot leave word",
                      self.doctor())
        self.give_back()
        self.wait_for(lambda: self.can_write(client))
        self.wait_for(lambda: f"good: server of {SLUG}: it can write"
                      in self.doctor())
        self.assertEqual(self.post(client, 200, 300).status, 200)
        self.assertEqual(server.end(), 0)
        self.is_kept(300)


class ServedDamageTest(RecoveryTest):
    """Facts that are damaged while a server runs: reported in every place, and the event is
    served."""

    def test_damaged_facts_are_told_at_the_start(self):
        with contextlib.closing(sqlite3.connect(self.file)) as db:
            db.execute("DROP TRIGGER reading_stays")
            db.execute("UPDATE reading SET time = '09:00:00' WHERE seq = 3")
            db.execute("UPDATE reading SET point = 'NOWHERE' WHERE seq = 5")
            names = [name for name, in db.execute("SELECT id FROM reading WHERE seq IN (3, 5)")]
            db.commit()
        server = self.start(self.data)
        client = self.client(server, self.key)
        for row, name in zip((3, 5), names):
            self.assertIn(f"damaged: reading row {row} (id {name}): ", server.errors())
        status = client.get(f"{API}/status").json()
        self.assertEqual((status["writes"], status["damaged_facts"]), ("good", 2))
        self.assertEqual({(fact["table"], fact["row"], fact["id"]) for fact in status["damaged"]},
                         {("reading", 3, names[0]), ("reading", 5, names[1])})
        line, = [line for line in status["lines"] if line["id"] == "facts"]
        self.assertEqual(line["state"], "look")
        self.assertIn(f'cairn_damaged_facts{{event="{SLUG}"}} 2', client.good("/metrics").decode())
        self.assertEqual(self.post(client, 200, 300).status, 200)
        self.assertEqual(client.get(f"{API}/status").json()["damaged_facts"], 2)


if __name__ == "__main__":
    unittest.main()
