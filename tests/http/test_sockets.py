# SPDX-License-Identifier: MIT
"""Clients that are slow, broken or hostile, over bare sockets; the server goes on serving the
others."""

import socket
import struct
import threading
import time

from tests.support.serving import API, ServedTest, Server, read_all

GET = b"GET /healthz HTTP/1.1\r\nHost: x\r\n\r\n"
LAST = b"GET /healthz HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n"


class SocketsTest(ServedTest):
    number = 0

    def tearDown(self):
        self.assertEqual(self.server.get("/healthz").status, 200)
        self.assertIsNone(self.server.process.poll())

    def head(self, *more, name="readings"):
        """The head of a write with a right key."""
        lines = [f"POST {API}/{name} HTTP/1.1", "Host: x", "Content-Type: application/json",
                 f"Authorization: Bearer {self.server.organiser}", *more]
        return "\r\n".join(lines).encode() + b"\r\n\r\n"

    def row(self):
        type(self).number += 1
        return f'[{{"point":"PC1","car":8,"id":"raw-{self.number}"}}]'.encode()

    def is_known(self, row):
        """Whether the row is stored already: then it counts as a duplicate."""
        told = self.server.post("readings", row).json()
        return told["duplicates"] == 1

    def test_half_a_head_and_then_nothing(self):
        for part in (b"", b"G", b"GET", b"GET /healthz HTTP/1.1\r\n", GET[:-2], GET[:-1], b"\r\n"):
            with self.server.connect() as peer:
                peer.sendall(part)
                self.assertEqual(self.server.get("/healthz").status, 200)

    def test_a_head_that_comes_byte_by_byte(self):
        with self.server.connect() as peer:
            for at in range(len(LAST)):
                peer.sendall(LAST[at:at + 1])
            self.assertTrue(read_all(peer).startswith(b"HTTP/1.1 200 "))

    def test_half_a_body_is_not_half_taken(self):
        before = self.office_revision()
        row = self.row()
        for end in ("close", "shut", "reset"):
            with self.server.connect(0.2) as peer:
                peer.sendall(self.head(f"Content-Length: {len(row) + 50}") + row)
                if end == "shut":
                    peer.shutdown(socket.SHUT_WR)
                    read_all(peer)
                elif end == "reset":
                    peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
        time.sleep(0.2)
        self.assertEqual(self.office_revision(), before)
        self.assertFalse(self.is_known(row))

    def test_half_a_chunk_is_not_taken(self):
        row = self.row()
        before = self.office_revision()
        with self.server.connect(0.2) as peer:
            peer.sendall(self.head("Transfer-Encoding: chunked") + b"%x\r\n" % len(row) + row +
                         b"\r\n")
            peer.shutdown(socket.SHUT_WR)
            read_all(peer)
        time.sleep(0.2)
        self.assertEqual(self.office_revision(), before)
        self.assertFalse(self.is_known(row))

    def test_a_body_that_comes_slowly_holds_up_nobody(self):
        row = self.row()
        with self.server.connect() as peer:
            peer.sendall(self.head(f"Content-Length: {len(row)}", "Connection: close"))
            for at in range(len(row)):
                peer.sendall(row[at:at + 1])
                if at % 10 == 0:
                    self.assertEqual(self.server.get(API).status, 200)
            got = read_all(peer)
        self.assertTrue(got.startswith(b"HTTP/1.1 200 "), got[:100])
        self.assertIn(b'"accepted":1', got)

    def test_a_client_that_leaves_before_the_answer(self):
        """A reading whose sender left before the answer is stored whole or not at all."""
        rows = [self.row() for _ in range(20)]
        for row in rows:
            with self.server.connect() as peer:
                peer.setsockopt(socket.SOL_SOCKET, socket.SO_LINGER, struct.pack("ii", 1, 0))
                peer.sendall(self.head(f"Content-Length: {len(row)}") + row)
        for row in rows:
            told = self.server.post("readings", row).json()
            self.assertEqual(told["accepted"] + told["duplicates"], 1)

    def test_a_client_that_does_not_read(self):
        with self.server.connect() as peer:
            peer.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            peer.settimeout(1)
            try:
                peer.sendall(f"GET {API}/standings HTTP/1.1\r\nHost: x\r\n\r\n".encode() * 2000)
            except TimeoutError:
                pass  # the server waits for it, and for it alone
            self.assertEqual(self.server.get(f"{API}/standings").status, 200)

    def test_chunked_bodies(self):
        row = self.row()
        body = b"".join(b"%x\r\n%c\r\n" % (1, byte) for byte in row) + b"0\r\n\r\n"
        got = self.server.raw(self.head("Transfer-Encoding: chunked", "Connection: close") + body)
        self.assertIn(b'"accepted":1', got)
        row = self.row()
        body = b"%X;name=value\r\n" % len(row) + row + b"\r\n0\r\nTrailer: x\r\n\r\n"
        got = self.server.raw(self.head("Transfer-Encoding: chunked", "Connection: close") + body)
        self.assertIn(b'"accepted":1', got)

    def test_header_lines_that_another_may_read_otherwise(self):
        row = self.row()
        for line in (f"Content-Length : {len(row)}", "X A: b", "X-A : b", "X(A): b", "X-A: a\rb",
                     "X-A: a\x01b", "X-A: a\x7fb"):
            got = self.server.raw(self.head(line, "Connection: close") + row)
            self.assertTrue(got.startswith(b"HTTP/1.1 400 "), (line, got))
            self.assertIn(b"A header's name holds a blank", got)
        self.assertFalse(self.is_known(row))
        for line in ("X-A: a\tb", "X-A: \u00e9", "X-!#$%&'*+-.^_`|~9: b"):
            got = self.server.raw(self.head(line, f"Content-Length: {len(row)}",
                                            "Connection: close") + row)
            self.assertIn(b'"duplicates":1', got, line)

    def test_a_query_of_very_many_names(self):
        def ask(count):
            names = "&".join(f"n{i}=1" for i in range(count))
            return self.server.raw(f"GET /healthz?{names} HTTP/1.1\r\nHost: x\r\n"
                                   "Connection: close\r\n\r\n".encode())
        self.assertTrue(ask(64).startswith(b"HTTP/1.1 200 "))
        for count in (65, 150, 900):
            self.assertTrue(ask(count).startswith(b"HTTP/1.1 414 "), count)

    def test_a_refused_query_leaves_nothing_behind(self):
        """The leak checker looks as the server ends; its client is still there."""
        server = Server()
        with server.connect() as peer:
            names = "&".join(f"n{i}=1" for i in range(150))
            peer.sendall(f"GET /healthz?{names} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            self.assertIn(b" 414 ", read_all(peer))
            self.assertEqual(server.end(), 0)

    def test_a_server_ends_among_requests_that_are_none(self):
        """The library answers those itself, and is not to be stopped while it does."""
        names = "&".join(f"n{i}=1" for i in range(150))
        wrong = [f"GET /healthz?{names} HTTP/1.1\r\nHost: x\r\n\r\n", "GET\r\n\r\n",
                 "GET / HTTP/9.9\r\nHost: x\r\n\r\n",
                 "POST /x HTTP/1.1\r\nHost: x\r\nContent-Length: zz\r\n\r\n"]

        def ask(server, request):
            while not over.is_set():
                try:
                    with server.connect(2) as peer:
                        peer.sendall(request.encode())
                        peer.recv(100)
                except ConnectionRefusedError:
                    return  # the port may be another's from now on
                except OSError:
                    pass

        for _ in range(10):
            server, over = Server(), threading.Event()
            clients = [threading.Thread(target=ask, args=(server, request))
                       for request in wrong * 2]
            for client in clients:
                client.start()
            time.sleep(0.05)
            code = server.end()
            over.set()
            for client in clients:
                client.join()
            self.assertEqual(code, 0)

    def test_chunks_that_are_none(self):
        before = self.office_revision()
        for body in (b"zz\r\n[]\r\n0\r\n\r\n", b"-1\r\n[]\r\n0\r\n\r\n",
                     b"ffffffffffffffffff\r\n[]\r\n0\r\n\r\n", b"2\r\n[]xx0\r\n\r\n"):
            got = self.server.raw(self.head("Transfer-Encoding: chunked", "Connection: close") +
                                  body)
            self.assertNotIn(b"HTTP/1.1 200", got, body)
        self.assertEqual(self.office_revision(), before)

    def test_expect_100_continue(self):
        row = self.row()
        with self.server.connect() as peer:
            peer.sendall(self.head(f"Content-Length: {len(row)}", "Expect: 100-continue",
                                   "Connection: close"))
            self.assertTrue(peer.recv(100).startswith(b"HTTP/1.1 100 "))
            peer.sendall(row)
            got = read_all(peer)
        self.assertTrue(got.startswith(b"HTTP/1.1 200 "), got[:100])
        self.assertIn(b'"accepted":1', got)

    def test_expect_100_continue_is_refused_at_once(self):
        """A client that asks first is refused before it sends the body."""
        for head, status in (
                (self.head("Content-Length: 5000000", "Expect: 100-continue"), b"413"),
                (f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nContent-Length: 99\r\n"
                 "Expect: 100-continue\r\n\r\n".encode(), b"401"),
                (f"PATCH {API}/readings HTTP/1.1\r\nHost: x\r\nContent-Length: 99\r\n"
                 "Expect: 100-continue\r\n\r\n".encode(), b"405")):
            self.assertEqual(self.server.raw(head).split(b" ")[1], status)

    def test_pipelined_requests_are_answered_in_order(self):
        paths = [f"{API}/cars/{n}" for n in (1, 2, 3, 5)] + [f"{API}/cars/4", "/healthz"]
        data = b"".join(f"GET {path} HTTP/1.1\r\nHost: x\r\n\r\n".encode() for path in paths)
        got = self.server.raw(data + LAST)
        self.assertEqual([line.split()[1] for line in got.splitlines()
                          if line.startswith(b"HTTP/1.1 ")], [b"200"] * 4 + [b"404"] + [b"200"] * 2)
        at = [got.index(b'"car":%d,' % n) for n in (1, 2, 3, 5)]
        self.assertEqual(at, sorted(at))

    def test_pipelined_writes_are_each_told(self):
        rows = [self.row() for _ in range(5)]
        data = b"".join(self.head(f"Content-Length: {len(row)}") + row for row in rows)
        got = self.server.raw(data + LAST)
        self.assertEqual(got.count(b'"accepted":1'), 5)
        revisions = [int(part.split(b"}")[0]) for part in got.split(b'"revision":')[1:]]
        self.assertEqual(revisions, sorted(revisions))
        self.assertEqual(len(set(revisions)), 5)

    def test_a_refused_body_is_not_taken_for_the_next_request(self):
        """What follows a refused head is never read as a request of its own."""
        inner = b"GET /api/v1/events HTTP/1.1\r\nHost: x\r\n\r\n"
        for line in (f"POST {API}/readings", f"POST {API}/nothing", f"DELETE {API}", f"POST {API}"):
            head = f"{line} HTTP/1.1\r\nHost: x\r\nContent-Length: {len(inner)}\r\n\r\n".encode()
            with self.server.connect() as peer:
                peer.sendall(head + inner)
                got = peer.recv(65536)
                peer.settimeout(1)
                got += read_all(peer)
            self.assertEqual(got.count(b"HTTP/1.1 "), 1, got[:60])
            self.assertNotIn(b'"events"', got)

    def test_a_get_with_a_body_is_answered_and_the_next_request_too(self):
        data = b"GET /healthz HTTP/1.1\r\nHost: x\r\nContent-Length: 5\r\n\r\nhello" + LAST
        got = self.server.raw(data)
        self.assertEqual(got.count(b"HTTP/1.1 200 "), 2)

    def test_two_lengths_or_a_length_and_chunks(self):
        """A request that a proxy and this server could read in two ways is refused, or ends the
        connection."""
        row = self.row()
        inner = b"GET /api/v1/events HTTP/1.1\r\nHost: x\r\n\r\n"
        for more in (("Content-Length: 2", f"Content-Length: {len(row)}"),
                     ("Content-Length: 4", "Transfer-Encoding: chunked"),
                     ("Content-Length: -1",), ("Content-Length: 1x",), ("Content-Length: +2",),
                     ("Content-Length: 0x10",), ("Content-Length: 99999999999999999999999",),
                     ("Transfer-Encoding: gzip",), ("Content-Length: 2, 2",)):
            with self.subTest(more):
                got = self.server.raw(self.head(*more) + b"0\r\n\r\n" + inner, timeout=0.3)
                self.assertNotIn(b'"events"', got, got[:200])

    def test_a_host_that_is_missing_or_told_twice(self):
        for hosts, status in ((b"", b"400"), (b"Host: a\r\nHost: b\r\n", b"400"),
                              (b"Host:\r\n", b"400"), (b"Host: a\r\nhost: a\r\n", b"400"),
                              (b"Host: a\r\n", b"200")):
            got = self.server.raw(b"GET /healthz HTTP/1.1\r\n" + hosts +
                                  b"Connection: close\r\n\r\n")
            self.assertEqual(got[9:12], status, hosts)
        for hosts, status in ((b"", b"200"), (b"Host: a\r\nHost: b\r\n", b"400")):
            got = self.server.raw(b"GET /healthz HTTP/1.0\r\n" + hosts + b"\r\n")
            self.assertEqual(got[9:12], status, hosts)

    def test_a_coding_that_is_not_known_is_refused_and_not_waited_for(self):
        for coding in (b"xchunked", b"gzip, chunked", b"gzip", b"chunked, chunked"):
            got = self.server.raw(f"POST {API}/readings HTTP/1.1\r\nHost: x\r\n".encode() +
                                  f"Authorization: Bearer {self.server.organiser}\r\n".encode() +
                                  b"Content-Type: application/json\r\n"
                                  b"Transfer-Encoding: " + coding + b"\r\n\r\n0\r\n\r\n")
            self.assertEqual(got[9:12], b"501", got[:200])
            self.assertIn(b"in no other coding", got)

    def test_bare_line_feeds(self):
        got = self.server.raw(LAST.replace(b"\r\n", b"\n"), timeout=2)
        self.assertIn(got[:12], (b"HTTP/1.1 200", b"HTTP/1.1 400", b""))
        got = self.server.raw(LAST.replace(b"\r\n", b"\r"), timeout=0.3)
        self.assertNotIn(b" 200 ", got[:20])

    def test_heads_that_are_none(self):
        for data in (b"\x16\x03\x01\x02\x00\x01\x00\x01\xfc\x03\x03" + b"\x00" * 200,
                     b"\x00" * 1000, b"hello\r\n\r\n", b"GET\r\n\r\n", b"GET /\r\n\r\n",
                     b"GET / HTTP/9.9\r\nHost: x\r\n\r\n", b"GET / HTTP/1.1 x\r\nHost: x\r\n\r\n",
                     b" GET / HTTP/1.1\r\nHost: x\r\n\r\n", b"GET / HTTP/1.1\r\n\r\n",
                     b"GET / HTTP/1.1\r\n: x\r\n\r\n", b"GET / HTTP/1.1\r\nHost\r\n\r\n",
                     b"GET / HTTP/1.1\r\nHost: x\r\n\tfolded\r\n\r\n",
                     b"GET healthz HTTP/1.1\r\nHost: x\r\n\r\n",
                     b"GET * HTTP/1.1\r\nHost: x\r\n\r\n", b"PRI * HTTP/2.0\r\n\r\nSM\r\n\r\n",
                     b"CONNECT example.invalid:443 HTTP/1.1\r\nHost: x\r\n\r\n"):
            with self.subTest(data[:30]):
                got = self.server.raw(data, timeout=0.3)
                self.assertNotIn(got[9:12], (b"500", b"502", b"503", b"504"))
                self.assertEqual(self.server.get("/healthz").status, 200)

    def test_absurd_heads(self):
        for data, statuses in (
                (b"GET / HTTP/1.1\r\nHost: x\r\nX: " + b"y" * 20000 + b"\r\n\r\n", (b"431", b"413")),
                (b"GET / HTTP/1.1\r\nHost: x\r\n" + b"A: b\r\n" * 5000 + b"\r\n", (b"431", b"413")),
                (b"GET /" + b"a" * 20000 + b" HTTP/1.1\r\nHost: x\r\n\r\n", (b"414",)),
                (b"A" * 20000 + b" / HTTP/1.1\r\nHost: x\r\n\r\n", (b"400", b"414", b"431", b"501")),
                (b"X" * 100000, (b"400", b"413", b"414", b"431", b"501"))):
            got = self.server.raw(data)
            if got:  # it may be cut off without a word
                self.assertIn(got.split(b" ")[1], statuses, data[:20])

    def test_an_authorization_header_that_is_absurd(self):
        for value in ("Bearer " + "k" * 4000, "Bearer \x01", "Bearer \xff\xfe", ""):
            got = self.server.raw(f"GET {API} HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
                                  f"Authorization: {value}\r\n\r\n".encode("latin-1"))
            self.assertIn(got.split(b" ")[1], (b"401", b"400", b"429", b"431"), value[:20])

    def test_http_1_0_and_keeping_the_connection(self):
        got = self.server.raw(b"GET /healthz HTTP/1.0\r\n\r\n")
        self.assertRegex(got, rb"\AHTTP/1\.[01] 200 ")
        got = self.server.raw(GET * 3 + LAST)
        self.assertEqual(got.count(b"HTTP/1.1 200 "), 4)

    def test_an_error_keeps_the_connection(self):
        data = f"GET {API}/cars/4 HTTP/1.1\r\nHost: x\r\n\r\n".encode()
        self.assertEqual(self.server.raw(data + LAST).count(b"HTTP/1.1 "), 2)

    def test_many_idle_connections_leave_room(self):
        peers = [self.server.connect() for _ in range(300)]
        try:
            for peer in peers[::3]:
                peer.sendall(b"GET / HT")
            self.assertEqual(self.server.get(f"{API}/standings").status, 200)
            self.assert_taken(self.server.post("readings", self.row()), 1)
        finally:
            for peer in peers:
                peer.close()

    def test_writers_at_once_each_see_their_own_row(self):
        """Sixteen at once: a GET after an answer shows the revision of that answer or a later
        one."""
        wrong = []

        def work(number):
            for turn in range(5):
                row = [{"point": "PC1", "car": 3, "id": f"at-once-{number}-{turn}"}]
                told = self.server.post("readings", row).json()
                if told["accepted"] != 1 or self.office_revision() < told["revision"]:
                    wrong.append(told)
        threads = [threading.Thread(target=work, args=(n,)) for n in range(16)]
        for thread in threads:
            thread.start()
        for thread in threads:
            thread.join()
        self.assertEqual(wrong, [])
