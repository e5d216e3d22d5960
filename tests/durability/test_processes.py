# SPDX-License-Identifier: MIT
"""Commands write to an event file while a server writes to it under load, and the server sees
what they did."""

import http.client
import os
import threading
import unittest

from tests.support.cairn import cairn
from tests.support.running import (API, SLUG, RunningTest, demo_rows, read_rows, row_set,
                                   write_folder)
from tests.support.standings import compare, unnumbered


class Feed:
    """Clients that post readings until there are no more, and others that read meanwhile."""

    def __init__(self, test, server, key, rows, clients=4):
        self.failures, self.done, self.posted = [], threading.Event(), 0
        self.lock = threading.Lock()
        self.rows = list(rows)
        self.threads = [threading.Thread(target=self.write, args=(test.client(server, key),),
                                         daemon=True) for _ in range(clients)]
        self.threads.append(threading.Thread(target=self.read, args=(test.client(server),),
                                             daemon=True))
        for thread in self.threads:
            thread.start()

    def write(self, client):
        try:
            while not self.done.is_set():
                with self.lock:
                    batch, self.rows[:] = self.rows[:7], self.rows[7:]
                if not batch:
                    break
                told = client.take("readings", batch)
                if told["refused"]:
                    raise AssertionError(told["refused"])
                with self.lock:
                    self.posted += len(batch)
        except Exception as error:  # told by the main thread
            self.failures.append(error)

    def read(self, client):
        last = 0
        try:
            while not self.done.is_set():
                number = client.get(API).json()["revision"]
                if number < last:
                    raise AssertionError(f"revision {number} after {last}")
                last = number
        except Exception as error:  # told by the main thread
            self.failures.append(error)

    def finish(self, test, all_of_it=True):
        """Waits for the writers, or stops them."""
        if not all_of_it:
            self.done.set()
        for thread in self.threads[:-1]:
            thread.join(100)
        self.done.set()
        self.threads[-1].join(90)
        test.assertFalse(any(thread.is_alive() for thread in self.threads), "a client hangs")
        test.assertEqual(self.failures, [])


class ProcessesTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.rows = demo_rows("readings")
        self.decisions = demo_rows("decisions")
        self.data = self.import_demo()
        self.key = self.add_key(self.data)
        self.server = self.start(self.data)
        self.office = self.client(self.server, self.key)

    def key_number(self, points):
        """The number of the key with these points."""
        lines = cairn("key", "list", self.data, SLUG).stdout.decode().splitlines()
        found = [line.split("\t") for line in lines if line.split("\t")[4] == points]
        self.assertEqual(len(found), 1)
        return found[0][0]

    def test_keys_come_and_go_under_load(self):
        feed = Feed(self, self.server, self.key, self.rows)
        at_once = []
        for turn in range(4):
            points = f"TC{turn + 1},PC{turn + 1}"
            key = self.add_key(self.data, "timekeeper", points)
            desk = self.client(self.server, key)
            row = {"point": f"TC{turn + 1}", "car": 101, "time": "12:00:00", "id": f"desk-{turn}"}
            answer = desk.post("readings", [row])
            at_once.append(answer.status == 200)
            # Where the disk holds up the writer for long, a key is not looked for until it is done.
            self.wait_for(lambda desk=desk, row=row: desk.post("readings", [row]).status == 200)
            cairn("key", "revoke", self.data, SLUG, self.key_number(points))
            answer = desk.post("readings", [row | {"id": f"late-{turn}"}])
            self.assertEqual(answer.status, 401, "the very next write with a revoked key")
            self.assertEqual(answer.headers["content-type"], "application/problem+json")
            cairn("key", "revoke", self.data, SLUG, self.key_number(points), code=2)
        self.assertTrue(any(at_once), "a new key is good at once, not after a while")
        feed.finish(self, all_of_it=False)
        ids = {row["id"] for row in read_rows(os.path.join(self.export(self.data),
                                                           "readings.csv"))}
        for turn in range(4):
            self.assertIn(f"desk-{turn}", ids)
            self.assertNotIn(f"late-{turn}", ids)

    def test_own_key_revoked_under_load(self):
        """A client posts without a pause while its key is revoked: what was acknowledged is
        stored, and from the revocation on it is refused."""
        key = self.add_key(self.data, "timekeeper", "TC1")
        desk = self.client(self.server, key)
        feed = Feed(self, self.server, self.key, self.rows[1000:6000])
        kept, refused = [], []
        revoked = threading.Event()

        def post():
            for n in range(100000):
                late = revoked.is_set()
                row = {"point": "TC1", "car": 101, "time": "09:00:00", "id": f"desk-{n}"}
                answer = desk.post("readings", [row])
                if answer.status == 401:
                    refused.append(row["id"])
                    return
                if answer.status != 200 or late:
                    raise AssertionError(f"{answer.status} after the revocation: {late}")
                kept.append(row["id"])

        failures = []

        def run():
            try:
                post()
            except (AssertionError, OSError, http.client.HTTPException) as error:
                failures.append(error)

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        self.wait_for(lambda: len(kept) > 5 or failures)
        cairn("key", "revoke", self.data, SLUG, self.key_number("TC1"))
        revoked.set()
        thread.join(90)
        self.assertFalse(thread.is_alive())
        self.assertEqual(failures, [])
        self.assertEqual(len(refused), 1)
        feed.finish(self, all_of_it=False)
        ids = {row["id"] for row in read_rows(os.path.join(self.export(self.data),
                                                           "readings.csv"))}
        self.assertEqual({name for name in ids if name.startswith("desk-")}, set(kept))

    def test_import_under_load(self):
        """Some readings come by import, some over HTTP, some both ways: each is stored once."""
        half = len(self.rows) // 2
        feed = Feed(self, self.server, self.key, self.rows[:half + 500])
        for upto in (half + 2000, half + 4000, len(self.rows)):
            folder = write_folder(self.path("import"), self.rows[half:upto],
                                  self.decisions[:upto * len(self.decisions) // len(self.rows)])
            cairn("import", self.data, folder)
        feed.finish(self)
        whole = write_folder(self.path("whole"), self.rows, self.decisions)
        self.wait_for(lambda: self.office.get(f"{API}/cars/12").json()["status"] == "finished")
        compare(self, self.office, whole, cars=("12", "67"))
        compare(self, self.client(self.server), whole, ("--public",), bys=("overall", "test"))
        back = read_rows(os.path.join(self.export(self.data), "readings.csv"))
        self.assertEqual(row_set(back, "readings"), row_set(self.rows, "readings"))

    def test_an_import_is_seen_without_a_write(self):
        before = self.office.get(API).json()["revision"]
        cairn("import", self.data, write_folder(self.path("import"), self.rows[:50]))
        self.wait_for(lambda: self.office.get(API).json()["revision"] > before)
        compare(self, self.office, self.path("import"), bys=("overall",))

    def test_export_under_load_is_of_one_moment(self):
        """Decisions and readings are posted in turns; an export never has one without those
        before it."""
        pairs = [self.rows[at:at + 40] for at in range(0, 6000, 40)]
        failures, done, looked = [], threading.Event(), threading.Event()

        def write():
            client = self.client(self.server, self.key)
            try:
                for n, rows in enumerate(pairs):
                    if n == len(pairs) // 2:  # however long the first look takes
                        looked.wait(60)
                    client.take("readings", rows)
                    client.take("decisions", [{"kind": "penalty", "car": 22, "value": "1",
                                               "reason": f"turn {n}", "id": f"turn-{n}"}])
            except (AssertionError, OSError, http.client.HTTPException) as error:
                failures.append(error)
            done.set()

        thread = threading.Thread(target=write, daemon=True)
        thread.start()
        seen = set()
        over = False
        while not over:
            over = done.is_set()  # one more look follows, at all of it
            folder = self.export(self.data, "snapshot")
            readings = self.count(folder, "readings.csv")
            turns = self.count(folder, "decisions.csv")
            self.assertEqual(readings % 40, 0, "a batch is half there")
            self.assertIn(readings // 40 - turns, (0, 1), "not of one moment")
            seen.add(readings)
            looked.set()
        thread.join(90)
        self.assertEqual(failures, [])
        self.assertGreater(len(seen), 1)

    @staticmethod
    def count(folder, name):
        path = os.path.join(folder, name)
        return len(read_rows(path)) if os.path.exists(path) else 0

    def test_backup_under_load_is_of_one_moment(self):
        feed = Feed(self, self.server, self.key, self.rows)
        self.assertEqual(self.office.take("decisions", self.decisions[:4])["refused"], [])
        copies = []
        for n in range(3):
            copies.append(self.path(f"copy{n}.cairn"))
            cairn("backup", self.data, SLUG, copies[-1])
        cairn("backup", self.data, SLUG, copies[-1], code=2)  # a copy is never written over
        feed.finish(self, all_of_it=False)
        copies.append(self.path("last.cairn"))
        cairn("backup", self.data, SLUG, copies[-1])
        sizes = []
        for n, copy in enumerate(copies):
            data = self.path(f"restored{n}")
            os.mkdir(data)
            os.rename(copy, os.path.join(data, SLUG + ".cairn"))
            folder = self.export(data, f"restored-event{n}")
            sizes.append(self.count(folder, "readings.csv"))
            server = self.start(data)
            office = self.client(server, self.key)  # the keys are in the copy, too
            compare(self, office, folder, bys=("overall", "test"))
            self.assertEqual(office.take("readings", self.rows[:5])["refused"], [])
            if n == len(copies) - 1:
                with open(os.path.join(folder, "readings.csv"), "rb") as file:
                    restored = file.read()
        self.assertEqual(sizes, sorted(sizes))
        with open(os.path.join(self.export(self.data), "readings.csv"), "rb") as file:
            self.assertEqual(file.read(), restored)
        self.assertEqual(sizes[-1], feed.posted)

    def test_restored_backup_stands_as_the_original(self):
        self.assertEqual(self.office.take("readings", self.rows)["refused"], [])
        self.assertEqual(self.office.take("decisions", self.decisions)["refused"], [])
        data = self.path("restored")
        os.mkdir(data)
        cairn("backup", self.data, SLUG, os.path.join(data, SLUG + ".cairn"))
        office = self.client(self.start(data), self.key)
        for path in ("standings", "standings?by=class", "standings?by=test", "cars/67",
                     "starts/4"):
            self.assertEqual(unnumbered(self.office.good(f"{API}/{path}")),
                             unnumbered(office.good(f"{API}/{path}")))


if __name__ == "__main__":
    unittest.main()
