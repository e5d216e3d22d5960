# SPDX-License-Identifier: MIT
"""Backups made while the server runs, and the drill that checks them."""

import contextlib
import os
import re
import sqlite3
import subprocess
import time
import unittest

from tests.support import cairn as program, serving
from tests.support.fronts import ROOT

BACKUP = os.path.join(ROOT, "deploy", "backup", "backup")
DRILL = os.path.join(ROOT, "deploy", "backup", "restore-drill")
SLUG = serving.SLUG


def run(*command):
    """(exit code, what it printed, errors)."""
    done = subprocess.run(command, capture_output=True, timeout=120, check=False,
                          env={**os.environ, "CAIRN": program.CAIRN, "TZ": "Atlantic/Azores"})
    return done.returncode, done.stdout.decode(), done.stderr.decode()


class BackupTest(unittest.TestCase):
    def setUp(self):
        self.server = serving.Server()
        self.addCleanup(self.server.end)
        self.copies = os.path.join(self.server.folder, "copies")
        self.live = os.path.join(self.server.data, SLUG + ".cairn")

    def backup(self, *more):
        self.assertEqual(run(BACKUP, self.server.data, self.copies, *more), (0, "", ""))
        return sorted(os.listdir(self.copies))

    def newest(self):
        return os.path.join(self.copies, self.backup()[-1])

    def test_names_tell_event_and_moment(self):
        before = time.strftime("%Y%m%dT%H%M%S", time.gmtime())
        name, = self.backup()
        stamp = re.fullmatch(rf"{SLUG}\.(\d{{8}}T\d{{6}})Z\.cairn", name).group(1)
        self.assertLessEqual(before, stamp)
        self.assertLessEqual(stamp, time.strftime("%Y%m%dT%H%M%S", time.gmtime()))

    def test_only_the_newest_are_kept_of_each_event(self):
        os.makedirs(self.copies)
        others = [f"{SLUG}-b.20310606T08000{n}Z.cairn" for n in range(5)] + ["notes.txt"]
        own = [f"{SLUG}.20200606T08000{n}Z.cairn" for n in range(5)]
        for name in others + own:
            with open(os.path.join(self.copies, name), "wb"):
                pass
        kept = self.backup("3")
        self.assertEqual([n for n in kept if n.startswith(SLUG + ".")][:2], own[-2:])
        self.assertEqual(len(kept), 3 + len(others))
        self.assertEqual(sorted(set(kept) & set(others)), sorted(others))

    def test_the_secret_of_the_seals_comes_along_and_stays_secret(self):
        self.server.post("notices", {"title": "Lunch", "text": "Is moved."})
        self.assertEqual(len(self.backup()), 2)
        path = os.path.join(self.copies, SLUG + ".signing")
        with open(path, "rb") as copy, \
                open(os.path.join(self.server.data, SLUG + ".signing"), "rb") as secret:
            self.assertEqual(copy.read(), secret.read())
        self.assertEqual(os.stat(path).st_mode & 0o077, 0)

    def test_a_copy_that_fails_removes_nothing_and_is_told(self):
        self.backup()
        with open(os.path.join(self.server.data, "broken.cairn"), "wb") as file:
            file.write(b"this is no event file, and long enough to be looked at" * 20)
        time.sleep(1.1)
        code, _, errors = run(BACKUP, self.server.data, self.copies, "1")
        self.assertEqual(code, 1)
        self.assertIn("broken was not copied", errors)
        name, = os.listdir(self.copies)
        self.assertTrue(name.startswith(SLUG))

    def test_each_folder_gets_a_copy_though_another_fails(self):
        stick = os.path.join(self.server.folder, "stick")
        file = os.path.join(self.server.folder, "file")
        with open(file, "wb"):
            pass
        code, _, errors = run(BACKUP, self.server.data, f"{file}/out:{self.copies}:{stick}")
        self.assertEqual(code, 1)
        self.assertIn(f"{file}/out", errors)
        for folder in (self.copies, stick):
            name, = os.listdir(folder)
            self.assertEqual(run(DRILL, os.path.join(folder, name), self.live)[0], 0)

    def test_a_copy_of_damaged_facts_takes_no_older_ones_place(self):
        self.backup()
        self.server.stop()
        with contextlib.closing(sqlite3.connect(self.live)) as file, file:
            for name, in file.execute("SELECT name FROM sqlite_master WHERE type = 'trigger'"
                                      " AND tbl_name = 'reading'").fetchall():
                file.execute(f"DROP TRIGGER {name}")
            file.execute("UPDATE reading SET reason = 'x' WHERE rowid = 1")
        time.sleep(1.1)
        code, _, errors = run(BACKUP, self.server.data, self.copies, "1")
        self.assertEqual(code, 1)
        self.assertIn(f"{SLUG} is damaged; it was copied as it is", errors)
        self.assertEqual(len(os.listdir(self.copies)), 2)

    def test_wrong_arguments(self):
        for words in ((), ("one",), (self.server.data, ":"), (self.server.data, f"{self.copies}:"), (self.server.data, self.copies, "0"),
                      (self.server.data, self.copies, "x"), ("/no/such/folder", self.copies)):
            self.assertEqual(run(BACKUP, *words)[0], 2, words)
            self.assertFalse(os.path.exists(self.copies))

    def test_the_drill_finds_a_good_copy_good(self):
        copy = self.newest()
        code, told, errors = run(DRILL, copy, self.live)
        self.assertEqual((code, errors), (0, ""))
        self.assertIn("8 readings, 1 decisions; served and scored alike", told)
        self.assertIn("readings: 0 made since the copy", told)
        # What came later is counted, and the server was not disturbed.
        self.server.post("readings", [{"point": "PC1", "car": 8}, {"point": "PC1", "car": 9}])
        code, told, _ = run(DRILL, copy, self.live)
        self.assertEqual(code, 0)
        self.assertIn("readings: 2 made since the copy", told)
        self.assertEqual(self.server.get(f"{serving.API}/standings").status, 200)

    def test_the_drill_finds_damage(self):
        copy = self.newest()
        with open(copy, "rb") as file:
            whole = file.read()
        for name, data in (("short", whole[:len(whole) // 2]), ("empty", b""),
                           ("holes", whole[:8192] + b"\xff" * (len(whole) - 8192))):
            path = os.path.join(self.server.folder, f"{SLUG}.{name}.cairn")
            with open(path, "wb") as file:
                file.write(data)
            code, told, _ = run(DRILL, path)
            self.assertEqual(code, 1, name)
            self.assertNotIn("good", told)
        self.assertEqual(run(DRILL, os.path.join(self.server.folder, "none.cairn"))[0], 2)

    def test_the_drill_finds_what_the_file_in_use_lacks(self):
        """Where the file in use has lost facts that the backup has, the drill says so."""
        other = serving.Server()
        self.addCleanup(other.end)
        other.post("readings", [{"point": "PC1", "car": 8, "id": "elsewhere"}])
        self.assertEqual(run(BACKUP, other.data, self.copies)[0], 0)
        code, _, errors = run(DRILL, os.path.join(self.copies, os.listdir(self.copies)[0]), self.live)
        self.assertEqual(code, 1)
        self.assertIn("the copy has 1 readings that the file in use has not", errors)

    def test_a_copy_is_of_one_moment_while_others_write(self):
        for number in range(5):
            self.server.post("readings", [{"point": "PC1", "car": 8, "id": f"w-{number}"}])
            with sqlite3.connect(self.newest()) as copy:
                self.assertEqual(copy.execute("PRAGMA integrity_check").fetchone(), ("ok",))
                found = copy.execute("SELECT count(*) FROM reading").fetchone()[0]
            copy.close()
            self.assertEqual(found, 9 + number)
            time.sleep(0.3)


if __name__ == "__main__":
    unittest.main()
