# SPDX-License-Identifier: MIT
"""kill -9 at random moments: what was acknowledged is stored once; what was not is stored whole
or not at all. CAIRN_CRASHES says how many times (25)."""

import http.client
import os
import signal
import socket
import subprocess
import threading
import unittest

from tests.support.cairn import CAIRN, cairn
from tests.support.running import (API, SLUG, RunningTest, demo_rows, read_rows, row_set,
                                   write_folder)
from tests.support.server import Server
from tests.support.standings import compare, revision_of

CRASHES = int(os.environ.get("CAIRN_CRASHES") or 25)
WRITERS = 4


class Load:
    """Writers that post batches until the server is gone, and remember the answer to each."""

    def __init__(self, server, key, rows, rng):
        self.server, self.key, self.rows, self.rng = server, key, rows, rng
        self.lock = threading.Lock()
        self.kept, self.unknown = [], []  # batches with an answer, and without
        self.notices, self.revision = [], 0
        self.failures = []

    def next_batch(self):
        with self.lock:
            size = self.rng.choice((1, 1, 2, 5, 20))
            batch, self.rows[:] = self.rows[:size], self.rows[size:]
            return batch

    def write(self, test, number):
        client = test.client(self.server, self.key)
        batch = None
        try:
            while batch := self.next_batch():
                told = client.take("readings", batch)
                with self.lock:
                    self.kept.append(batch)
                    self.revision = max(self.revision, told["revision"])
                if told["accepted"] != len(batch):
                    raise AssertionError(f"not all of a batch was taken: {told}")
                batch = None
                if number == 0:
                    answer = client.ask("POST", f"{API}/notices",
                                        b'{"title": "Cold soup", "text": "At the next halt."}',
                                        "application/json")
                    with self.lock:
                        self.notices.append(answer.json()["number"])
        except (OSError, http.client.HTTPException):
            if batch:
                with self.lock:
                    self.unknown.append(batch)
        except Exception as error:  # told by the main thread
            self.failures.append(error)

    def run_until_killed(self, test, seconds):
        threads = [threading.Thread(target=self.write, args=(test, n), daemon=True)
                   for n in range(WRITERS)]
        for thread in threads:
            thread.start()
        threading.Event().wait(seconds)
        self.server.end(signal.SIGKILL)
        for thread in threads:
            thread.join(60)
            test.assertFalse(thread.is_alive(), "a writer hangs")
        test.assertEqual(self.failures, [])


class CrashTest(RunningTest):
    def crash(self, data, key, pool):
        """One round. Returns the rows that are now known to be stored."""
        rng = self.rng
        load = Load(self.start(data), key, pool, rng)
        load.run_until_killed(self, rng.uniform(0.005, 0.15))
        if rng.random() < 0.3:  # and once more while it starts
            server = Server(data)
            self.addCleanup(server.discard)
            threading.Event().wait(rng.uniform(0, 0.03))
            server.end(signal.SIGKILL)
        client = self.client(self.start(data), key)
        self.assertGreaterEqual(revision_of(client), load.revision)
        kept = [row for batch in load.kept for row in batch]
        if kept:
            told = client.take("readings", kept)
            self.assertEqual((told["accepted"], told["duplicates"], told["refused"]),
                             (0, len(kept), []))
        for batch in load.unknown:
            told = client.take("readings", batch)
            self.assertIn(told["accepted"], (0, len(batch)), "a batch was half taken")
            kept += batch
        posted = [n["number"] for n in client.get(f"{API}/notices").json()["notices"]]
        self.assertEqual(posted, sorted(set(posted)))
        self.assertLessEqual(set(load.notices), set(posted))
        client.close()
        client.server.end(rng.choice((signal.SIGKILL, signal.SIGTERM)))
        return kept

    def look(self, data, key, kept):
        """The file holds exactly these rows, and the standings are theirs."""
        back = read_rows(os.path.join(self.export(data), "readings.csv"))
        self.assertEqual(row_set(back, "readings"), row_set(kept, "readings"))
        client = self.client(self.start(data), key)
        compare(self, client, write_folder(self.path("kept"), kept), bys=("overall", "test"),
                cars=("31",))
        client.server.end()

    def test_nothing_acknowledged_is_lost(self):
        rows = demo_rows("readings")
        pool, data, key, kept, events = [], None, None, [], 0
        for _ in range(CRASHES):
            if len(pool) < 400:  # the demo is used up: a new event
                if kept:
                    self.look(data, key, kept)
                events += 1
                pool, kept = self.rng.sample(rows, len(rows)), []
                data = self.import_demo(f"data{events}")
                key = self.add_key(data)
            kept += self.crash(data, key, pool)
        self.assertTrue(kept)
        self.look(data, key, kept)


class ImportCrashTest(RunningTest):
    """An import that is killed has imported everything or nothing."""

    def kill_import(self, data, folder):
        process = subprocess.Popen([CAIRN, "import", data, folder], stdout=subprocess.DEVNULL,
                                   stderr=subprocess.DEVNULL)
        threading.Event().wait(self.rng.uniform(0, 0.12))
        process.kill()
        process.wait()

    def rows_there(self, data):
        """How many readings the event file holds; None where there is no event yet."""
        done = cairn("export", data, SLUG, self.path("export"), code=None)
        if done.returncode != 0:
            self.assertIn(done.returncode, (1, 2))
            self.assertTrue(done.stderr, "an export that fails says why")
            return None
        path = self.path("export", "readings.csv")
        return len(read_rows(path)) if os.path.exists(path) else 0

    def test_a_killed_import_leaves_all_or_nothing(self):
        rows = demo_rows("readings")
        whole = write_folder(self.path("whole"), rows, demo_rows("decisions"))
        for n in range(8):
            data = self.path(f"new{n}")
            self.kill_import(data, whole)
            self.assertIn(self.rows_there(data), (None, len(rows)))
            cairn("import", data, whole)
            self.assertEqual(self.rows_there(data), len(rows))

    def test_a_killed_import_into_an_event_leaves_all_or_nothing(self):
        rows = demo_rows("readings")
        data = self.import_demo()
        at, step = 0, len(rows) // 6
        for upto in range(step, len(rows) + 1, step):
            folder = write_folder(self.path("more"), rows[:upto])
            self.kill_import(data, folder)
            self.assertIn(self.rows_there(data), (at, upto))
            cairn("import", data, folder)
            self.assertEqual(self.rows_there(data), upto)
            at = upto


class BrokenClientTest(RunningTest):
    def test_a_client_that_breaks_off_ends_nothing(self):
        """Requests cut at any byte, their connection closed at once: the server goes on."""
        data = self.import_demo(readings=demo_rows("readings")[:500])
        key = self.add_key(data)
        server = self.start(data)
        body = b'[{"point": "TC1", "car": 22, "time": "09:06:30"}]'
        requests = [
            f"GET /{SLUG}/ HTTP/1.1\r\nHost: x\r\nAccept: */*\r\n\r\n".encode(),
            f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode(),
            f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nAuthorization: Bearer {key}\r\n"
            f"Content-Type: application/json\r\nContent-Length: {len(body)}\r\n\r\n".encode() +
            body]
        for request in requests:
            for cut in range(1, len(request) + 1):
                with socket.create_connection(("127.0.0.1", server.port), timeout=20) as line:
                    line.sendall(request[:cut])
                    if self.rng.random() < 0.1:
                        self.wait_for(lambda: self.client(server).get("/healthz").status == 200)
        self.assertEqual(self.client(server).get("/healthz").status, 200)
        self.assertEqual(server.end(), 0)


if __name__ == "__main__":
    unittest.main()
