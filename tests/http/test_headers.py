# SPDX-License-Identifier: MIT
"""Security headers: at every address, for every role, on errors too."""

import re
import unittest

from tests.support import addresses
from tests.support.serving import API, SLUG, ServedTest, Stream

POLICY = {"default-src": {"'none'"}, "style-src": {"'self'"}, "script-src": {"'self'"},
          "worker-src": {"'self'"}, "connect-src": {"'self'"}, "img-src": {"'self'", "data:"},
          "form-action": {"'self'"}, "base-uri": {"'none'"}, "frame-ancestors": {"'none'"}}


def policy_of(headers):
    return {name: set(values.split()) for name, values in
            re.findall(r"\s*([\w-]+) ([^;]*)", headers["content-security-policy"])}


class HeadersTest(ServedTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.server.post("notices", {"title": "Tea"})

    def check(self, answer):
        where = str(answer)[:300]
        self.assertEqual(answer.headers.get("x-content-type-options"), "nosniff", where)
        self.assertEqual(answer.headers.get("referrer-policy"), "no-referrer", where)
        self.assertIn("cache-control", answer.headers, where)
        # Sent over TLS alone: over plain http a browser would no longer open the site.
        self.assertNotIn("strict-transport-security", answer.headers, where)
        # No other origin may read an answer to a key, and there is no cookie that acts as a key.
        for name in ("access-control-allow-origin", "set-cookie", "server", "x-powered-by"):
            self.assertNotIn(name, answer.headers, where)
        if answer.body:
            self.assertIn("content-type", answer.headers, where)
            self.assertTrue(answer.media_type not in ("text/html", "text/css", "text/csv") or
                            "charset=utf-8" in answer.headers["content-type"], where)
        if answer.media_type == "text/html":
            self.assertEqual(policy_of(answer.headers), POLICY, where)
            self.assertEqual(answer.headers.get("x-frame-options"), "DENY", where)
            return 1
        return 0

    def test_every_address_and_role(self):
        style = addresses.style_path(self.server)
        pages = 0
        for route in addresses.routes():
            if route.pattern.endswith("/stream"):
                continue
            path = addresses.example(route, style)
            for key in (None, self.server.timekeeper, self.server.organiser):
                for accept in ("text/html", "*/*"):
                    with self.subTest(f"{route.method} {path} {accept}"):
                        pages += self.check(self.server.ask(
                            route.method, path, b"" if route.method != "GET" else None, key,
                            Accept=accept))
            self.check(self.server.ask("HEAD", path))
        self.assertGreater(pages, 60)

    def test_errors(self):
        pages = 0
        for accept in ("text/html", "application/json"):
            for method, path, status in (
                    ("GET", "/none/", 404), ("GET", f"/{SLUG}/cars/77", 404), ("GET", "/%zz", 404),
                    ("POST", f"/{SLUG}/", 405), ("DELETE", f"{API}/readings", 405),
                    ("GET", f"/{SLUG}/?q=" + "x" * 100, 400), ("GET", f"{API}/rules", 401),
                    ("GET", f"{API}/standings?by=shoe", 400), ("GET", f"/{SLUG}/?by=shoe", 400)):
                answer = self.server.ask(method, path, Accept=accept)
                self.assertEqual(answer.status, status, str(answer))
                pages += self.check(answer)
        self.assertGreaterEqual(pages, 5)

    def test_a_stream(self):
        stream = Stream(self.server)
        self.addCleanup(stream.close)
        self.assertEqual(stream.told.getheader("X-Content-Type-Options"), "nosniff")
        self.assertEqual(stream.told.getheader("Referrer-Policy"), "no-referrer")
        self.assertIsNone(stream.told.getheader("Access-Control-Allow-Origin"))

    def test_a_name_of_a_host_that_is_none_is_told_nowhere(self):
        """QR codes and papers name the machine only where the Host header is a valid name."""
        for host in ("<script>alert", "evil\"onload=\"y", "evil b", "evil/example", "evil@example",
                     "evil'example", "", "evil%0d%0aX: y", "evil\\example", "evil?example",
                     "evil#example", "evil.\xe9xample", "x" * 300):
            for path in (f"/{SLUG}/qr", f"/{SLUG}/", f"{API}/paper/starts/1"):
                got = self.server.raw(
                    f"GET {path} HTTP/1.1\r\nHost: {host}\r\nConnection: close\r\n\r\n"
                    .encode("latin-1"))
                head, _, body = got.partition(b"\r\n\r\n")
                self.assertIn(head.split()[1], (b"200", b"404", b"400"), got[:200])
                if host:
                    self.assertNotIn(host.encode("latin-1"), body)
                self.assertNotIn(b"evil", body)
                self.assertNotIn(b"\r\nX:", head)

    def test_targets_with_a_host_in_them(self):
        """Request targets with a host in them, as a proxy would get (RFC 9112, 3.2.2), are
        refused: the host stands in no link, and the path behind it is not served."""
        for target in (f"http://evil.example/{SLUG}/qr", f"http://evil.example{API}/rules",
                       f"https://evil.example/{SLUG}/", "http://evil.example", "evil.example:443",
                       f"//evil.example/{SLUG}/", f"/\\evil.example/{SLUG}/", "*",
                       f"file:///{SLUG}/", "http://127.0.0.1/metrics"):
            got = self.server.raw(f"GET {target} HTTP/1.1\r\nHost: good.example\r\n"
                                  "Connection: close\r\n\r\n".encode())
            head, _, body = got.partition(b"\r\n\r\n")
            self.assertIn(head.split()[1], (b"400", b"404"), got[:200])
            self.assertNotIn(b"\r\nLocation", head)
            self.assertNotIn(b"href=\"http://evil", body)
        self.assertEqual(self.server.get("/healthz").status, 200)

    def test_nothing_sent_becomes_a_header(self):
        for path in (f"/{SLUG}/?lang=de%0d%0aX-Evil:%201", f"/{SLUG}/?q=%0d%0aX-Evil:%201",
                     f"{API}/standings?by=%0d%0aX-Evil:%201", f"/{SLUG}%0d%0aX-Evil:%201/",
                     f"{API}/standings?format=csv%0d%0aX-Evil:%201",
                     f"/{SLUG}/qr?to=cars/1%0d%0aX-Evil:%201"):
            for headers in ({}, {"Accept_Language": "de\tX-Evil: 1"},
                            {"If_None_Match": "\"\tX-Evil: 1\""}):
                answer = self.server.get(path, **headers)
                self.assertNotIn("x-evil", answer.headers)
                self.assertNotIn("\n", str(answer.headers))
                self.check(answer)


if __name__ == "__main__":
    unittest.main()
