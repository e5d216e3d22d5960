# SPDX-License-Identifier: MIT
"""Backups (`cairn backup`), and `cairn restore`, which puts one in place of an event file only
where no fact is lost by it."""

import contextlib
import os
import shutil
import signal
import sqlite3
import subprocess
import unittest

from tests.support.cairn import CAIRN, cairn
from tests.support.recovery import RecoveryTest
from tests.support.running import API, SLUG, rename, write_folder


class CopiesTest(RecoveryTest):
    def test_a_copy_is_whole_or_not_there(self):
        with open(self.copy + ".part", "wb") as file:
            file.write(b"of one that was killed")
        cairn("backup", self.data, SLUG, self.copy)
        self.assertFalse(os.path.exists(self.copy + ".part"))
        self.assertEqual(os.stat(self.copy).st_mode & 0o777, 0o640)
        with open(self.copy, "rb") as file:
            first = file.read()
        code, _, errors = self.run_as_is("backup", self.data, SLUG, self.copy)
        self.assertEqual(code, 2)
        self.assertIn("--replace", errors)
        with open(self.copy, "rb") as file:
            self.assertEqual(file.read(), first)
        server = self.start(self.data)
        self.assertEqual(self.post(self.client(server, self.key), 200, 300).status, 200)
        for _ in range(3):  # as a timer does
            cairn("backup", self.data, SLUG, self.copy, "--replace")
        with contextlib.closing(sqlite3.connect(self.copy)) as db:
            self.assertEqual(db.execute("SELECT count(*) FROM reading").fetchone(), (300,))

    def test_a_copy_does_not_take_the_place_of_its_event(self):
        os.symlink(self.file, self.path("link"))
        before = self.content()
        for file in (self.file, self.path("link")):
            code, _, errors = self.run_as_is("backup", self.data, SLUG, file, "--replace")
            self.assertEqual(code, 2, errors)
            self.assertIn("that is the event file itself", errors)
        self.assertEqual(self.content(), before)
        self.assertTrue(os.path.islink(self.path("link")))

    def test_a_copy_that_does_not_fit_leaves_the_last_one(self):
        cairn("backup", self.data, SLUG, self.copy)
        with open(self.copy, "rb") as file:
            first = file.read()
        done = subprocess.run(["sh", "-c", 'ulimit -f 40; exec "$0" backup "$@" --replace', CAIRN,
                               self.data, SLUG, self.copy], capture_output=True, timeout=60,
                              check=False)
        self.assertEqual(done.returncode, 1, done.stderr)
        with open(self.copy, "rb") as file:
            self.assertEqual(file.read(), first)
        self.assertFalse(os.path.exists(self.copy + ".part"))

    def test_a_copy_comes_back_and_what_was_there_is_kept(self):
        cairn("backup", self.data, SLUG, self.copy)
        server = self.start(self.data)
        self.assertEqual(self.post(self.client(server, self.key), 200, 400).status, 200)
        server.end(signal.SIGKILL)  # a log is left beside the file
        self.assertTrue(os.path.exists(self.file + "-wal"))
        before = self.content()
        with open(self.copy, "rb") as file:
            whole = file.read()
        code, told, errors = self.restore()
        self.assertEqual((code, errors), (0, ""))
        self.assertIn(f"{SLUG}: restored from {self.copy}: 200 readings, 0 decisions, revision 1,",
                      told)
        with open(self.copy, "rb") as file:
            self.assertEqual(file.read(), whole, "the copy stays as it is")
        self.assertEqual(os.listdir(os.path.dirname(self.copy)).count("copy.cairn-wal"), 0)
        aside = {name: data for name, data in self.content().items() if ".aside-" in name}
        self.assertEqual(sorted(aside.values()), sorted(before.values()), "all that was there")
        self.is_kept(200)
        server = self.start(self.data)
        events = self.client(server).get("/api/v1/events").json()["events"]
        self.assertEqual([event["slug"] for event in events], [SLUG], "what is aside is not served")
        self.assertEqual(server.end(), 0)
        # The command that it names brings back what the copy lacks.
        command, = [line for line in told.splitlines() if "cairn merge" in line]
        cairn(*command.split(": cairn ")[1].split())
        self.is_kept(400)
        # Once more: nothing that is aside is written over.
        self.assertEqual(self.restore()[0], 0)
        self.assertEqual(len([n for n in os.listdir(self.data)
                              if ".aside-" in n and n.endswith("Z") or n.endswith("Z-2")]), 2)

    def test_it_comes_back_where_nothing_is(self):
        cairn("backup", self.data, SLUG, self.copy)
        for name in os.listdir(self.data):
            os.remove(os.path.join(self.data, name))
        code, told, _ = self.restore()
        self.assertEqual(code, 0)
        self.assertNotIn("kept", told)
        self.is_kept(200)

    def test_nothing_is_done_while_somebody_has_it_open(self):
        cairn("backup", self.data, SLUG, self.copy)
        servers = [self.start(self.data), self.start(self.data)]
        self.post(self.client(servers[0], self.key), 200, 300)
        for server in servers:
            before = self.content()
            code, told, errors = self.restore()
            self.assertEqual((code, told), (2, ""))
            self.assertIn("a server holds it: stop it first", errors)
            code, _, errors = self.run_as_is("promote", self.data, SLUG)
            self.assertEqual(code, 2)
            self.assertIn("a server holds it: stop it first", errors)
            self.assertEqual(sorted(self.content()), sorted(before))
            server.end(signal.SIGKILL)  # a dead one holds nothing
        self.assertEqual(self.restore()[0], 0)

    def test_a_server_waits_until_it_is_put_in(self):
        """A server that starts during a restore serves the backup or the file that was there,
        never half of one."""
        cairn("backup", self.data, SLUG, self.copy)
        for _ in range(3):
            restore = subprocess.Popen([CAIRN, "restore", self.data, SLUG, self.copy],
                                       stdout=subprocess.PIPE, stderr=subprocess.PIPE)
            server = self.start(self.data)
            _, errors = restore.communicate(timeout=120)
            self.assertIn(restore.returncode, (0, 2), errors)
            client = self.client(server, self.key)
            self.wait_for(lambda client=client: client.get(API).status == 200)
            self.assertTrue(self.can_write(client))
            self.assertEqual(self.post(client, 200, 210).status, 200)
            self.assertEqual(server.end(), 0)

    def test_a_copy_that_is_not_to_be_used(self):
        cairn("backup", self.data, SLUG, self.copy)
        with open(self.copy, "rb") as file:
            whole = file.read()
        other = self.path("other")
        cairn("import", other, rename(write_folder(self.path("other-event")), "merrow-2026"))
        bad = {"none": None, "empty": b"", "text": b"no event file\n" * 99,
               "half": whole[:len(whole) // 2 // 4096 * 4096]}
        paths = {name: self.path(name + ".cairn") for name in bad}
        for name, data in bad.items():
            if data is not None:
                with open(paths[name], "wb") as file:
                    file.write(data)
        paths["newer"] = shutil.copy(self.copy, self.path("newer.cairn"))
        paths["damaged"] = shutil.copy(self.copy, self.path("damaged.cairn"))
        for name, sql in (("newer", "PRAGMA user_version = 99"),
                          ("damaged", "DROP TRIGGER reading_stays")):
            with contextlib.closing(sqlite3.connect(paths[name])) as db:
                db.execute(sql)
                if name == "damaged":
                    db.execute("UPDATE reading SET time = '09:00:00' WHERE seq = 3")
                db.commit()
        os.mkfifo(self.path("pipe.cairn"))
        paths.update(pipe=self.path("pipe.cairn"), folder=self.folder, itself=self.file,
                     another=os.path.join(other, "merrow-2026.cairn"))
        why = {"none": "no such event file", "newer": "newer version", "another": "merrow-2026",
               "damaged": r"damaged: reading row 3 \(id ", "pipe": "no plain file",
               "folder": "no plain file", "itself": "the event file itself"}
        before = self.content()
        for name, path in paths.items():
            with self.subTest(copy=name):
                code, told, errors = self.restore(path)
                self.assertEqual((code, told), (2, ""), errors)
                self.assertIn(path, errors)
                self.assertRegex(errors, why.get(name, "."))
                self.assertEqual(self.content(), before)
        code, _, errors = self.restore(paths["damaged"], more=("--anyway",))
        self.assertEqual(code, 0)
        self.assertIn("reading row 3", errors)

    def test_wrong_words(self):
        for words in ((), (self.data,), (self.data, SLUG), (self.data, "No", self.copy), ("--x",),
                      (self.data, SLUG, self.copy, "--anyway=1"), ("a", "b", "c", "d")):
            self.assertEqual(self.run_as_is("restore", *words)[0], 2, words)
        self.assertIn("cairn restore DATA_DIR SLUG COPY", cairn("restore", "--help").stdout.decode())
        self.assertIn("cairn promote DATA_DIR SLUG", cairn("promote", "--help").stdout.decode())


if __name__ == "__main__":
    unittest.main()
