# SPDX-License-Identifier: MIT
"""A server that starts on a disk that is full or write-protected answers reads, and recovers."""

import contextlib
import os
import shutil
import signal
import subprocess
import unittest

from tests.support.cairn import cairn, newest_schema
from tests.support.recovery import RecoveryTest
from tests.support.running import API, SLUG, row_set


class SmallDiskTest(RecoveryTest):
    """A server that starts on a disk that is full, or may not be written."""

    def setUp(self):
        super().setUp()
        self.disk = self.path("disk")
        os.mkdir(self.disk)
        # A user who may not mount is stopped by file modes: these then make the same disk.
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
        """Reads, export, backup and doctor work, and nothing that was acknowledged is missing."""
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
        self.assertIn(f"event {SLUG}: schema {newest_schema()}, whole, {count} readings", told)
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


if __name__ == "__main__":
    unittest.main()
