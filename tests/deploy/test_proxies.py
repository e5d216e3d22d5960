# SPDX-License-Identifier: MIT
"""Behind a cache: public pages are served from it, all else is passed through, and no answer
meant for one reader reaches another.

Every test runs for nginx and for Varnish, each with the configuration that is shipped.
"""

import gzip
import json
import time
import unittest

from tests.support import fronts, serving

API, SLUG = serving.API, serving.SLUG
STANDINGS = f"{API}/standings"
# How old a copy may be: one second by its headers, one of grace, and a little more.
FRESH_SECONDS = 2.2


class FrontTest(unittest.TestCase):
    """Tests of one front; the two classes at the end say which it is."""

    make = None

    @classmethod
    def setUpClass(cls):
        cls.origin = serving.Server()
        cls.addClassCleanup(cls.origin.end)
        cls.front = cls.make(cls.origin)
        cls.addClassCleanup(cls.front.end)

    def public_revision(self):
        return self.front.get(API).json()["revision"]

    def take(self, rows):
        told = self.front.send("POST", "readings", rows, self.origin.organiser)
        self.assertEqual(told.status, 200, str(told))
        return told.json()

    def wait_for(self, what, seconds=60):
        """Waits until what() is true."""
        until = time.monotonic() + seconds
        while not what():
            self.assertLess(time.monotonic(), until, "it does not come about")
            time.sleep(0.02)


class Crowd:
    """Public reads are answered from the cache."""

    def test_one_fetch_a_second_serves_many(self):
        path = f"{API}/starts/1"
        before = fronts.requests_of(self.origin.log_text(), path)
        began = time.monotonic()
        bodies = {self.front.get(path).body for _ in range(120)}
        seconds = time.monotonic() - began
        fetched = fronts.requests_of(self.origin.log_text(), path) - before
        self.assertEqual(len(bodies), 1)
        self.assertGreaterEqual(fetched, 1)
        self.assertLessEqual(fetched, 2 + seconds)

    def test_an_upload_shows_when_the_copy_has_aged(self):
        for number in range(2):
            old = self.public_revision()
            self.take([{"point": "PC1", "car": 5 + 3 * number}])
            time.sleep(FRESH_SECONDS)
            self.assertGreater(self.public_revision(), old)
            page = self.front.get(f"/{SLUG}/")
            self.assertEqual(page.body, self.origin.get(f"/{SLUG}/").body)

    def test_a_page_that_nobody_read_for_long_is_not_served_old(self):
        """The first reader after a long time gets the page as it is now, not as it was when last
        asked for."""
        path = f"{API}/cars/9"
        old = self.front.get(path).body
        self.take([{"point": "TC1", "car": 9, "time": "08:55:00"}])
        time.sleep(FRESH_SECONDS + 2)
        now = self.front.get(path).body
        self.assertNotEqual(now, old)
        self.assertEqual(now, self.origin.get(path).body)

    def test_both_forms_are_kept_apart(self):
        for _ in range(3):
            plain = self.front.get(STANDINGS)
            packed = self.front.get(STANDINGS, Accept_Encoding="gzip")
            self.assertNotIn("content-encoding", plain.headers)
            self.assertEqual(packed.headers["content-encoding"], "gzip")
            self.assertEqual(gzip.decompress(packed.body), plain.body)

    def test_a_tag_saves_the_body(self):
        for encoding in ("identity", "gzip"):
            tag = self.front.get(STANDINGS, Accept_Encoding=encoding).headers["etag"]
            again = self.front.get(STANDINGS, Accept_Encoding=encoding, If_None_Match=tag)
            self.assertEqual((again.status, again.body), (304, b""))
        self.assertEqual(self.front.get(STANDINGS, If_None_Match='"x"').status, 200)

    def test_queries_are_told_apart(self):
        by = {self.front.get(f"{STANDINGS}?by={by}").json()["by"] for by in ("class", "team", "day")}
        self.assertEqual(by, {"class", "team", "day"})

    def test_headers_of_the_origin_come_through(self):
        for path in (f"/{SLUG}/", STANDINGS):
            ours, theirs = self.front.get(path).headers, self.origin.get(path).headers
            for name in ("cache-control", "content-type", "x-content-type-options", "vary",
                         "referrer-policy", "content-security-policy", "x-frame-options"):
                self.assertEqual(ours.get(name), theirs.get(name), name)

    def test_a_host_makes_no_other_copy(self):
        """A Host header makes no second copy, and cannot change the one that others get."""
        self.front.get(STANDINGS, Host="one.example")
        before = fronts.requests_of(self.origin.log_text(), STANDINGS)
        began = time.monotonic()
        for number in range(30):
            told = self.front.get(STANDINGS, Host=f"h{number}.example")
            self.assertNotIn(b".example", told.body)
        fetched = fronts.requests_of(self.origin.log_text(), STANDINGS) - before
        self.assertLessEqual(fetched, 2 + time.monotonic() - began)

    def test_what_names_the_host_is_for_who_called_it_so(self):
        """QR codes and papers hold the server's address: no reader gets an address that another
        one chose."""
        for path in (f"/{SLUG}/qr", f"/{SLUG}/qr?to=cars/1"):
            for name in ("one.example", "two.example", "three.example"):
                told = self.front.get(path, Host=name)
                self.assertIn(f"http://{name}/{SLUG}/".encode(), told.body)
                self.assertEqual(told.body.count(b".example"), told.body.count(name.encode()))
        papers = [self.front.get(f"{API}/paper/starts/1", Host=name)
                  for name in ("one.example", "two.example", "one.example")]
        self.assertEqual([told.status for told in papers], [200] * 3)
        self.assertNotEqual(papers[0].body, papers[1].body)
        self.assertEqual(papers[0].body, papers[2].body)
        for told in papers:
            self.assertRegex(told.headers["cache-control"], r"\bprivate\b")


