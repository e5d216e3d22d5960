# SPDX-License-Identifier: MIT
"""The server with a certificate: handshake, pages, uploads, event streams, its end; and wrong
certificates, keys and clients. The openssl command makes what is needed."""

import os
import signal
import socket
import ssl
import subprocess
import time
import unittest

from tests.support import addresses
from tests.support.cairn import CAIRN, READY_SECONDS
from tests.support.serving import API, SLUG, Stream, read_all
from tests.support.tls import Certificates, TlsServer, openssl


class TlsTest(unittest.TestCase):
    number = 0

    @classmethod
    def setUpClass(cls):
        cls.certificates = Certificates()
        cls.addClassCleanup(cls.certificates.discard)
        cls.server = TlsServer(cls.certificates)
        cls.addClassCleanup(cls.end_server)

    @classmethod
    def end_server(cls):
        code = cls.server.end()
        if code != 0:
            raise AssertionError(f"the server ended with {code}")

    def stream(self, server=None):
        stream = Stream(server or self.server)
        self.addCleanup(stream.close)
        return stream

    def post_one(self, server=None):
        """Posts a reading that the public sees; returns the answer's object."""
        type(self).number += 1
        row = {"point": "PC1", "car": 8, "id": f"tls-{self.number}"}
        answer = (server or self.server).post("readings", [row])
        self.assertEqual(answer.status, 200, str(answer))
        return answer.json()

    def test_a_page_and_a_table(self):
        page = self.server.get(f"/{SLUG}/")
        self.assertEqual((page.status, page.media_type), (200, "text/html"))
        table = self.server.get(f"{API}/standings", Accept_Encoding="gzip")
        self.assertEqual(table.status, 200)
        again = self.server.get(f"{API}/standings", Accept_Encoding="gzip",
                                If_None_Match=table.headers["etag"])
        self.assertEqual((again.status, again.body), (304, b""))

    def test_an_upload(self):
        before = self.server.get(API, self.server.organiser).json()["revision"]
        told = self.post_one()
        self.assertEqual((told["accepted"], told["revision"]), (1, before + 1))

    def test_a_large_upload(self):
        rows = [{"point": "PC1", "car": 2, "id": f"large-{n}", "by": "x" * 200}
                for n in range(3000)]
        answer = self.server.post("readings", rows)
        self.assertEqual((answer.status, answer.json()["accepted"]), (200, 3000))

    def test_browsers_are_told_to_insist(self):
        for answer in (self.server.get("/"), self.server.get("/nothing-here"),
                       self.server.get(API), self.server.post("readings", [])):
            self.assertRegex(answer.headers["strict-transport-security"], r"^max-age=\d+$")
        style = addresses.style_path(self.server)
        for route in addresses.routes():
            if route.method == "GET" and not route.pattern.endswith("/stream"):
                answer = self.server.get(addresses.example(route, style), self.server.organiser)
                self.assertRegex(answer.headers["strict-transport-security"], r"^max-age=\d+$",
                                 str(answer))
        stream = self.stream()
        self.assertRegex(stream.told.getheader("Strict-Transport-Security"), r"^max-age=\d+$")

    def test_only_new_versions_with_strong_ciphers(self):
        for version in (ssl.TLSVersion.TLSv1_2, ssl.TLSVersion.TLSv1_3):
            trust = ssl.create_default_context(cafile=self.certificates.path("ca.pem"))
            trust.minimum_version = trust.maximum_version = version
            with self.server.connect(trust=trust) as peer:
                self.assertEqual(peer.version(), version.name.replace("_", "."))
                self.assertRegex(peer.cipher()[0], r"GCM|CHACHA20")
        for option in (("-tls1_1", "-cipher", "DEFAULT@SECLEVEL=0"),
                       ("-tls1", "-cipher", "DEFAULT@SECLEVEL=0"),
                       ("-tls1_2", "-cipher", "AES128-SHA:ECDHE-ECDSA-AES128-SHA")):
            done = subprocess.run(["openssl", "s_client", "-connect",
                                   f"127.0.0.1:{self.server.port}", *option],
                                  stdin=subprocess.DEVNULL, capture_output=True, timeout=30,
                                  check=False)
            self.assertIn(b"Cipher is (NONE)", done.stdout, option)
            self.assertNotEqual(done.returncode, 0, option)

    def test_the_certificate_vouches_for_the_address(self):
        done = subprocess.run(
            ["openssl", "s_client", "-connect", f"127.0.0.1:{self.server.port}", "-CAfile",
             self.certificates.path("ca.pem"), "-verify_ip", "127.0.0.1", "-verify_return_error"],
            stdin=subprocess.DEVNULL, capture_output=True, timeout=30, check=True)
        self.assertIn(b"Verify return code: 0 (ok)", done.stdout)
        with self.assertRaises(ssl.SSLCertVerificationError):
            self.server.connect(trust=ssl.create_default_context())

    def test_an_rsa_certificate(self):
        server = TlsServer(self.certificates, "rsa")
        try:
            self.assertEqual(server.get("/healthz").status, 200)
        finally:
            self.assertEqual(server.end(), 0)

    def test_a_stream_hears_of_each_upload(self):
        stream = self.stream()
        self.assertEqual(stream.told.headers["Content-Type"], "text/event-stream")
        last = stream.message()["data"]["revision"]
        for _ in range(5):
            self.post_one()
            told = stream.message()
            self.assertEqual(told["data"]["from"], last)
            last = told["data"]["revision"]
            self.assertEqual(told["id"], str(last))

    def test_many_streams_hear_it(self):
        streams = [self.stream() for _ in range(30)]
        first = {stream.message()["data"]["revision"] for stream in streams}
        self.assertEqual(len(first), 1)
        self.post_one()
        for stream in streams:
            self.assertEqual(stream.message()["data"]["from"], min(first))

    def test_a_stream_that_is_left_harms_nobody(self):
        for _ in range(10):
            with self.server.connect() as peer:
                peer.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
                self.assertIn(b"200 OK", peer.recv(4096))
        stream = self.stream()
        last = stream.message()["data"]["revision"]
        for _ in range(3):
            self.post_one()
            last, before = stream.message()["data"]["revision"], last
            self.assertGreater(last, before)

    def test_one_that_does_not_read_gets_the_newest(self):
        """A slow listener misses messages; it then gets one that begins at a later revision."""
        with self.server.connect() as peer:
            peer.setsockopt(socket.SOL_SOCKET, socket.SO_RCVBUF, 2048)
            peer.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            self.assertIn(b"200 OK", peer.recv(4096))
            for _ in range(20):
                self.post_one()
            wanted = self.server.get(API).json()["revision"]
            got = b""
            until = time.monotonic() + 60
            while f"id: {wanted}\n".encode() not in got:
                self.assertLess(time.monotonic(), until)
                got += peer.recv(65536)

    def test_it_ends_with_streams_open(self):
        for how in (signal.SIGTERM, signal.SIGINT):
            server = TlsServer(self.certificates)
            try:
                streams = [self.stream(server) for _ in range(20)]
                for stream in streams:
                    self.assertIn("revision", stream.message()["data"])
                self.post_one(server)
                server.process.send_signal(how)
                for stream in streams:
                    # Raises where the last chunk is missing.
                    self.assertIn(b'"rows":', stream.told.read())
                self.assertEqual(server.process.wait(READY_SECONDS), 0)
            finally:
                server.end()

    def test_a_client_without_tls_is_let_go(self):
        for data in (b"GET / HTTP/1.1\r\nHost: x\r\n\r\n", b"\x00" * 100, b"\x16\x03\x01\x00\x05x"):
            with self.server.bare() as peer:
                peer.sendall(data)
                if data[:1] == b"\x16":
                    peer.shutdown(socket.SHUT_WR)
                began = time.monotonic()
                self.assertNotIn(b"HTTP/1.1 200", read_all(peer))
                self.assertLess(time.monotonic() - began, 18)  # no time ran out
        self.assertEqual(self.server.get("/healthz").status, 200)

    def test_one_that_does_not_finish_the_handshake_holds_up_nobody(self):
        with self.server.bare(), self.server.bare() as half:
            half.sendall(b"\x16\x03\x01")
            for _ in range(5):
                self.assertEqual(self.server.get("/healthz").status, 200)


