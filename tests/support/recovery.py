# SPDX-License-Identifier: MIT
"""What the tests of backups, files and disks share: an event to begin with, and checks of what is
stored."""

import json
import os
import subprocess

from tests.support.cairn import CAIRN, cairn
from tests.support.running import API, SLUG, RunningTest, demo_rows, read_rows, row_set


class RecoveryTest(RunningTest):
    """An event with 200 of its 600 readings, and the path of a backup that is not made yet."""

    def setUp(self):
        super().setUp()
        self.rows = demo_rows("readings")[:600]
        self.data = self.import_demo(readings=self.rows[:200])
        self.key = self.add_key(self.data)
        self.file = os.path.join(self.data, SLUG + ".cairn")
        self.copy = self.path("copy.cairn")

    def run_as_is(self, *arguments):
        """Runs a command, whatever it ends with: (exit code, output, errors)."""
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

    def is_gone(self, server, client):
        """The server has lost its file: it acknowledges nothing, still answers reads, and says so
        once on standard error and in every place that tells of the machine."""
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
