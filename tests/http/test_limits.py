# SPDX-License-Identifier: MIT
"""The hard limits of server/system/hard_limits.h, and what is answered beyond them.

| limit                                  | its test                                                      |
| -------------------------------------- | ------------------------------------------------------------- |
| LIMIT_BODY_…, LIMIT_ROWS               | test_uploads.py: LimitsTest; every route's limit is in        |
|                                        | openapi.yaml (test_openapi.py)                                |
| LIMIT_BODY_HEARD                       | here: test_a_refused_body_without_end_is_cut_off              |
| LIMIT_QUEUE, _QUEUE_EVENT, _QUEUE_KEPT | tests/server/live/test_served_events.c                        |
| LIMIT_CONNECTIONS, room kept for keys  | here: CrowdTest; tests/server/http/test_connections.c         |
| LIMIT_CONNECTIONS_ADDRESS              | here: AddressTest; tests/server/http/test_connections.c       |
| LIMIT_HEAD_, LIMIT_IDLE_, LIMIT_BODY_… | here: PatienceTest                                            |
|   SECONDS                              |                                                               |
| LIMIT_HEAD_CROWDED_SECONDS             | here: test_who_only_waits_makes_room                          |
| LIMIT_CONNECTION_BYTES                 | test_sockets.py: test_absurd_heads                            |
| LIMIT_LISTENERS                        | here: CrowdTest                                               |
| LIMIT_KEY_FAILURES                     | test_keys.py: test_guessing_…; tests/server/store/test_keys.c |
| LIMIT_KNOWN_FAILURES                   | tests/server/store/test_keys.c                                |
| LIMIT_READINGS_PAGE                    | test_doubts.py: test_a_device_gone_wild_…                     |
| LIMIT_CREW_TEXT, LIMIT_OPEN_CASES      | test_crew.py                                                  |
"""

import contextlib
import http.client
import re
import resource
import socket
import subprocess
import time

import select
from tests.support import cairn as program, serving
from tests.support.addresses import limits
from tests.support.serving import API, ServedTest, Server, read_all

GET = f"GET {API} HTTP/1.1\r\nHost: x\r\n\r\n".encode()
ROW = b'[{"point":"PC1","car":8,"id":"crowd-1"}]'


class LimitedServer(Server):
    """A server with options of its own, and perhaps few files to open."""

    files_open = None

    def process_options(self):
        return {**super().process_options(), "preexec_fn": self.confine}

    def confine(self):
        if self.files_open is not None:
            resource.setrlimit(resource.RLIMIT_NOFILE, (self.files_open, self.files_open))

    def figure(self, name):
        # From an address of its own: the crowd's may still be beyond its limit.
        text = self.get("/metrics", source="127.0.0.9").text
        return int(re.search(rf"^{re.escape(name)} (\d+)$", text, re.M).group(1))


class LimitedTest(ServedTest):
    """Serves with `options`."""

    options, files_open = (), None

    @classmethod
    def setUpClass(cls):
        kind = type("Own", (LimitedServer,),
                    {"options": cls.options, "files_open": cls.files_open})
        cls.server = kind()
        cls.addClassCleanup(cls.end_server)

    @contextlib.contextmanager
    def crowd(self, count, source="127.0.0.1"):
        """That many connections which send nothing."""
        with contextlib.ExitStack() as stack:
            yield [stack.enter_context(socket.create_connection(
                ("127.0.0.1", self.server.port), timeout=60, source_address=(source, 0)))
                for _ in range(count)]
        # Waits until all are closed, so that the next test begins without connections.
        self.wait_for(lambda: self.server.figure("cairn_connections") == 1)

    @contextlib.contextmanager
    def watcher(self):
        """A function that says how many other connections there are. It asks over one connection
        that stays open: the end of a new one for each question could be counted late."""
        with contextlib.closing(http.client.HTTPConnection(
                "127.0.0.1", self.server.port, timeout=60, source_address=("127.0.0.9", 0))) as line:
            def others():
                line.request("GET", "/metrics")
                text = line.getresponse().read().decode()
                return int(re.search(r"(?m)^cairn_connections (\d+)$", text).group(1)) - 1
            yield others

    def amid(self, count, what):
        """Calls what() while that many connections are there. The server closes a silent
        connection after some seconds; where the machine was slower than that, the result proves
        nothing and the call is repeated."""
        for _ in range(10):
            with contextlib.ExitStack() as house:
                with self.watcher() as others:
                    self.wait_for(lambda others=others: others() == 0)
                    peers = house.enter_context(self.crowd(count))

                    def has_gone(peers=peers):
                        return select.select(peers, (), (), 0)[0]

                    # The system takes a connection before the server does: the crowd is there
                    # when it is counted.
                    self.wait_for(lambda others=others: has_gone() or others() == count)
                seen = self.failure_of(what)
                gone = has_gone()
            if not gone:
                if seen is not None:
                    raise seen
                return
        self.fail("no crowd stays long enough")

    @staticmethod
    def failure_of(what):
        try:
            what()
        except AssertionError as error:
            return error
        return None

    def assert_crowded(self, answer):
        self.assert_problem(answer, 503, "try-again")
        self.assertEqual(answer.headers["retry-after"], "2")
        self.assertEqual(answer.headers["connection"], "close")


