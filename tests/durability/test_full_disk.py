# SPDX-License-Identifier: MIT
"""A disk that fills up while the server runs: a write that does not fit is refused whole with
503, reads are answered, and writes work again once there is room, without a restart.

Two disks are filled: one by a limit on the size of files, which needs no rights, and a small file
system of its own where the machine lets the test mount one.
"""

import json
import os
import resource
import signal
import subprocess
import unittest

from tests.support.cairn import CAIRN, cairn
from tests.support.running import (API, SLUG, RunningTest, demo_rows, read_rows, row_set,
                                   write_folder)
from tests.support.standings import compare

NO_LIMIT = resource.RLIM_INFINITY


class LimitedFiles:
    """A disk that is full by a limit on the size of the server's files, as `ulimit -f` sets it."""

    wrap = ()

    def __init__(self, test):
        self.path = test.path("data")
        self.server = None

    def fill(self, rng):
        """Fills the disk but for room for some pages of the largest file, or for none."""
        sizes = [os.path.getsize(os.path.join(self.path, name)) for name in os.listdir(self.path)]
        room = max(sizes) + rng.choice((0, 700, 5000, 20000))
        resource.prlimit(self.server.pid, resource.RLIMIT_FSIZE, (room, NO_LIMIT))

    def free(self):
        if self.server.running():  # the next one has no limit
            resource.prlimit(self.server.pid, resource.RLIMIT_FSIZE, (NO_LIMIT, NO_LIMIT))


class SmallDisk:
    """A file system of a few megabytes in a mount namespace. It is unmounted with the process
    that holds it, which ends when this program does."""

    def __init__(self, test):
        self.path = test.path("data")
        os.mkdir(self.path)
        self.server = None
        self.holder = subprocess.Popen(
            ["unshare", "-m", "sh", "-c",
             'mount -t tmpfs -o size=4m none "$0" && echo mounted && exec cat', self.path],
            stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL)
        test.addCleanup(self.end)
        self.mounted = self.holder.stdout.readline() == b"mounted\n"
        self.wrap = ("nsenter", "-m", "-t", str(self.holder.pid))
        self.filler = f"/proc/{self.holder.pid}/root{self.path}/filler"

    def end(self):
        self.holder.stdin.close()
        self.holder.wait(60)
        self.holder.stdout.close()

    def fill(self, rng):
        with open(self.filler, "wb", buffering=0) as file:
            try:
                while True:
                    file.write(bytes(4096))
            except OSError:
                size = file.tell() - rng.choice((0, 4096, 40000, 120000))
                file.truncate(max(size, 0))

    def free(self):
        os.remove(self.filler)


class FullDiskTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.rows = demo_rows("readings")
        self.decisions = demo_rows("decisions")
        self.kept = {"readings": [], "decisions": []}

    def command(self, disk, *arguments):
        """The command line of a command that sees the disk."""
        return subprocess.run([*disk.wrap, CAIRN, *arguments], check=True, capture_output=True,
                              timeout=60).stdout

    def serve(self, disk):
        disk.server = self.start(disk.path, wrap=disk.wrap)
        self.office = self.client(disk.server, self.key)
        self.public = self.client(disk.server)

    def is_refused(self, answer):
        """The answer is a problem document that asks to try again."""
        self.assertEqual(answer.status, 503, answer.body)
        self.assertEqual(answer.headers["content-type"], "application/problem+json")
        self.assertIn("retry-after", answer.headers)
        problem = json.loads(answer.body)
        self.assertEqual(problem["status"], 503)
        self.assertTrue(problem["title"] and problem["detail"])

    def give(self, name, rows):
        """Posts rows. Returns whether they were accepted; if one was, all were."""
        answer = self.office.post(name, rows)
        if answer.status != 200:
            self.is_refused(answer)
            return False
        told = answer.json()
        self.assertEqual((told["accepted"], told["refused"]), (len(rows), []))
        self.kept[name] += rows
        return True

    def look(self):
        """Both views hold what was accepted, and nothing of what was not."""
        folder = write_folder(self.path("kept"), self.kept["readings"], self.kept["decisions"])
        bys = ("overall", "test")
        compare(self, self.office, folder, bys=bys, cars=("12",))
        compare(self, self.public, folder, ("--public",), bys=bys)

    def fill_until_refused(self, disk):
        """Posts until something does not fit. Returns it."""
        disk.fill(self.rng)
        for _ in range(400):
            size = self.rng.choice((1, 20, 60))
            batch, self.rows = self.rows[:size], self.rows[size:]
            if not self.give("readings", batch):
                return batch
        raise AssertionError("the disk is never full")

    def play(self, disk):
        cairn("import", self.path("first"), write_folder(self.path("event")))
        self.key = self.add_key(self.path("first"))
        source = self.path("first", SLUG + ".cairn")
        subprocess.run([*disk.wrap, "install", "-D", source, f"{disk.path}/{SLUG}.cairn"],
                       check=True, timeout=60)
        self.serve(disk)
        self.assertTrue(self.give("readings", self.rows[:300]))
        self.rows = self.rows[300:]
        for turn in range(3):
            late = self.fill_until_refused(disk)
            self.look()
            waiting = []
            for row in self.decisions[turn * 4:turn * 4 + 4]:
                if not self.give("decisions", [row]):
                    waiting.append(row)
            notice = self.office.ask("POST", f"{API}/notices", b'{"title": "Fog", "text": "Slow."}',
                                     "application/json")
            if notice.status != 200:
                self.is_refused(notice)
            big = self.office.post("readings", self.rows[:3000])
            self.is_refused(big)  # this one cannot fit
            self.look()
            if turn == 1:  # ended while the disk is full: nothing that was kept is lost
                how = self.rng.choice((signal.SIGTERM, signal.SIGKILL))
                self.assertEqual(disk.server.end(how), 0 if how == signal.SIGTERM else -how)
                disk.free()
                self.serve(disk)
                self.look()
            else:
                disk.free()
            self.assertTrue(self.give("readings", late), "with room again, it is taken")
            for row in waiting:
                self.assertTrue(self.give("decisions", [row]))
            self.look()
        self.assertIn("cairn_write_failures_total", self.public.good("/metrics").decode())
        self.assertRegex(disk.server.errors(), rf'(?m)^\S+Z error event={SLUG} what="[^"]+"$')
        self.assertEqual(disk.server.end(), 0)
        self.command(disk, "export", disk.path, SLUG, self.path("export"))
        for name, rows in self.kept.items():
            back = read_rows(self.path("export", name + ".csv"))
            self.assertEqual(row_set(back, name), row_set(rows, name))

    def test_files_that_may_not_grow(self):
        self.play(LimitedFiles(self))

    def test_small_file_system(self):
        disk = SmallDisk(self)
        if disk.mounted:
            self.play(disk)
        else:  # no right to mount: other choices on the other disk
            os.rmdir(disk.path)
            self.play(LimitedFiles(self))

    def test_import_that_does_not_fit(self):
        whole = write_folder(self.path("whole"), self.rows, self.decisions)
        data = self.import_demo()
        before = self.export(data, "before")
        done = subprocess.run(["sh", "-c", 'ulimit -f 400; exec "$0" import "$1" "$2"', CAIRN, data,
                               whole], capture_output=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 1, "a failure of the machine, not a death by signal")
        self.assertIn(SLUG, done.stderr.decode())
        after = self.export(data, "after")
        self.assertEqual(sorted(os.listdir(before)), sorted(os.listdir(after)))
        cairn("import", data, whole)
        back = read_rows(os.path.join(self.export(data), "readings.csv"))
        self.assertEqual(row_set(back, "readings"), row_set(self.rows, "readings"))


if __name__ == "__main__":
    unittest.main()
