# SPDX-License-Identifier: MIT
"""An answer that takes long to make does not delay others: the workers of public answers are
stopped for as long as a test likes, and all other requests are answered. Nothing here is timed; a
wait that never ends would fail."""

import contextlib
import gzip
import os
import signal
import socket
import subprocess
import tempfile
import threading
import unittest

from tests.support import cairn as program, serving
from tests.support.addresses import limits
from tests.support.serving import API, SLUG, ServedTest, Server, read_all

HOLD_C = os.path.join(os.path.dirname(os.path.abspath(__file__)), "hold_workers.c")
LIMITS = limits()


class Asking(threading.Thread):
    """A question asked in a thread of its own; `answer` is there once it has ended."""

    def __init__(self, server, path, **how):
        super().__init__(daemon=True)
        self.server, self.path, self.how, self.answer = server, path, how, None
        self.start()

    def run(self):
        self.answer = self.server.ask("GET", self.path, **self.how)

    def told(self):
        self.join(60)
        if self.answer is None:
            raise AssertionError(f"{self.path} is not answered")
        return self.answer


class HoldingTest(ServedTest):
    options = ()

    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cairn-hold-")
        cls.addClassCleanup(folder.cleanup)
        library = os.path.join(folder.name, "hold.so")
        subprocess.run(["gcc", "-std=c17", "-D_GNU_SOURCE", "-shared", "-fPIC", "-Wall", "-Werror",
                        HOLD_C, "-o", library, "-ldl"], check=True, timeout=60)
        cls.hold, cls.is_held = (os.path.join(folder.name, name) for name in ("hold", "held"))
        sanitizer = os.environ.get("ASAN_OPTIONS", "") + ":verify_asan_link_order=0"
        kind = type("Held", (Server,), {
            "options": cls.options,
            "env": {"LD_PRELOAD": library, "HOLD": cls.hold, "HELD": cls.is_held,
                    "ASAN_OPTIONS": sanitizer}})
        cls.server = kind()
        cls.addClassCleanup(cls.end_server)

    def waiting(self):
        return self.server.figure("cairn_answers_waiting")

    def begin_to_hold(self):
        with contextlib.suppress(FileNotFoundError):
            os.unlink(self.is_held)
        with open(self.hold, "w", encoding="utf-8"):
            pass

    @contextlib.contextmanager
    def held(self):
        """While the workers of public answers are stopped, one of them in the middle of its work.
        """
        self.begin_to_hold()
        try:
            # An answer that nobody has asked for before: a known one might be kept.
            first = Asking(self.server, f"/{SLUG}/?q={self.id()}")
            # Until then it may still stand in the queue and take a place there.
            self.wait_for(lambda: os.path.exists(self.is_held))
            self.assertEqual(self.waiting(), 1)
            yield
        finally:
            os.unlink(self.hold)
        self.assertEqual(first.told().status, 200)
        self.wait_for(lambda: self.waiting() == 0)