class WrongCertificatesTest(unittest.TestCase):
    """A wrong certificate or key is reported in words before any port is opened."""

    @classmethod
    def setUpClass(cls):
        cls.certificates = Certificates()
        cls.addClassCleanup(cls.certificates.discard)
        cls.data = cls.certificates.path("data")
        os.makedirs(cls.data)

    def serve(self, *options):
        return subprocess.run([CAIRN, "serve", self.data, "--listen", "127.0.0.1:0", *options],
                              capture_output=True, timeout=60, check=False, text=True)

    def refused(self, cert, key, code, words):
        done = self.serve("--tls-cert", self.certificates.path(cert),
                          "--tls-key", self.certificates.path(key))
        self.assertEqual((done.returncode, done.stdout), (code, ""), done.stderr)
        self.assertRegex(done.stderr, words)

    def test_one_without_the_other(self):
        for option in ("--tls-cert", "--tls-key"):
            done = self.serve(option, self.certificates.path("server.pem"))
            self.assertEqual((done.returncode, done.stdout), (2, ""))
            self.assertIn("--tls-cert and --tls-key go together", done.stderr)

    def test_a_key_of_another_certificate(self):
        self.refused("server.pem", "rsa.key", 2, r"rsa\.key is not the key of .*server\.pem")
        self.refused("server.pem", "ca.key", 2, r"ca\.key is not the key of .*server\.pem")

    def test_files_that_cannot_be_read(self):
        self.refused("nothing.pem", "server.key", 1, r"nothing\.pem: No such file")
        self.refused("server.pem", "nothing.key", 1, r"nothing\.key: No such file")
        self.refused("data", "server.key", 1, r"data: Is a directory")

    def test_files_that_hold_something_else(self):
        self.refused("server.key", "server.key", 2, r"server\.key: holds no certificate")
        self.refused("server.pem", "server.pem", 2, r"server\.pem: holds no private key")
        for name, data in (("empty", b""), ("zeros", b"\x00" * 100), ("words", b"a key\n")):
            with open(self.certificates.path(name), "wb") as file:
                file.write(data)
            self.refused(name, "server.key", 2, rf"{name}: holds no certificate")
            self.refused("server.pem", name, 2, rf"{name}: holds no private key")

    def test_a_key_with_a_password(self):
        openssl("pkey", "-in", self.certificates.path("server.key"), "-aes256", "-passout",
                "pass:harbour", "-out", self.certificates.path("locked.key"))
        self.refused("server.pem", "locked.key", 2, r"locked\.key: holds no private key .*password")

    def test_a_file_without_end(self):
        done = self.serve("--tls-cert", "/dev/zero",
                          "--tls-key", self.certificates.path("server.key"))
        self.assertEqual((done.returncode, done.stdout), (2, ""))
        self.assertIn("/dev/zero: too large", done.stderr)

    def test_help_tells_of_it(self):
        done = subprocess.run([CAIRN, "serve", "--help"], capture_output=True, timeout=60,
                              check=True, text=True)
        self.assertIn("--tls-cert FILE", done.stdout)
        self.assertIn("--tls-key FILE", done.stdout)


if __name__ == "__main__":
    unittest.main()
