# SPDX-License-Identifier: MIT
"""What `cairn doctor` says of this machine, of a data folder, and of a server's address."""

import os
import re
import socket
import sqlite3
import subprocess
import threading
import time
import unittest

from tests.support import cairn as program, serving, tls
from tests.support.relay import Relay, hosts

SLUG = serving.SLUG


class DoctorTest(unittest.TestCase):
    def setUp(self):
        self.server = serving.Server()
        self.addCleanup(self.server.end)
        self.data = self.server.data
        self.file = os.path.join(self.data, SLUG + ".cairn")
        os.chmod(self.data, 0o750)

    def ask(self, *options, data=None):
        """Runs the doctor; returns (exit code, lines)."""
        done = subprocess.run([program.CAIRN, "doctor", data or self.data, *options],
                              capture_output=True, timeout=120, check=False)
        self.assertEqual(done.stderr, b"")
        lines = done.stdout.decode().splitlines()
        for line in lines:
            self.assertRegex(line, r"^(good|doubtful|bad): \S")
        bad = any(line.startswith("bad: ") for line in lines)
        self.assertEqual(done.returncode, 2 if bad else 0, lines)
        return done.returncode, lines

    def find(self, pattern, *options, data=None):
        """The one line that matches the pattern."""
        _, lines = self.ask(*options, data=data)
        found = [line for line in lines if re.search(pattern, line)]
        self.assertEqual(len(found), 1, lines)
        return found[0]

    def stop(self):
        self.server.process.terminate()
        self.server.process.wait(60)

    def test_all_it_looks_at_while_the_server_runs(self):
        _, lines = self.ask("--url", f"http://127.0.0.1:{self.server.port}/")
        for subject in ("clock", "open files", "memory", f"disk: {self.data}", "permissions",
                        f"event {SLUG}"):
            self.assertEqual(len([line for line in lines if f": {subject}" in line]), 1, lines)
        self.assertIn(f"good: event {SLUG}: schema {self.version()}, whole, 8 readings, "
                      "1 decisions", lines)
        self.assertEqual(self.server.get(serving.API).status, 200)

    def version(self):
        with sqlite3.connect(self.file) as db:
            found = db.execute("PRAGMA user_version").fetchone()[0]
        db.close()
        return found

    def outside(self, *commands):
        db = sqlite3.connect(self.file)
        for command in commands:
            db.execute(command)
        db.commit()
        db.close()

    def test_nothing_is_changed(self):
        self.stop()
        self.outside("PRAGMA user_version = 0")
        with open(self.file, "rb") as file:
            before = file.read()
        self.assertIn("doubtful: ", self.find("schema 0 is brought to"))
        with open(self.file, "rb") as file:
            self.assertEqual(file.read(), before)

    def test_a_newer_schema(self):
        self.stop()
        self.outside("PRAGMA user_version = 999")
        self.assertTrue(self.find("schema 999 is newer than this program").startswith("bad: "))

    def test_damage(self):
        self.stop()
        with open(self.file, "r+b") as file:
            size = file.seek(0, os.SEEK_END)
            for page in range(4096, size, 4096):
                file.seek(page + 8)
                file.write(b"\xff" * 64)
        self.assertTrue(self.find(f"event {SLUG}: ").startswith("bad: "))
        with open(self.file, "wb") as file:
            file.write(b"no event file at all" * 100)
        self.assertTrue(self.find(f"event {SLUG}: ").startswith("bad: "))
        with open(self.file, "wb") as file:
            pass
        self.assertTrue(self.find(f"event {SLUG}: this is no event file").startswith("bad: "))

    def test_permissions(self):
        self.assertTrue(self.find("permissions").startswith("good: "))
        os.chmod(self.data, 0o755)
        self.assertTrue(self.find("permissions: .* read by every user").startswith("doubtful: "))
        os.chmod(self.data, 0o757)
        self.assertTrue(self.find("permissions: .* written by anybody").startswith("bad: "))
        os.chmod(self.data, 0o750)
        os.chmod(self.file, 0o666)
        self.assertTrue(self.find("permissions: .*cairn may be written by anybody")
                        .startswith("bad: "))
        os.chmod(self.file, 0o440)
        self.assertTrue(self.find("permissions: .*may not be written by its owner")
                        .startswith("bad: "))
        os.chmod(self.file, 0o640)
        os.symlink("/dev/null", os.path.join(self.data, "elsewhere.cairn-wal"))
        self.assertTrue(self.find("permissions: .*is no plain file").startswith("bad: "))

    def test_folders_that_are_not_there_or_empty(self):
        none = os.path.join(self.server.folder, "none")
        self.assertTrue(self.find("data folder: .* is not there", data=none).startswith("bad: "))
        os.mkdir(none, 0o750)
        self.assertTrue(self.find("holds no event", data=none).startswith("doubtful: "))
        self.assertTrue(self.find("copies: .*No such file", "--backups", none + "-x")
                        .startswith("bad: "))

    def test_age_of_copies(self):
        copies = os.path.join(self.server.folder, "copies")
        os.mkdir(copies)
        self.assertTrue(self.find(f"copies: none of {SLUG}", "--backups", copies)
                        .startswith("bad: "))
        for name in (f"{SLUG}-b.20310606T080000Z.cairn", f".{SLUG}.part", f"{SLUG}.txt"):
            with open(os.path.join(copies, name), "wb") as file:
                file.write(b"x")
        self.assertTrue(self.find(f"copies: none of {SLUG}", "--backups", copies)
                        .startswith("bad: "))
        for minutes, word in ((1500, "bad"), (20, "doubtful"), (3, "good")):
            path = os.path.join(copies, f"{SLUG}.2031{minutes:04}.cairn")
            with open(path, "wb") as file:
                file.write(b"x")
            then = time.time() - 60 * minutes - 5
            os.utime(path, (then, then))
            self.assertEqual(self.find("copies: the newest", "--backups", copies),
                             f"{word}: copies: the newest of {SLUG} is {minutes} minutes old")

    def relay(self, how, host="127.0.0.1"):
        relay = Relay(self.server, how, host)
        self.addCleanup(relay.end)
        return relay

    def test_a_server_that_answers(self):
        for host in hosts():
            with self.subTest(host):
                relay = self.relay("chunks", host)
                url = f"http://{relay.host}/x?y"
                _, lines = self.ask("--url", url)
                lines = [line for line in lines if url in line]
                self.assertRegex(lines[0], r"^(good|doubtful): .*: answered after \d+ ms$")
                self.assertRegex(lines[1], r"^(good|doubtful): .*write")
                self.assertEqual(len(lines), 2, lines)
                self.assertEqual(relay.lines, ["GET /healthz HTTP/1.1"])
                self.assertEqual([head["host"] for head in relay.heads], [relay.host])

    def test_a_server_that_cannot_write_says_so(self):
        url = f"http://127.0.0.1:{self.server.port}/"
        self.assertEqual(self.find(f"{url}: it can write", "--url", url),
                         f"good: {url}: it can write")
        os.rename(self.file, self.file + ".away")
        until = time.monotonic() + 60
        while self.server.get("/healthz").json()["can_write"]:
            self.assertLess(time.monotonic(), until, "the server does not look")
            time.sleep(0.05)
        self.assertRegex(self.find("cannot write", "--url", url),
                         rf"^bad: {re.escape(url)}: it cannot write {SLUG}: \S")

    def test_addresses_that_do_not_answer_well(self):
        nobody = f"http://127.0.0.1:{serving.shut_port(self)}/"
        self.assertTrue(self.find("127.0.0.1.*refused", "--url", nobody).startswith("bad: "))
        for how, told in ((b"HTTP/1.1 503 No\r\n\r\n", "answered with 503"),
                          (b"220 mail.example ready\r\n\r\n", "speaks no HTTP"),
                          (b"HTTP/1.1 302 X\r\nLocation: http://fell.example/\r\n\r\n",
                           "sends on to http://fell.example/"),
                          (b"HTTP/1.1 200 OK\r\nContent-Length: 9\r\n\r\n{}", "no answer"),
                          (b"", "no answer"), ("short", "no answer"), ("torn", "no answer"),
                          ("endless", "longer than 65536 bytes")):
            with self.subTest(told):
                line = self.find("http://127", "--url", f"http://{self.relay(how).host}/x?y")
                self.assertIn(told, line)
                self.assertTrue(line.startswith("bad: "))
        for body in (b"", b"<!doctype html><title>Sign in</title>", b"[7]"):
            how = b"HTTP/1.1 200 OK\r\nContent-Length: %d\r\n\r\n%s" % (len(body), body)
            self.assertTrue(self.find("http://127.*is no cairn server", "--url",
                                      f"http://{self.relay(how).host}/").startswith("bad: "))

    def test_it_ends_whatever_answers(self):
        """The doctor's own time limits end it; that of `ask` is never reached."""
        for how in ("dead", "drip"):
            with self.subTest(how):
                line = self.find("http://127", "--url", f"http://{self.relay(how).host}/")
                self.assertRegex(line, "^bad: .*no answer")

    def test_a_clock_elsewhere_that_differs(self):
        date = time.strftime("%a, %d %b %Y %H:%M:%S GMT", time.gmtime(time.time() + 600))
        with socket.create_server(("127.0.0.1", 0)) as listener:
            answer = f"HTTP/1.1 200 OK\r\nDate: {date}\r\n\r\n".encode()
            thread = threading.Thread(target=serve_once, args=(listener, answer))
            thread.start()
            line = self.find("s apart", "--url", f"http://127.0.0.1:{listener.getsockname()[1]}")
            thread.join()
        self.assertRegex(line, r"^doubtful: .* (5[5-9]\d|600) s apart$")

    def test_wrong_command_lines(self):
        for words in ((), (self.data, "two"), (self.data, "--no-such"), (self.data, "--url"),
                      (self.data, "--tls-key", "x")):
            done = subprocess.run([program.CAIRN, "doctor", *words], capture_output=True,
                                  timeout=60, check=False)
            self.assertEqual((done.returncode, done.stdout), (2, b""))
            self.assertEqual(done.stderr.count(b"\n"), 1)