class HeldTest(HoldingTest):
    def test_posts_and_keys_and_what_is_kept_are_answered(self):
        kept = self.server.get(f"/{SLUG}/event")
        with self.held():
            waits = Asking(self.server, f"{API}/standings?by=day")
            self.wait_for(lambda: self.waiting() == 2)
            self.assertEqual(self.server.get("/healthz").json(),
                             {"status": "ok", "can_write": True})
            self.assertEqual(self.server.get(f"/{SLUG}/event").body, kept.body)
            self.assertEqual(self.server.get(f"{API}/clock").status, 200)
            for n in range(20):
                self.assert_taken(self.server.post("readings", [
                    {"point": "S1/finish", "car": 8, "elapsed": f"00:01:{n + 20}", "faults": "",
                     "id": f"held-{n}"}]), 1)
            for path in (API, f"{API}/standings", f"{API}/doubts", f"{API}/log", f"{API}/cars/1",
                         f"{API}/readings", f"{API}/classifications/provisional"):
                self.assertEqual(self.server.get(path, self.server.organiser).status, 200, path)
            # Larger than what the thread that took it parses itself.
            row = {"point": "PC1", "car": 9, "id": "held-large", "note": "n" * 70000}
            self.assert_taken(self.server.post("readings", [row]), 1)
            self.assertEqual(self.server.post(
                "effects", [{"kind": "penalty", "car": 2, "value": 30, "reason": "R"}]).status, 200)
            self.assertEqual(self.waiting(), 2)
        self.assertEqual(waits.told().status, 200)

    def test_what_many_ask_for_is_made_once(self):
        path = f"{API}/standings?by=class&after=TC1"
        with self.held():
            made = self.server.figure("cairn_answers_made_total")
            crowd = [Asking(self.server, path, Accept_Encoding="gzip") for _ in range(60)]
            plain = [Asking(self.server, path) for _ in range(3)]
            self.wait_for(lambda: self.waiting() == 64)
        answers = {a.told().body for a in crowd}
        self.assertEqual([a.told().status for a in crowd + plain], [200] * 63)
        self.assertEqual(len(answers), 1)
        # Compressed and plain count as two, besides the one that was stopped.
        self.assertEqual(self.server.figure("cairn_answers_made_total"), made + 3)

    def test_beyond_the_queue_one_is_told_to_come_again(self):
        room = LIMITS["LIMIT_TASKS_EXPENSIVE"]
        with self.held():
            before = self.server.figure('cairn_requests_refused_total{reason="busy"}')
            crowd = []
            for n in range(room + 6):
                crowd.append(Asking(self.server, f"/{SLUG}/?q=a{n}"))
            self.wait_for(lambda: self.waiting() == room + 1 and
                          self.server.figure('cairn_requests_refused_total{reason="busy"}') ==
                          before + 6)
            # Cheaper answers have workers of their own.
            cheap = Asking(self.server, f"{API}/cars/3")
            self.wait_for(lambda: self.waiting() == room + 2)
        answers = [a.told() for a in crowd]
        self.assertEqual(sorted(a.status for a in answers), [200] * room + [503] * 6)
        self.assertEqual(cheap.told().status, 200)
        for answer in answers:
            if answer.status == 503:
                self.assert_problem(answer, 503, "try-again")
                self.assertEqual(answer.headers["retry-after"], "2")

    def test_nothing_is_made_for_who_has_gone(self):
        with self.held():
            given_up = self.server.figure("cairn_answers_given_up_total")
            with self.server.connect() as peer:
                peer.sendall(f"GET /{SLUG}/?q=gone HTTP/1.1\r\nHost: x\r\n\r\n".encode())
                self.wait_for(lambda: self.waiting() == 2)
        self.assertEqual(self.server.figure("cairn_answers_given_up_total"), given_up + 1)

    def test_an_end_does_not_make_what_waits(self):
        server = type(self.server)()
        try:
            self.begin_to_hold()
            crowd = [Asking(server, f"/{SLUG}/?q=end{n}") for n in range(40)]
            self.wait_for(lambda: os.path.exists(self.is_held) and
                          server.figure("cairn_answers_waiting") == 40)
            server.process.send_signal(signal.SIGTERM)
            # Until the server is ending: requests that come then are refused with that reason.
            late = f"GET /{SLUG}/?q=late HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"
            self.wait_for(lambda: b"is stopping" in server.raw(late.encode(), timeout=0.1))
            os.unlink(self.hold)
            self.assertEqual(server.process.wait(program.READY_SECONDS), 0)
            # The one that was being made is answered.
            self.assertEqual(sorted(a.told().status for a in crowd), [200] + [503] * 39)
        finally:
            if os.path.exists(self.hold):
                os.unlink(self.hold)
            server.end()


class AddressTest(HoldingTest):
    """This machine does not count as a proxy here, so its addresses are held to their limit."""

    options = ("--proxy", "192.0.2.1")

    def test_of_one_address_few_are_under_way(self):
        room = LIMITS["LIMIT_TASKS_ADDRESS"]
        with self.held():
            ours = [Asking(self.server, f"{API}/cars/{car}", source="127.0.0.7")
                    for car in (1, 2, 3, 5, 8)]
            self.wait_for(lambda: self.waiting() == 1 + room and
                          [a.answer.status for a in ours if a.answer] == [503])
            # The same request again shares its answer, and other addresses are not limited by it.
            same = Asking(self.server, next(a.path for a in ours if a.answer is None),
                          source="127.0.0.7")
            other = Asking(self.server, f"{API}/cars/9", source="127.0.0.8")
            self.wait_for(lambda: self.waiting() == 3 + room)
            self.assertEqual(self.server.ask("GET", f"{API}/cars/9", key=self.server.organiser,
                                             source="127.0.0.7").status, 200)
        self.assertEqual(sorted(a.told().status for a in ours), [200] * room + [503])
        self.assertEqual((same.told().status, other.told().status), (200, 200))


class LargeTest(ServedTest):
    """An answer too large to be compressed as well as plain."""

    files = {"entries": serving.ENTRIES + "".join(
        f"{n},D. River {n},N. Marsh {n},Calder,Six,1930,1996,club,,\n" for n in range(10, 700))}

    def test_it_is_the_same_in_either_coding_and_kept_packed(self):
        path = f"{API}/standings?by=test"
        plain = self.server.get(path)
        self.assertGreater(len(plain.body), LIMITS["LIMIT_ANSWER_LARGE"])
        self.assertNotIn("content-encoding", plain.headers)
        packed = self.server.get(path, Accept_Encoding="gzip")
        self.assertEqual(packed.headers["content-encoding"], "gzip")
        self.assertEqual(gzip.decompress(packed.body), plain.body)
        made = self.server.figure("cairn_answers_made_total")
        self.assertEqual(self.server.get(path, Accept_Encoding="gzip").body, packed.body)
        self.assertEqual(self.server.get(path, Accept_Encoding="gzip",
                                         If_None_Match=packed.headers["etag"]).status, 304)
        self.assertEqual(self.server.figure("cairn_answers_made_total"), made)
        self.assertEqual(self.server.get(path).body, plain.body)
        self.assertEqual(self.server.get(path, If_None_Match=plain.headers["etag"]).status, 304)
        with socket.create_connection(("127.0.0.1", self.server.port), timeout=20) as peer:
            peer.sendall(f"HEAD {path} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n".encode())
            head = read_all(peer)
        self.assertIn(f"Content-Length: {len(plain.body)}\r\n".encode(), head)


if __name__ == "__main__":
    unittest.main()
