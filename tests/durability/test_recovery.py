# SPDX-License-Identifier: MIT
"""Putting a copy in cannot be done wrong, and a server whose file or disk is gone from under it goes
on being read, acknowledges nothing, tells why, and heals."""

import contextlib
import json
import os
import re
import shutil
import signal
import sqlite3
import subprocess
import unittest

from running import (API, CAIRN, SLUG, RunningTest, cairn, demo_rows, read_rows, rename, row_set,
                     write_folder)

NOBODY = 65534
ROOT = os.geteuid() == 0


class RecoveryTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.rows = demo_rows("readings")[:600]
        self.data = self.import_demo(readings=self.rows[:200])
        self.key = self.add_key(self.data)
        self.file = os.path.join(self.data, SLUG + ".cairn")
        self.copy = self.path("copy.cairn")

    def run_as_is(self, *arguments):
        """(exit code, output, errors)."""
        done = subprocess.run([CAIRN, *arguments], capture_output=True, timeout=120, check=False)
        return done.returncode, done.stdout.decode(), done.stderr.decode()

    def restore(self, copy=None, slug=SLUG, more=()):
        return self.run_as_is("restore", self.data, slug, copy or self.copy, *more)

    def content(self):
        out = {}
        for name in sorted(os.listdir(self.data)):
            if not name.endswith("-lock"):
                with open(os.path.join(self.data, name), "rb") as file:
                    out[name] = file.read()
        return out

    def kept(self, data=None):
        """The readings that an export has."""
        name = f"out{self.rng.random()}"
        return row_set(read_rows(os.path.join(self.export(data or self.data, name),
                                              "readings.csv")), "readings")

    def is_kept(self, count):
        self.assertEqual(self.kept(), row_set(self.rows[:count], "readings"))

    def post(self, client, first, last):
        return client.post("readings", self.rows[first:last])

    def doctor(self):
        return cairn("doctor", self.data, code=None).stdout.decode()

    def can_write(self, client):
        return json.loads(client.good("/healthz"))["can_write"]

    # ---- copies ----

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

    # ---- restore ----

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
        """One that starts in the middle gets the copy or what was there, never half of it."""
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

    # ---- a file that goes from under a server ----

    def is_gone(self, server, client):
        """Nothing is acknowledged, everything is read, and it is told once and everywhere."""
        for _ in range(3):
            told = self.post(client, 200, 210)
            self.assertEqual(told.status, 503, told.body)
        self.assertIn("removed or replaced", told.json()["detail"])
        self.assertEqual(client.get(API).status, 200)
        self.assertFalse(self.can_write(client))
        status = client.get(f"{API}/status").json()
        self.assertEqual(status["writes"], "gone")
        if os.path.exists(self.file):
            self.assertIn(f"bad: server of {SLUG}: it cannot write: The event file was removed"
                          " or replaced", self.doctor())
        line, = [line for line in status["lines"] if line["id"] == "file"]
        self.assertEqual(line["state"], "look")
        self.assertIn(f'cairn_event_writable{{event="{SLUG}"}} 0', client.good("/metrics").decode())
        self.assertEqual(server.errors().count("removed or replaced"), 1, server.errors())

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
        """What the server had is kept under another name, and does not spoil what was put in."""
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
        """The server has it still, and gives it a name when it ends."""
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
        """It is whole with the log that it left."""
        server = self.start(self.data)
        client = self.client(server, self.key)
        self.assertEqual(self.post(client, 200, 300).status, 200)
        os.rename(self.file, self.file + ".x")
        self.is_gone(server, client)
        self.assertEqual(server.end(), 0)
        os.rename(self.file + ".x", self.file)
        self.is_kept(300)

    def test_a_file_that_was_cut_off(self):
        """Nothing is acknowledged, and nobody is told that it can be written."""
        server = self.start(self.data)
        client = self.client(server, self.key)
        os.truncate(self.file, 4096)
        self.is_gone(server, client)

    def take_in_log(self):
        """As another command does that finds the log long: nothing is left in it."""
        with contextlib.closing(sqlite3.connect(self.file)) as db:
            db.execute("PRAGMA wal_checkpoint(TRUNCATE)")

    def write_over(self, how):
        """The file keeps its inode, and gets other bytes."""
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
        """Noticed before the next answer, left as it was put there, told; and told at the start."""
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
        """Whenever it happens: by a copy with the log as it is, all goes on or nothing does."""
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
        self.assertEqual(server.end(), 0)
        self.is_kept(400)

    def test_a_log_that_was_removed(self):
        server = self.start(self.data)
        client = self.client(server, self.key)
        self.assertEqual(self.post(client, 200, 300).status, 200)
        os.remove(self.file + "-wal")
        self.is_gone(server, client)

    def test_a_commit_into_a_file_that_is_not_there_is_not_acknowledged(self):
        """What came in the same moment is answered with 503, and what was acknowledged is there."""
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

    # ---- a file of another user ----

    def test_what_is_made_belongs_to_the_owner_of_the_folder(self):
        """Also what root makes in the folder of another user."""
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
        """The files may be read and not written by who serves. Where root runs this they are root's
        and the server another user's; else their modes do the same. Returns how to start it."""
        options = {}
        if ROOT:
            os.chmod(self.folder, 0o755)
            program = shutil.copy(CAIRN, self.path("cairn"))
            os.chmod(program, 0o755)
            os.chown(self.data, NOBODY, NOBODY)
            options = {"program": program, "user": NOBODY, "group": NOBODY, "extra_groups": []}
        for name in os.listdir(self.data):
            os.chmod(os.path.join(self.data, name), 0o644 if ROOT else 0o444)
        return options

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
        # Its lock is another's too: it cannot leave word.
        self.assertIn(f"doubtful: server of {SLUG}: it runs, and cannot leave word",
                      self.doctor())
        self.give_back()
        self.wait_for(lambda: self.can_write(client))
        self.wait_for(lambda: f"good: server of {SLUG}: it can write"
                      in self.doctor())
        self.assertEqual(self.post(client, 200, 300).status, 200)
        self.assertEqual(server.end(), 0)
        self.is_kept(300)


