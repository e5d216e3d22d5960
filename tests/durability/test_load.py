# SPDX-License-Identifier: MIT
"""Puts a server under load for some seconds, then ends it: writers, readers, listeners, desks
that come and go, and commands beside it.

Every address that can be read is asked for, as the server's own route table has them, by every
role, allowed or not. Made for a build with the thread sanitizer: fails on any report of a
sanitizer, and on any answer that should not come.

    CAIRN_LOAD_SECONDS=20 CAIRN=build/tsan/cairn python3 tests/durability/test_load.py
"""

import http.client
import json
import os
import random
import re
import socket
import threading
import time
import unittest
from collections import Counter
from urllib.parse import urlencode

from tests.support.cairn import LANGUAGES, SLOWNESS, cairn, route_table
from tests.support.running import (API, BYS, SLUG, RunningTest, demo_rows, read_rows, row_set,
                                   write_folder)
from tests.support.standings import compare

SECONDS = float(os.environ.get("CAIRN_LOAD_SECONDS") or 8)
WRITERS, READERS, LISTENERS = 8, 8, 40
ROLES = ("public", "timekeeper", "organiser")
CARS = 172

# What stands for a "{}" behind each name of a folder.
PARTS = {
    "cars": lambda rng: rng.randint(1, CARS),
    "tests": lambda rng: rng.choice(("T1", "S1", "L1", "R1", "R2")),
    "starts": lambda rng: rng.randint(1, 4),
    "notices": lambda rng: 1,
    "classifications": lambda rng: rng.choice(("provisional", "final")),
    "facts": lambda rng: 0,
    "log": lambda rng: "u1",
}
# The same for a parameter of the query. Every route takes those that it names, now and then.
QUERIES = {
    "by": lambda rng: rng.choice(BYS[:4]),
    "class": lambda rng: rng.choice(("C", "D", "E")),
    "after": lambda rng: f"TC{rng.randint(1, 24)}",
    "format": lambda rng: "csv",
    "view": lambda rng: "live",
    "q": lambda rng: rng.choice(("Thorn", "12")),
    "lang": lambda rng: rng.choice(LANGUAGES),
    "cars": lambda rng: f"{rng.randint(1, 50)},{rng.randint(51, CARS)}",
    "add": lambda rng: rng.randint(1, CARS),
    "car": lambda rng: rng.randint(1, CARS),
    "to": lambda rng: f"/{SLUG}/",
    "case": lambda rng: 1,
    "receipt": lambda rng: "x",
    "point": lambda rng: rng.choice(("TC1", "R1/1")),
    "before": lambda rng: "u1",
    "limit": lambda rng: 5,
    "kind": lambda rng: "readings",
    "text": lambda rng: "Fog",
}
NEEDED = {f"{API}/expected": "point", f"{API}/paper/control": "point",
          f"{API}/paper/desk": "point"}


def address(route, rng, asset, with_query):
    """An address of a route, with its parameters filled in."""
    if route["eventless"]:
        return asset
    path = route["pattern"].replace("events/{}", f"events/{SLUG}")
    path = re.sub(r"^/\{\}", f"/{SLUG}", path)
    path = re.sub(r"(\w+)/\{\}", lambda m: f"{m[1]}/{PARTS[m[1]](rng)}", path)
    query = {name: QUERIES[name](rng) for name in route["parameters"]
             if NEEDED.get(path) == name or (with_query and rng.random() < 0.3)}
    if "class" in query:  # which goes with no other table
        query["by"] = "class"
    if path.endswith("/readings") and "after" in query:  # there the number of one, not a point
        query["after"] = 5
    return path + ("?" + urlencode(query) if query else "")


class LoadTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.rows = demo_rows("readings")
        self.rng.shuffle(self.rows)
        self.last_rows = [self.rows.pop() for _ in range(2000)]  # for the end
        self.decisions = [row for row in demo_rows("decisions") if row["kind"] != "revoke"]
        self.data = self.import_demo()
        self.key = self.add_key(self.data)
        self.desk_key = self.add_key(self.data, "timekeeper", "TC1,R1")
        self.server = self.start(self.data)
        self.over = threading.Event()
        self.lock = threading.Lock()
        self.kept = {"readings": [], "decisions": []}
        self.failures, self.heard, self.shares = [], 0, 0
        self.reads = [route for route in route_table()
                      if route["method"] == "GET" and not route["pattern"].endswith("/stream")]
        self.asked, self.good = Counter(), Counter()  # by pattern; by pattern and role

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
                self.over.wait(0.05)
                continue
            told = client.take(name, rows, rng)
            if told["refused"] or told["accepted"] != len(rows):
                raise AssertionError(told)
            with self.lock:
                self.kept[name] += rows
            if rng.random() < 0.02:
                client.ask("POST", f"{API}/notices", b'{"title": "Fog", "text": "Slow."}',
                           "application/json")

    def read(self, seed, number):
        """Asks for its share of all addresses in each role, then for random ones until the time
        is over."""
        rng = random.Random(seed)
        clients = {"public": self.client(self.server),
                   "timekeeper": self.client(self.server, self.desk_key),
                   "organiser": self.client(self.server, self.key)}
        asset = re.search(r'href="(/_/[^"]+/style\.css)"',
                          clients["public"].good("/").decode()).group(1)
        share = [(route, role) for route in self.reads for role in ROLES][number::READERS]
        for route, role in share:
            self.wait_for(lambda: self.ask(clients[role], route, role,
                                           address(route, rng, asset, False), rng)
                          in (200, 401, 403), 120 * SLOWNESS)
        with self.lock:
            self.shares += 1
        while not self.over.is_set():
            route, role = rng.choice(self.reads), rng.choice(ROLES)
            if "/paper/" in route["pattern"] and rng.random() < 0.9:
                continue  # it takes as long as a hundred others
            self.ask(clients[role], route, role, address(route, rng, asset, True), rng)

    def ask(self, client, route, role, path, rng):
        """Asks once. A role that is allowed gets an answer, unless the thing is hidden or not
        there yet; papers are drawn only a few at a time. Returns the status."""
        may = ROLES.index(role) >= ROLES.index(route["role"])
        good = (200, 404, 503) if "/paper/" in path else (200, 404)
        headers = {"Accept-Encoding": "gzip"} if rng.random() < 0.5 else {}
        try:
            told = client.get(path, **headers)
        except http.client.RemoteDisconnected:  # it was not used for as long as the server waits
            told = client.get(path, **headers)
        if told.status not in (good if may else (401, 403)):
            raise AssertionError(f"{role} {path}: {told.status} {told.body[:200]!r}")
        with self.lock:
            self.asked[route["pattern"]] += 1
            self.good[route["pattern"], role] += told.status == 200
        if "etag" in told.headers:
            again = client.get(path, **{"If-None-Match": told.headers["etag"]})
            if again.status not in (*good, 304):
                raise AssertionError(f"{role} {path}: {again.status}")
        return told.status

    def listen(self, seed):
        """Listens for a while, leaves, often in the middle of a message, and comes back."""
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
        """Runs commands for keys, imports, exports and backups beside the server."""
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
        self.client(self.server, self.key).ask(  # so that there is one to be read
            "POST", f"{API}/notices", b'{"title": "Fog", "text": "Slow."}', "application/json")
        readers = [self.spawn(self.read, next(seeds), number) for number in range(READERS)]
        threads = [self.spawn(work, next(seeds))
                   for work, count in ((self.write, WRITERS), (self.listen, LISTENERS),
                                       (self.break_off, 2))
                   for _ in range(count)] + [self.spawn(self.command)] + readers
        # On a busy machine the shares take their time; what comes after them takes what it is given.
        self.wait_for(lambda: self.shares == READERS or self.failures, 200 * SLOWNESS)
        self.over.wait(SECONDS)
        self.over.set()
        for thread in threads:
            thread.join(120 * SLOWNESS)
        report = self.server.errors()
        self.assertNotIn("Sanitizer", report)
        self.assertTrue(self.server.running(), report)
        self.assertFalse([thread for thread in threads if thread.is_alive()], "a client hangs")
        self.assertEqual(self.failures, [], "\n".join(self.failures))
        self.assertTrue(self.kept["readings"] and self.heard)
        for route in self.reads:
            for role in ROLES[ROLES.index(route["role"]):]:
                self.assertTrue(self.good[route["pattern"], role],
                                f"{role} was never answered 200 at {route['pattern']}")
        folder = write_folder(self.path("kept"), self.kept["readings"], self.kept["decisions"])
        compare(self, self.client(self.server, self.key), folder, bys=("overall", "test"),
                cars=("12",))
        self.end_under_load()
        for name, rows in self.kept.items():
            path = os.path.join(self.export(self.data, "last"), name + ".csv")
            back = read_rows(path) if os.path.exists(path) else []
            self.assertEqual(row_set(back, name), row_set(rows, name))
        for pattern, count in sorted(self.asked.items()):
            print(f"{count:6} {pattern}")
        print(f"{len(self.kept['readings'])} readings, {self.asked.total()} questions, "
              f"{self.heard} messages", flush=True)

    def end_under_load(self):
        """SIGTERM while clients write, read and listen: what was answered is kept."""
        going = threading.Event()

        def write():
            client = self.client(self.server, self.key)
            while self.last_rows:
                with self.lock:
                    rows = [self.last_rows.pop()]
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
        unknown = len(self.last_rows)
        threads = [self.spawn(write) for _ in range(4)]
        self.assertTrue(going.wait(90))
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
        self.assertLess(len(self.last_rows), unknown)


if __name__ == "__main__":
    unittest.main()