class Keys:
    """Requests with a key are passed through, and their answers are not kept."""

    def test_an_organisers_answer_is_never_served_to_the_public(self):
        hidden = serving.SECRET.encode()
        for path in (f"{STANDINGS}?by=test", f"/{SLUG}/?by=test", f"{API}/cars/1", f"{API}/rules"):
            for turn in range(3):
                office = self.front.get(path, self.origin.organiser)
                desk = self.front.get(path, self.origin.timekeeper)
                public = self.front.get(path)
                again = self.front.get(path, self.origin.organiser)
                self.assertEqual(again.status, 200)
                self.assertEqual(office.headers["cache-control"], "private, no-store")
                self.assertEqual(desk.headers["cache-control"], "private, no-store")
                self.assertFalse(office.body == public.body, (path, turn))
                self.assertFalse(hidden in public.body or b"R1/" in public.body, (path, turn))

    def test_a_keyed_read_is_never_a_copy(self):
        path = f"{API}/cars/2"
        self.front.get(path)
        before = fronts.requests_of(self.origin.log_text(), path)
        for _ in range(5):
            self.front.get(path, self.origin.organiser)
        # A line of the log is written once its answer is out.
        self.wait_for(lambda: fronts.requests_of(self.origin.log_text(), path) - before >= 5)

    def test_a_wrong_key_is_told_so_and_keeps_nobody_out(self):
        self.assertEqual(self.front.get(STANDINGS, "no-such-key").status, 401)
        self.assertEqual(self.front.get(STANDINGS).status, 200)
        self.assertEqual(self.front.get(f"{API}/rules").status, 401)
        self.assertEqual(self.front.get(f"{API}/rules", self.origin.organiser).status, 200)
        self.assertEqual(self.front.get(f"{API}/rules").status, 401)

    def test_who_posted_reads_what_was_posted_at_once(self):
        for number in range(3):
            told = self.take([{"point": "PC1", "car": 8, "id": f"at-once-{number}"}])
            now = self.front.get(API, self.origin.organiser).json()["revision"]
            self.assertEqual(now, told["revision"])

    def test_a_large_body_and_chunks_come_through(self):
        rows = [{"point": "PC1", "car": 3, "id": f"many-{number}", "reason": "x" * 60}
                for number in range(20000)]
        for row in rows:
            del row["reason"]
        self.assertEqual(self.take(rows)["accepted"], 20000)
        body = json.dumps([{"point": "PC1", "car": 3, "id": "chunked"}]).encode()
        told = self.front.raw(
            (f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nConnection: close\r\n"
             f"Authorization: Bearer {self.origin.organiser}\r\nContent-Type: application/json\r\n"
             "Transfer-Encoding: chunked\r\n\r\n").encode() +
            b"".join(b"1\r\n%c\r\n" % byte for byte in body) + b"0\r\n\r\n")
        self.assertTrue(told.startswith(b"HTTP/1.1 200 "), told[:200])
        self.assertIn(b'"accepted":1', told)

    def test_a_body_past_the_limit_is_refused(self):
        told = self.front.send("POST", "readings", b"[" + b" " * (4 << 20) + b"]",
                               self.origin.organiser)
        self.assertEqual(told.status, 413)

    def test_the_figures_stay_on_the_machine(self):
        self.assertEqual(self.origin.get("/metrics").status, 200)
        for path in ("/metrics", "/metrics?x=1", "/%6detrics", "//metrics", "/./metrics",
                     "/x/../metrics", "/metrics/", "/METRICS", "/metrics%00", "/metrics;x"):
            told = self.front.get(path)
            self.assertGreaterEqual(told.status, 400, path)
            self.assertNotIn(b"cairn_", told.body)
        for head in (b"GET http://127.0.0.1/metrics HTTP/1.1\r\nHost: x\r\n",
                     b"GET /metrics HTTP/1.0\r\n",
                     b"GET /metrics HTTP/1.1\r\nHost: x\r\nX-Forwarded-For:\r\n",
                     b"GET /metrics HTTP/1.1\r\nHost: x\r\nConnection: X-Forwarded-For, close\r\n"):
            self.assertNotIn(b"cairn_", self.front.raw(head + b"\r\n", timeout=1))