class CrowdTest(LimitedTest):
    """64 files, half for connections and half for streams: 32 connections, of which 6 are
    reserved for keys."""

    files_open = 384
    room, kept, listeners = 32, 6, 32

    def full(self, what):
        self.amid(self.room - self.kept, what)

    def test_who_shows_no_key_is_told_to_come_again(self):
        def all_are_told():
            before = self.server.figure('cairn_requests_refused_total{reason="crowded"}')
            for path in (API, f"/{serving.SLUG}/", "/api/v1/events"):
                self.assert_crowded(self.server.get(path))
            page = self.server.get("/", Accept="text/html")
            self.assertEqual((page.status, page.media_type), (503, "text/html"))
            self.wait_for(lambda: self.server.figure(
                'cairn_requests_refused_total{reason="crowded"}') == before + 4)
        self.full(all_are_told)
        self.assertEqual(self.server.get(API).status, 200)

    def test_desks_and_the_office_are_served(self):
        def they_are_served():
            self.assertEqual(self.server.get(API, self.server.organiser).status, 200)
            told = self.server.post("readings", b'[{"point":"TC1","car":9,"time":"08:55:00"}]',
                                    self.server.timekeeper).json()
            self.assertEqual(told["accepted"] + told["duplicates"], 1, told)
            self.assert_problem(self.server.get(API, "wrong"), 401)
        self.full(they_are_served)

    def test_how_the_server_is_doing_is_told(self):
        def it_is_told():
            self.assertEqual(self.server.get("/healthz").status, 200)
            self.assertGreaterEqual(self.server.figure("cairn_connections"), self.room - self.kept)
        self.full(it_is_told)

    def test_a_listener_is_told_to_come_back_and_never_503(self):
        def it_is_told():
            before = self.server.figure("cairn_listeners_refused_total")
            with self.server.connect() as peer:
                peer.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
                told = b""
                while b"\n\n" not in told.partition(b"\r\n\r\n")[2] and (part := peer.recv(65536)):
                    told += part
            self.assertTrue(told.startswith(b"HTTP/1.1 200 "), told)
            self.assertIn(b"retry: 60000\n\n", told)
            self.assertEqual(self.server.figure("cairn_listeners_refused_total"), before + 1)
        self.full(it_is_told)

    def test_listeners_have_their_limit_and_readers_go_on(self):
        with contextlib.ExitStack() as stack:
            for _ in range(self.listeners):
                stream = stack.enter_context(contextlib.closing(serving.Stream(self.server)))
                self.assertIn("data", stream.message())
            late = stack.enter_context(contextlib.closing(serving.Stream(self.server)))
            self.assertEqual(late.message(), {"retry": "60000"})
            self.assertEqual(late.told.readline(), b"")
            self.assertEqual(self.server.get(API).status, 200)
            self.assertEqual(self.server.post("readings", ROW).status, 200)
        self.wait_for(lambda: self.server.figure("cairn_listeners") == 0)

    def test_who_only_waits_makes_room(self):
        """In a crowd, a connection without a request is closed long before its usual time."""
        seconds = limits()["LIMIT_HEAD_CROWDED_SECONDS"]
        self.assertLess(seconds, limits()["LIMIT_HEAD_SECONDS"])
        began = time.monotonic()
        with self.crowd(self.room - self.kept + 1) as peers:
            self.assertEqual(read_all(peers[0]), b"")
            self.assertGreater(time.monotonic() - began, seconds - 1.5)
            self.wait_for(lambda: self.server.get(API).status == 200)


class AddressTest(LimitedTest):
    """The limit of one address does not close the server to others. The machine's own address
    counts as a visitor's here."""

    options = ("--per-address", "16", "--proxy", "127.0.0.9")

    def test_an_address_beyond_its_limit(self):
        def only_this_address_is_told():
            self.assert_crowded(self.server.get(API))
            self.assertEqual(self.server.get(API, self.server.organiser).status, 200)
            self.assertEqual(self.server.get(API, source="127.0.0.8").status, 200)
            self.assertEqual(self.server.get(API, source="127.0.0.9").status, 200)
        self.amid(16, only_this_address_is_told)
        self.assertEqual(self.server.get(API).status, 200)

    def test_far_beyond_it_nobody_is_heard(self):
        def nobody_is_heard():
            before = self.server.figure("cairn_connections_refused_total")
            with self.server.connect() as peer:
                with contextlib.suppress(OSError):
                    peer.sendall(GET)
                self.assertEqual(read_all(peer), b"")
            self.assertEqual(self.server.ask("GET", API, source="127.0.0.9").status, 200)
            self.assertEqual(self.server.figure("cairn_connections_refused_total"), before + 1)
        self.amid(16 + 4, nobody_is_heard)

    def test_a_proxy_brings_a_crowd(self):
        with self.crowd(60, "127.0.0.9"):
            self.assertEqual(self.server.get(API, source="127.0.0.9").status, 200)

    def test_streams_count(self):
        with contextlib.ExitStack() as stack:
            for _ in range(16):
                stack.enter_context(contextlib.closing(serving.Stream(self.server))).message()
            self.assert_crowded(self.server.get(API))
        self.wait_for(lambda: self.server.get(API).status == 200)


