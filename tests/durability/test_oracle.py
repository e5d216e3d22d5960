# SPDX-License-Identifier: MIT
"""In whatever order facts arrive, the standings are those of a folder that holds them."""

import http.client
import os
import queue
import signal
import threading
import unittest

from tests.support.cairn import cairn
from tests.support.running import DEMO, RunningTest, demo_rows, read_rows, row_set, write_folder
from tests.support.standings import compare, everything, score, unnumbered

CLIENTS = 16
PARTS = 4  # states at which the event is looked at


def without_some_ids(rows, rng):
    """Takes the id from some rows that no other row refers to: the server then derives it."""
    named = {row.get("replaces") for row in rows} | {row.get("value") for row in rows}
    for row in rows:
        if row["id"] not in named and rng.random() < 0.05:
            row["id"] = ""
    return rows


def batches(rows, rng):
    """Shuffled rows in batches of many sizes; some rows come again."""
    rows = rng.sample(rows, len(rows))
    out, at = [], 0
    while at < len(rows):
        size = rng.choice((1, 1, 2, 5, 17, 60, 150, 300))
        again = rng.sample(rows, min(rng.choice((0, 0, 1, 9)), len(rows)))
        out.append(rng.sample(rows[at:at + size] + again, len(rows[at:at + size]) + len(again)))
        at += size
    return rng.sample(out + rng.sample(out, len(out) // 8), len(out) + len(out) // 8)


class Feeder:
    """Posts batches from many threads at once, and goes on when the server is back after a
    restart."""

    def __init__(self, key, rng):
        self.key, self.rng = key, rng
        self.server, self.restarting = None, False
        self.work = queue.SimpleQueue()
        self.told = []     # answers, in no order
        self.failures = []
        self.lock = threading.Lock()

    def post(self, client, name, rows, rng):
        while True:
            client.server = self.server
            try:
                answer = client.post(name, rows, rng)
            except (OSError, http.client.HTTPException):
                answer = None
            if answer is not None and answer.status == 200:
                break
            # Gone, or ending: a server that is started again is asked again.
            if not self.restarting or (answer is not None and answer.status != 503):
                raise AssertionError(f"POST {name}: {answer and (answer.status, answer.body)}")
            threading.Event().wait(0.01)
        with self.lock:
            self.told.append((name, len(rows), answer.json()))

    def run(self, client, mine, seed):
        rng = type(self.rng)(seed)
        try:
            for rows in mine:
                self.post(client, "decisions", rows, rng)
            while True:
                self.post(client, "readings", self.work.get_nowait(), rng)
        except queue.Empty:
            client.close()
        except Exception as error:  # told by the main thread
            self.failures.append(error)

    def feed(self, test, readings, decisions, meanwhile=None):
        """Posts all; one of the threads posts the decisions in their order. `meanwhile` may
        restart the server."""
        self.restarting = meanwhile is not None
        for rows in readings:
            self.work.put(rows)
        threads = [threading.Thread(target=self.run, daemon=True,
                                    args=(test.client(self.server, self.key),
                                          decisions if n == 0 else [], self.rng.random()))
                   for n in range(CLIENTS)]
        for thread in threads:
            thread.start()
        if meanwhile is not None:
            meanwhile()
        for thread in threads:
            thread.join(100)
            test.assertFalse(thread.is_alive(), "a client hangs")
        test.assertEqual(self.failures, [])


class OracleTest(RunningTest):
    """The demo in random order from 16 clients at once, with restarts, compared with the folder
    several times on the way."""

    def setUp(self):
        super().setUp()
        rng = self.rng
        self.readings = without_some_ids(demo_rows("readings"), rng)
        decisions = without_some_ids(demo_rows("decisions"), rng)
        plain = [row for row in decisions if row["kind"] != "revoke"]
        revokes = [row for row in decisions if row["kind"] == "revoke"]
        # Over HTTP a revoke comes after what it revokes; else the order is free.
        self.decisions = rng.sample(plain, len(plain)) + revokes
        self.data = self.import_demo()
        self.key = self.add_key(self.data)
        self.cars = rng.sample([row["number"] for row in read_rows(
            os.path.join(DEMO, "entries.csv"))], 4) + ["67"]
        self.feeder = Feeder(self.key, rng)
        self.restart()

    def restart(self, how=None):
        """Ends the server, if there is one, and starts it on the same file."""
        if how is not None:
            code = self.feeder.server.end(how)
            self.assertEqual(code, 0 if how == signal.SIGTERM else -signal.SIGKILL)
        self.feeder.server = self.start(self.data)

    def restart_now_and_then(self):
        for how in (signal.SIGTERM, signal.SIGKILL):
            threading.Event().wait(self.rng.uniform(0.05, 0.3))
            self.restart(how)

    def look(self, folder):
        """Compares both views with the folder, and again after a restart."""
        server = self.feeder.server
        office, public = self.client(server, self.key), self.client(server)
        compare(self, office, folder, cars=self.cars)
        compare(self, public, folder, ("--public",), cars=self.cars[:2])
        seen = [everything(client, self.cars) for client in (office, public)]
        self.restart(self.rng.choice((signal.SIGTERM, signal.SIGKILL)))
        for key, before in zip((self.key, None), seen):
            after = everything(self.client(self.feeder.server, key), self.cars)
            for path, body in before.items():
                self.assertEqual(body, after[path], f"{path} after a restart, key {bool(key)}")

    def cut(self, rows):
        """Cuts rows into as many parts as there are comparisons."""
        share = len(rows) // PARTS
        marks = [share * n + self.rng.randrange(-share // 3, share // 3) for n in range(1, PARTS)]
        return [rows[a:b] for a, b in zip([0, *marks], [*marks, len(rows)])]

    def test_any_order_gives_what_the_folder_gives(self):
        fed = {"readings": [], "decisions": []}
        shuffled = self.rng.sample(self.readings, len(self.readings))
        for part, (readings, decisions) in enumerate(zip(self.cut(shuffled),
                                                         self.cut(self.decisions))):
            self.feeder.told.clear()
            self.feeder.feed(self, batches(readings, self.rng),
                             [decisions[:1], decisions[1:], decisions],
                             self.restart_now_and_then if part % 2 else None)
            self.assertEqual([told["refused"] for _, _, told in self.feeder.told
                              if told["refused"]], [])
            for name, rows in (("readings", readings), ("decisions", decisions)):
                answers = [(n, told) for of, n, told in self.feeder.told if of == name]
                for count, told in answers:
                    self.assertEqual(told["accepted"] + told["duplicates"], count)
                if part % 2 == 0:  # no answer was lost on the way: each row counted once
                    self.assertEqual(sum(told["accepted"] for _, told in answers), len(rows))
                fed[name] += rows
            self.look(write_folder(self.path("part"), fed["readings"], fed["decisions"]))
        self.round_trip(fed)

    def round_trip(self, fed):
        """Export, import into another file and export again: byte for byte the same folder."""
        first, second = self.export(self.data, "first"), self.export(self.data, "second")
        cairn("import", self.path("other"), first)
        third = self.export(self.path("other"), "third")
        names = sorted(os.listdir(first))
        self.assertEqual(names, ["decisions.csv", "entries.csv", "event.json", "readings.csv",
                                 "starts.csv"])
        for name in names:
            bodies = []
            for folder in (first, second, third):
                with open(os.path.join(folder, name), "rb") as file:
                    bodies.append(file.read())
            self.assertEqual(bodies[0], bodies[1], name)
            self.assertEqual(bodies[0], bodies[2], name)
            if name in ("entries.csv", "event.json", "starts.csv"):
                with open(os.path.join(DEMO, name), "rb") as file:
                    self.assertEqual(bodies[0], file.read(), name)
        for name, rows in fed.items():
            back = read_rows(os.path.join(first, name + ".csv"))
            self.assertEqual(row_set(back, name), row_set(rows, name))
        folder = self.path("part")
        for options in ((), ("--by", "team"), ("--public", "--by", "test")):
            self.assertEqual(unnumbered(score(first, *options)),
                             unnumbered(score(folder, *options)))


if __name__ == "__main__":
    unittest.main()