class Streams:
    def test_messages_flow(self):
        listeners = [serving.Stream(self.front) for _ in range(3)]
        try:
            for listener in listeners:
                self.assertEqual(listener.told.status, 200)
                self.assertEqual(listener.told.getheader("Content-Type"), "text/event-stream")
                self.assertIsNone(listener.told.getheader("Content-Encoding"))
                listener.message()
            for number in range(3):
                before = self.origin.get(API).json()["revision"]
                self.take([{"point": "S1/finish", "car": 8, "elapsed": f"00:01:2{number}",
                            "id": f"stream-{self.front.name}-{number}"}])
                for listener in listeners:
                    fields = listener.message()
                    while "data" not in fields:
                        fields = listener.message()
                    self.assertGreater(fields["data"]["revision"], before)
        finally:
            for listener in listeners:
                listener.close()


class Smuggling:
    """One request in, one request out: what two servers could read in two ways is refused."""

    def frames(self, key):
        """(name, bytes) of requests whose end is ambiguous, each with another request hidden
        where a second server would see its beginning. `%d` is the number of the attempt."""
        hidden = b"GET /smuggled-%d HTTP/1.1\r\nHost: x\r\n\r\n"

        def post(*lines, body):
            head = [f"POST {API}/readings HTTP/1.1", "Host: x",
                    f"Authorization: Bearer {key}", "Content-Type: application/json"]
            return "\r\n".join(head).encode() + b"\r\n" + b"".join(
                line + b"\r\n" for line in lines) + b"\r\n" + body
        two = b"[]"
        yield "two lengths", post(b"Content-Length: 2", b"Content-Length: 60", body=two + hidden)
        yield "two lengths, long first", post(b"Content-Length: 60", b"Content-Length: 2",
                                              body=two + hidden)
        yield "a list of lengths", post(b"Content-Length: 2, 60", body=two + hidden)
        for bad in (b"+2", b"-2", b"2x", b"0x2", b"2 60", b"", b"99999999999999999999",
                    b"2\x00", b"\xb2"):
            yield f"length {bad!r}", post(b"Content-Length: " + bad, body=two + hidden)
        chunk = b"2\r\n[]\r\n0\r\n\r\n"
        for coding in (b"chunked", b" chunked", b"\tchunked", b"CHUNKED", b"chunked, identity",
                       b"identity, chunked", b"xchunked", b"chunked\x0b", b"\x0bchunked",
                       b"chunked;q=1", b"gzip, chunked", b'"chunked"', b""):
            yield f"length and coding {coding!r}", post(
                b"Content-Length: 2", b"Transfer-Encoding:" + coding, body=two + hidden)
            yield f"coding {coding!r} and length", post(
                b"Transfer-Encoding: " + coding, b"Content-Length: %d" % len(chunk),
                body=b"0\r\n\r\n" + hidden)
        for line in (b"Transfer-Encoding : chunked", b" Transfer-Encoding: chunked",
                     b"Transfer_Encoding: chunked", b"X: y\rTransfer-Encoding: chunked",
                     b"X: y\nTransfer-Encoding: chunked", b"Transfer-Encoding\x00: chunked",
                     b"Transfer-Encoding:\r\n chunked", b"X: \x00\r\nTransfer-Encoding: chunked",
                     b"Transfer-Encoding: chunked\r\nTransfer-Encoding: identity",
                     b"Transfer-Encoding: identity\r\nTransfer-Encoding: chunked"):
            yield f"{line!r}", post(line, b"Content-Length: %d" % len(chunk),
                                    body=b"0\r\n\r\n" + hidden)
        for bad in (b"zz\r\n[]\r\n0\r\n\r\n", b"-2\r\n[]\r\n0\r\n\r\n", b"0x2\r\n[]\r\n0\r\n\r\n",
                    b"ffffffffffffffffff\r\n[]\r\n0\r\n\r\n", b"2\r\n[]xx0\r\n\r\n",
                    b"\r\n2\r\n[]\r\n0\r\n\r\n", b"2\r[]\r\n0\r\n\r\n",
                    b"10000000000000002\r\n[]\r\n0\r\n\r\n", b"2\r\n[]\r\n+0\r\n\r\n",
                    b"2\x00\r\n[]\r\n0\r\n\r\n"):
            yield f"chunks {bad!r}", post(b"Transfer-Encoding: chunked", body=bad + hidden)
        yield "an old version with chunks", post(
            b"Transfer-Encoding: chunked", b"Content-Length: 2",
            body=chunk + hidden).replace(b"HTTP/1.1", b"HTTP/1.0", 1)
        yield "NUL in a header", post(b"X: a\x00b", b"Content-Length: 2, 2", body=two + hidden)
        yield "NUL in the path", b"GET /a\x00b HTTP/1.1\r\nHost: x\r\nContent-Length: 9x\r\n\r\n" + \
            hidden
        yield "a huge head", post(b"X: " + b"y" * 70000 + b"\r\n\r\n" + hidden, body=b"")
        yield "very many headers", post(*(b"X-%d: y" % n for n in range(5000)),
                                        b"Content-Length: 2", body=two + hidden)
        yield "a huge path", b"GET /" + b"a" * 70000 + b" HTTP/1.1\r\nHost: x\r\n\r\n" + hidden
        yield "blanks in the path", b"GET /a HTTP/1.1\r\nHost: x\r\nY: /b HTTP/1.1" + \
            b"\r\nContent-Length: 0, 60\r\n\r\n" + hidden
        for line in (b"CONNECT x:80 HTTP/1.1", b"BREW / HTTP/1.1", b"PRI * HTTP/2.0",
                     b"TRACE / HTTP/1.1", b"GET / HTTP/9.9", b"GET /", b"get / http/1.1"):
            yield f"{line!r}", line + b"\r\nHost: x\r\nContent-Length: 1, 60\r\n\r\n" + hidden
        yield "an upgrade", b"GET / HTTP/1.1\r\nHost: x\r\nConnection: Upgrade\r\nUpgrade: h2c" + \
            b"\r\nContent-Length: 5, 50\r\n\r\n" + hidden

    def test_nothing_hidden_becomes_a_request(self):
        before = self.origin.get(API, self.origin.organiser).json()["revision"]
        tried = 0
        for tried, (name, data) in enumerate(self.frames(self.origin.organiser), 1):
            got = self.front.raw(data.replace(b"/smuggled-%d", b"/smuggled-%d" % tried),
                                 timeout=0.3)
            with self.subTest(name):
                self.assertEqual(fronts.requests_of(self.origin.log_text(),
                                                    f"/smuggled-{tried}"), 0, got[:500])
        self.assertGreater(tried, 60)
        self.assertFalse("/smuggled" in self.origin.log_text())
        self.assertEqual(self.origin.get(API, self.origin.organiser).json()["revision"], before)
        self.assertEqual(self.front.get(STANDINGS).status, 200)

    def test_what_follows_on_the_connection_obeys_the_same_rules(self):
        """A request with an unknown method does not make the cache pass on what follows unread."""
        for first in (b"BREW / HTTP/1.1\r\nHost: x\r\n\r\n",
                      b"CONNECT x:80 HTTP/1.1\r\nHost: x\r\n\r\n",
                      f"GET {API} HTTP/1.1\r\nHost: x\r\nUpgrade: h2c\r\n"
                      "Connection: Upgrade\r\n\r\n".encode(),
                      f"POST {API}/notices HTTP/1.1\r\nHost: x\r\nContent-Length: 0\r\n"
                      "\r\n".encode()):
            got = self.front.raw(first + b"GET /metrics HTTP/1.1\r\nHost: x\r\n\r\n", timeout=0.5)
            self.assertNotIn(b"cairn_", got)
        self.assertNotIn(" /metrics 200 ", "".join(
            line for line in self.origin.log_text().splitlines(True) if " 127.0.0.1 " not in line))


