# SPDX-License-Identifier: MIT
"""Puts a server under load for some seconds: writers, readers, listeners, desks that come and go,
commands beside it; then ends it. Made for a build with the thread sanitizer, and fails on any
report of a sanitizer; and on any answer that should not be.

    CAIRN=build/tsan/cairn python3 tests/durability/load.py [SECONDS]
"""

import http.client
import json
import os
import random
import socket
import sys
import threading
import time
import unittest

from oracle import compare
from running import (API, BYS, SLUG, RunningTest, cairn, demo_rows, read_rows, row_set,
                     write_folder)

SECONDS = float(os.environ.get("CAIRN_LOAD_SECONDS") or 8)
WRITERS, READERS, LISTENERS = 8, 8, 40


class LoadTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.rows = demo_rows("readings")
        self.rng.shuffle(self.rows)
        self.decisions = [row for row in demo_rows("decisions") if row["kind"] != "revoke"]
        self.data = self.import_demo()
        self.key = self.add_key(self.data)
        self.desk_key = self.add_key(self.data, "timekeeper", "TC1,R1")
        self.server = self.start(self.data)
        self.over = threading.Event()
        self.lock = threading.Lock()
        self.kept = {"readings": [], "decisions": []}
        self.failures, self.asked, self.heard = [], 0, 0

    def spawn(self, work, *arguments):
        def run():
            try:
                work(*arguments)
            except Exception as error:  # told by the main thread
                with self.lock:
                    self.failures.append(f"{work.__name__}: {error!r}")

        thread = threading.Thread(target=run, daemon=True)
        thread.start()
        return thread

    def next_rows(self, name, most):
        with self.lock:
            rows = self.rows if name == "readings" else self.decisions
            batch, rows[:] = rows[:most], rows[most:]
            return batch

    def write(self, seed):
        rng, client = random.Random(seed), self.client(self.server, self.key)
        while not self.over.is_set():
            name = "decisions" if rng.random() < 0.05 else "readings"
            rows = self.next_rows(name, rng.choice((1, 1, 3, 20)))
            if not rows:
                continue
            told = client.take(name, rows, rng)
            if told["refused"] or told["accepted"] != len(rows):
                raise AssertionError(told)
            with self.lock:
                self.kept[name] += rows
            if rng.random() < 0.02:
                client.ask("POST", f"{API}/notices", b'{"title": "Fog", "text": "Slow."}',
                           "application/json")

    def read(self, seed):
        rng = random.Random(seed)
        client = self.client(self.server, rng.choice((None, None, self.key, self.desk_key)))
        while not self.over.is_set():
            car = rng.randint(1, 170)
            path = rng.choice((
                "/", f"/{SLUG}/", f"/{SLUG}/cars/{car}", f"/{SLUG}/?by={rng.choice(BYS[:4])}",
                API, f"{API}/standings?by={rng.choice(BYS[:4])}", f"{API}/tests/T1",
                f"{API}/standings?after=TC{rng.randint(1, 24)}", f"{API}/cars/{car}",
                f"{API}/starts/{rng.randint(1, 4)}", f"{API}/notices", "/metrics", "/healthz",
                "/api/v1/events", f"{API}/tests/NO", f"{API}/standings?format=csv"))
            headers = {"Accept-Encoding": "gzip"} if rng.random() < 0.5 else {}
            answer = client.get(path, **headers)
            if answer.status not in (200, 404):
                raise AssertionError(f"{path}: {answer.status}")
            if "etag" in answer.headers:
                again = client.get(path, **{"If-None-Match": answer.headers["etag"]})
                if again.status not in (200, 304):
                    raise AssertionError(f"{path}: {again.status}")
            with self.lock:
                self.asked += 1

    def listen(self, seed):
        """Listens for a while, goes, often in the middle of a message, and comes back."""
        rng, last = random.Random(seed), ""
        while not self.over.is_set():
            with socket.create_connection(("127.0.0.1", self.server.port), timeout=60) as line:
                line.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n{last}\r\n".encode())
                until = time.monotonic() + rng.uniform(0.1, SECONDS / 2)
                line.settimeout(0.2)
                while time.monotonic() < until and not self.over.is_set():
                    try:
                        data = line.recv(rng.choice((20, 65536)))
                    except TimeoutError:
                        continue
                    if not data:
                        raise AssertionError("the stream was ended")
                    with self.lock:
                        self.heard += data.count(b"data: ")
            last = rng.choice(("", "Last-Event-ID: 1\r\n"))

    def break_off(self, seed):
        """Clients that send half a request, or do not wait for the answer."""
        rng = random.Random(seed)
        body = json.dumps([{"point": "TC1", "car": 22, "time": "09:06:30"}]).encode()
        head = (f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {self.key}x\r\n"
                f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n").encode()
        page = f"GET /{SLUG}/?by=class HTTP/1.1\r\nHost: x\r\n\r\n".encode()
        while not self.over.is_set():
            sent = rng.choice((head + body, page, page * 3))
            with socket.create_connection(("127.0.0.1", self.server.port), timeout=60) as line:
                line.sendall(sent[:rng.randrange(1, len(sent))])
                time.sleep(rng.uniform(0, 0.02))

    def command(self):
        """Keys, imports, exports and backups beside the server."""
        turn = 0
        while not self.over.is_set():
            turn += 1
            self.add_key(self.data, "timekeeper", f"TC{turn % 20 + 1}")
            cairn("export", self.data, SLUG, self.path("export"))
            cairn("backup", self.data, SLUG, self.path(f"copy{turn}"))
            number = cairn("key", "list", self.data, SLUG).stdout.decode().splitlines()[-1]
            cairn("key", "revoke", self.data, SLUG, number.split("\t")[0])
            self.over.wait(0.3)

    def test_under_load(self):
        seeds = iter(range(self.seed, self.seed + 1000))
        threads = [self.spawn(work, next(seeds))
                   for work, count in ((self.write, WRITERS), (self.read, READERS),
                                       (self.listen, LISTENERS), (self.break_off, 2))
                   for _ in range(count)] + [self.spawn(self.command)]
        self.over.wait(SECONDS)
        self.over.set()
        for thread in threads:
            thread.join(60)
        report = self.server.errors()
        self.assertNotIn("Sanitizer", report)
        self.assertTrue(self.server.running(), report)
        self.assertFalse([thread for thread in threads if thread.is_alive()], "a client hangs")
        self.assertEqual(self.failures, [])
        self.assertTrue(self.kept["readings"] and self.asked and self.heard)
        folder = write_folder(self.path("kept"), self.kept["readings"], self.kept["decisions"])
        compare(self, self.client(self.server, self.key), folder, bys=("overall", "test"),
                cars=("12",))
        self.end_under_load()
        for name, rows in self.kept.items():
            path = os.path.join(self.export(self.data, "last"), name + ".csv")
            back = read_rows(path) if os.path.exists(path) else []
            self.assertEqual(row_set(back, name), row_set(rows, name))
        print(f"{len(self.kept['readings'])} readings, {self.asked} pages, "
              f"{self.heard} messages", flush=True)

    def end_under_load(self):
        """SIGTERM while clients write, read and listen: what was answered is kept."""
        going = threading.Event()

        def write():
            client = self.client(self.server, self.key)
            while rows := self.next_rows("readings", 1):
                try:
                    told = client.post("readings", rows)
                except (OSError, http.client.HTTPException):
                    return
                if told.status == 200:
                    going.set()
                    with self.lock:
                        self.kept["readings"] += rows
                elif told.status != 503:
                    raise AssertionError(told.status)

        listeners = [socket.create_connection(("127.0.0.1", self.server.port), timeout=60)
                     for _ in range(10)]
        for line in listeners:
            line.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
        unknown = len(self.rows)
        threads = [self.spawn(write) for _ in range(4)]
        self.assertTrue(going.wait(30))
        code = self.server.end()
        for thread in threads:
            thread.join(60)
        for line in listeners:
            line.close()
        self.assertEqual(self.failures, [])
        report = self.server.errors()
        self.assertNotIn("Sanitizer", report)
        self.assertNotIn("runtime error", report)
        self.assertEqual(code, 0, report)
        self.assertLess(len(self.rows), unknown)


if __name__ == "__main__":
    if len(sys.argv) > 1:
        SECONDS = float(sys.argv.pop(1))
    unittest.main()