class SmallDiskTest(RecoveryTest):
    """A server that starts on a disk that is full, or may not be written."""

    def setUp(self):
        super().setUp()
        self.disk = self.path("disk")
        os.mkdir(self.disk)
        # Who may not mount is one whom modes stop: then they make the same disk.
        self.mounted = subprocess.run(["mount", "-t", "tmpfs", "-o", "size=8m", "tmpfs", self.disk],
                                      capture_output=True, check=False).returncode == 0
        if self.mounted:
            self.addCleanup(subprocess.run, ["umount", "-l", self.disk], check=False)
        self.addCleanup(self.disk_takes, True, True)
        shutil.copy(self.file, self.disk)
        server = self.start(self.disk)
        self.assertEqual(self.post(self.client(server, self.key), 200, 300).status, 200)
        server.end(signal.SIGKILL)  # the last of it is in the log alone
        self.assertGreater(os.path.getsize(os.path.join(self.disk, SLUG + ".cairn-wal")), 0)

    def disk_takes(self, files, bytes_):
        """Whether files can be made on the disk, and those that are there be written."""
        if self.mounted:
            how = "rw" if bytes_ else "ro"
            subprocess.run(["mount", "-o", f"remount,{how}", self.disk], check=False)
            return
        for name in os.listdir(self.disk):
            os.chmod(os.path.join(self.disk, name), 0o644 if bytes_ else 0o444)
        os.chmod(self.disk, 0o755 if files else 0o555)

    def all_is_read(self, count):
        """Served, exported, copied, judged: nothing that was acknowledged is missing."""
        server = self.start(self.disk)
        client = self.client(server, self.key)
        self.assertEqual(client.get(API).status, 200)
        for page in ("log", "doubts", "keys", "notices", "standings", "status"):
            self.assertEqual(client.get(f"{API}/{page}").status, 200, page)
        told = self.post(client, 300, 310)
        self.assertEqual(told.status, 503)
        self.assertRegex(told.json()["detail"], "only be read|keep it")
        self.assertEqual(self.kept(self.disk), row_set(self.rows[:count], "readings"))
        cairn("backup", self.disk, SLUG, self.path(f"copy{count}.cairn"))
        told = cairn("doctor", self.disk, code=None).stdout.decode()
        self.assertIn(f"event {SLUG}: schema 5, whole, {count} readings", told)
        self.assertEqual(client.get(f"{API}/status").json()["writes"], "read-only")
        return server, client

    def heals(self, server, client, count):
        self.wait_for(lambda: self.can_write(client))
        self.assertEqual(self.post(client, count, count + 100).status, 200)
        self.assertIn("can be written again", server.errors())
        self.assertEqual(server.end(), 0)
        self.assertEqual(self.kept(self.disk), row_set(self.rows[:count + 100], "readings"))

    def test_mounted_for_reading_only(self):
        for beside in (True, False):  # with and without the log's index
            if not beside:
                server = self.start(self.disk)
                server.end(signal.SIGKILL)
                os.remove(os.path.join(self.disk, SLUG + ".cairn-shm"))
            self.disk_takes(False, False)
            server, client = self.all_is_read(300 if beside else 400)
            self.disk_takes(True, True)
            self.heals(server, client, 300 if beside else 400)
            if beside:
                shutil.copy(os.path.join(self.disk, SLUG + ".cairn"), self.file)

    def test_mounted_for_reading_only_without_a_log(self):
        cairn("export", self.disk, SLUG, self.path("tidy"))  # takes the log in as it ends
        for end in ("-wal", "-shm"):
            self.assertFalse(os.path.exists(os.path.join(self.disk, SLUG + ".cairn" + end)))
        self.disk_takes(False, False)
        server, client = self.all_is_read(300)
        self.disk_takes(True, True)
        self.heals(server, client, 300)

    def test_full(self):
        os.remove(os.path.join(self.disk, SLUG + ".cairn-shm"))
        fill = os.path.join(self.disk, "fill")
        with contextlib.suppress(OSError), open(fill, "wb", buffering=0) as file:
            while self.mounted:
                file.write(b"x" * 4096)
        if not self.mounted:
            self.disk_takes(False, True)
        server, client = self.all_is_read(300)
        self.disk_takes(True, True)
        os.remove(fill)
        self.heals(server, client, 300)


class ServedDamageTest(RecoveryTest):
    """Damaged facts under a server: told everywhere, and the event goes on."""

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


def load_tests(loader, _tests, _pattern):
    """Each test once: those of the first class are not its heirs' too."""
    suite = unittest.TestSuite()
    for case in (RecoveryTest, SmallDiskTest, ServedDamageTest):
        own = [name for name in loader.getTestCaseNames(case) if name in vars(case)]
        suite.addTests(case(name) for name in own)
    return suite


if __name__ == "__main__":
    unittest.main()