class PatienceTest(LimitedTest):
    """With --patience N, a request's head may take a quarter of it, the next request half, a body
    all of it."""

    patience = 12  # a busy machine may be late by some seconds
    options = ("--patience", str(patience))

    def trickle(self, peer, data):
        """Sends a byte every 50 ms until the server has closed; returns what came back."""
        got = b""
        peer.settimeout(0.05)
        for byte in data:
            try:
                peer.sendall(bytes([byte]))
                part = peer.recv(4096)
                got += part
                if not part:
                    return got
            except TimeoutError:
                continue
            except OSError:
                return got
        self.fail("it was heard for ever")
        return got

    def test_a_head_that_trickles(self):
        before = self.server.figure('cairn_connections_slow_total{part="head"}')
        began = time.monotonic()
        with self.server.connect() as peer:
            self.assertEqual(self.trickle(peer, b"GET / HTTP/1.1\r\nX: " + b"y" * 1000), b"")
            self.assertGreater(time.monotonic() - began, self.patience / 4 - 0.1)
        self.assertEqual(self.server.figure('cairn_connections_slow_total{part="head"}'),
                         before + 1)

    def test_a_body_that_trickles(self):
        before = self.office_revision()
        slow = self.server.figure('cairn_connections_slow_total{part="body"}')
        head = (f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nContent-Type: application/json\r\n"
                f"Authorization: Bearer {self.server.organiser}\r\n"
                f"Content-Length: {len(ROW) + 1000}\r\n\r\n")
        began = time.monotonic()
        with self.server.connect() as peer:
            peer.sendall(head.encode())
            told = self.trickle(peer, ROW + b" " * 1000)
            self.assertGreater(time.monotonic() - began, self.patience - 0.1)
        self.assertIn(told[:13], (b"HTTP/1.1 408 ", b""))
        self.assertEqual(self.server.figure('cairn_connections_slow_total{part="body"}'), slow + 1)
        self.assertEqual(self.office_revision(), before)

    def test_a_connection_between_requests(self):
        pause = self.patience / 4 + 0.2  # longer than the first head may take
        for _ in range(10):
            began = time.monotonic()
            with self.server.connect() as peer:
                peer.sendall(GET)
                first = peer.recv(65536)
                self.assertTrue(first.startswith(b"HTTP/1.1 200 "))
                time.sleep(pause)
                if time.monotonic() - began > self.patience / 2 - 0.5:
                    continue  # the machine overslept
                peer.sendall(GET)
                self.assertTrue(peer.recv(65536).startswith(b"HTTP/1.1 200 "))
                read_all(peer)
                self.assertGreater(time.monotonic() - began, pause + self.patience / 2 - 0.1)
                return
        self.fail("no pause was as short as was asked for")

    def test_a_stream_has_all_the_time(self):
        with contextlib.closing(serving.Stream(self.server)) as stream:
            stream.message()
            time.sleep(self.patience + 0.2)
            self.server.post("readings", b'[{"point":"PC1","car":5,"id":"patience-1"}]')
            self.assertIn("data", stream.message())

    def test_a_refused_body_without_end_is_cut_off(self):
        size = limits()["LIMIT_BODY_HEARD"] + 1
        told = self.server.raw(f"POST {API}/readings HTTP/1.1\r\nHost: x\r\n"
                               f"Content-Length: {size}\r\n\r\n[".encode())
        self.assertTrue(told.startswith(b"HTTP/1.1 401 "), told)
        self.assertIn(b"Connection: close", told)


class OptionsTest(ServedTest):
    def test_options_that_are_none(self):
        for option, value in (("--per-address", "-1"), ("--per-address", "many"),
                              ("--proxy", "nginx"), ("--proxy", "127.0.0.1,"),
                              ("--patience", "1"), ("--patience", "4000")):
            done = subprocess.run([program.CAIRN, "serve", self.server.data, option, value],
                                  capture_output=True, timeout=60, check=False)
            self.assertEqual((done.returncode, done.stdout), (2, b""))
            self.assertIn(option.encode(), done.stderr)