class Gone:
    """The server behind the cache is gone; each test has servers of its own."""

    def test_a_dead_origin_is_told_honestly(self):
        origin = serving.Server()
        self.addCleanup(origin.end)
        front = type(self).make(origin)
        self.addCleanup(front.end)
        known = front.get(STANDINGS)
        self.assertEqual(known.status, 200)
        origin.process.kill()
        origin.process.wait()
        time.sleep(FRESH_SECONDS)
        for told in (front.send("POST", "readings", [{"point": "PC1", "car": 8}], origin.organiser),
                     front.get(STANDINGS, origin.organiser), front.get(f"{API}/cars/1"),
                     front.get("/healthz"), front.get(f"{API}/stream")):
            self.assertIn(told.status, (502, 503), str(told))
        # The public may get the last copy, and its headers say how old it is.
        until = time.monotonic() + 30
        told = front.get(STANDINGS)
        while told.status != 200:
            self.assertIn(told.status, (502, 503))
            self.assertLess(time.monotonic(), until)
            time.sleep(0.2)
            told = front.get(STANDINGS)
        self.assertEqual(told.body, known.body)
        self.assertTrue("stale" in told.headers.get("cache-status", "") or
                        int(told.headers.get("age", "0")) >= 2, str(told))


class NginxTest(Crowd, Keys, Streams, Smuggling, Gone, FrontTest):
    make = fronts.Nginx

    def test_the_origin_forgets_who_left(self):
        def now():
            figures = self.origin.get("/metrics").text
            return int(figures.split("\ncairn_listeners ")[1].split("\n")[0])
        self.wait_for(lambda: now() == 0, 90)  # those of other tests have left
        listener = serving.Stream(self.front)
        listener.message()
        self.assertEqual(now(), 1)
        listener.close()
        self.wait_for(lambda: now() == 0, 90)


class VarnishTest(Crowd, Keys, Streams, Smuggling, Gone, FrontTest):
    make = fronts.Varnish


if __name__ == "__main__":
    unittest.main()
