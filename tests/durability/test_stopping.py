# SPDX-License-Identifier: MIT
"""A server that is ended while it is busy, again and again: it ends by itself with exit code 0,
and after a new start all that it acknowledged is there."""

import http.client
import os
import signal
import socket
import threading
import time
import unittest

from tests.support.running import API, RunningTest, demo_rows, preloaded, read_rows

SLOW_REMOVAL = os.path.join(os.path.dirname(os.path.abspath(__file__)), "slow_removal.c")
SECONDS = float(os.environ.get("CAIRN_STOPPING_SECONDS") or 10)
ROUNDS_LEAST = 3  # however slow the machine
MEETINGS = 8
WRITERS, READERS, LISTENERS, CALLERS = 4, 4, 12, 2


class Crowd:
    """Clients of one server that go on until it ends."""

    def __init__(self, test, server, key):
        self.test, self.server, self.key = test, server, key
        self.over = threading.Event()
        self.ending = threading.Event()  # the server is told to end: what it makes is given up
        self.ready = threading.Semaphore(0)  # released once by each client that was answered
        self.failures = []
        self.threads = [threading.Thread(target=self.run, args=(work,), daemon=True)
                        for work, count in ((self.write, WRITERS), (self.read, READERS),
                                            (self.listen, LISTENERS), (self.call, CALLERS))
                        for _ in range(count)]
        for thread in self.threads:
            thread.start()

    def run(self, work):
        try:
            work()
        except (OSError, http.client.HTTPException):
            pass  # the server has gone, or goes
        except Exception as error:  # told by the main thread
            self.failures.append(f"{work.__name__}: {error!r}")
        finally:
            self.ready.release()

    def until_over(self):
        first = True
        while not self.over.is_set():
            yield
            if first:
                self.ready.release()
            first = False

    def write(self):
        client = self.test.client(self.server, self.key)
        for _ in self.until_over():
            row = self.test.next_row()
            if row is None:
                return
            answer = client.post("readings", [row])
            if answer.status == 200:
                self.test.kept.add(row["id"])
            elif answer.status != 503:
                raise AssertionError(f"{answer.status} {answer.body[:200]!r}")

    def read(self):
        client = self.test.client(self.server)
        for _ in self.until_over():
            status = client.get(f"{API}/standings").status
            if status != 200 and not (status == 503 and self.ending.is_set()):
                raise AssertionError(f"a read was answered with {status}")

    def listen(self):
        """Listens for a moment, and comes back on a new connection."""
        for turn, _ in enumerate(self.until_over()):
            with socket.create_connection(("127.0.0.1", self.server.port), timeout=60) as line:
                line.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
                for _ in range(1 + turn % 3):
                    if not line.recv(65536):
                        break

    def call(self):
        """Asks on a new connection each time."""
        for _ in self.until_over():
            self.test.client(self.server).get("/healthz")

    def leave(self):
        self.over.set()
        for thread in self.threads:
            thread.join(90)
        return [thread for thread in self.threads if thread.is_alive()]


class StoppingTest(RunningTest):
    def setUp(self):
        super().setUp()
        # Without an id, or for another reading, it would not be found again by its id.
        self.rows = [row for row in demo_rows("readings") if row["id"] and not row["replaces"]]
        self.rng.shuffle(self.rows)
        self.lock = threading.Lock()
        self.kept = set()
        self.data = self.import_demo()
        self.key = self.add_key(self.data)

    def next_row(self):
        with self.lock:
            return self.rows.pop() if self.rows else None

    def one_end(self, **options):
        server = self.start(self.data, **options)
        crowd = Crowd(self, server, self.key)
        for _ in crowd.threads:
            self.assertTrue(crowd.ready.acquire(timeout=60), "a client is not answered")
        time.sleep(self.rng.uniform(0, 0.05))
        began = time.monotonic()
        crowd.ending.set()
        code = server.end(self.rng.choice((signal.SIGTERM, signal.SIGINT)))
        took = time.monotonic() - began
        hanging = crowd.leave()
        self.assertEqual(code, 0, server.errors())
        self.assertNotIn("Sanitizer", server.errors())
        self.assertEqual(hanging, [], "a client hangs")
        self.assertEqual(crowd.failures, [])
        self.assertLess(took, 60, "it waits for somebody")

    def test_ended_many_times_under_load(self):
        until = time.monotonic() + SECONDS
        rounds = 0
        while rounds < ROUNDS_LEAST or time.monotonic() < until:
            self.one_end()
            rounds += 1
        self.assertTrue(self.kept)
        held = {row["id"] for row in read_rows(os.path.join(self.export(self.data),
                                                            "readings.csv"))}
        self.assertEqual(self.kept - held, set())
        print(f"ended {rounds} times, {len(self.kept)} readings kept", flush=True)

    def test_ended_while_threads_meet_at_the_listening_socket(self):
        """The HTTP library aborts where two of its threads remove the listening socket from one
        epoll set."""
        env = preloaded(SLOW_REMOVAL, self.path("slow_removal.so"))
        for _ in range(MEETINGS):
            self.one_end(env=env)


if __name__ == "__main__":
    unittest.main()