def serve_once(listener, answer):
    peer, _ = listener.accept()
    with peer:
        peer.recv(4096)
        peer.sendall(answer)


class CertificateTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.certificates = tls.Certificates()
        cls.addClassCleanup(cls.certificates.discard)
        cls.server = tls.TlsServer(cls.certificates)
        cls.addClassCleanup(cls.server.end)

    def ask(self, *options):
        done = subprocess.run([program.CAIRN, "doctor", self.server.data, *options],
                              capture_output=True, timeout=120, check=False)
        return done.stdout.decode()

    def assert_two_days(self, told, what):
        """A certificate made for two days: two whole days are left in its first second, one from
        then on. Both limits are tested exactly in tests/server/system/test_certificate_check.c."""
        self.assertRegex(told, rf"(?m)^(doubtful: {re.escape(what)}: the certificate is good for 2"
                               rf"|bad: {re.escape(what)}: the certificate is good for 1)"
                               r" more days$")

    def test_files(self):
        cert, key = self.certificates.path("server.pem"), self.certificates.path("server.key")
        other = self.certificates.path("rsa.key")
        os.chmod(key, 0o640)
        told = self.ask("--tls-cert", cert, "--tls-key", key)
        self.assert_two_days(told, cert)
        self.assertIn(f"good: {key}: the key belongs to the certificate\n", told)
        self.assertRegex(self.ask("--tls-cert", cert, "--tls-key", other),
                         r"(?m)^bad: .*is not the key of the first certificate")
        os.chmod(key, 0o644)
        self.assertRegex(self.ask("--tls-cert", cert, "--tls-key", key),
                         r"(?m)^bad: .*every user of this machine can read the key")
        self.assertIn(f"bad: {key}: no certificate", self.ask("--tls-cert", key))
        self.assertIn("bad: /no/such: ", self.ask("--tls-cert", "/no/such"))

    def test_the_line(self):
        url = f"https://127.0.0.1:{self.server.port}/"
        told = self.ask("--url", url)
        self.assert_two_days(told, url)
        self.assertRegex(told, r"(?m)^doubtful: https://.*browsers will warn of the certificate")
        self.assertRegex(told, r"(?m)^(good|doubtful): https://.*answered after \d+ ms$")

    def test_no_tls_where_tls_is_asked_for(self):
        plain = serving.Server()
        self.addCleanup(plain.end)
        self.assertRegex(self.ask("--url", f"https://127.0.0.1:{plain.port}/"),
                         r"(?m)^bad: https://.*no TLS")


if __name__ == "__main__":
    unittest.main()
