# SPDX-License-Identifier: MIT
"""Health, figures and the access log."""

import http.client
import os
import re
import socket
import subprocess
import threading
import time

from tests.support.cairn import CAIRN
from tests.support.serving import API, SLUG, ServedTest

NAME = r"[a-zA-Z_:][a-zA-Z0-9_:]*"
SAMPLE = re.compile(rf'({NAME})(?:\{{([^}}]*)\}})? (-?[0-9]+(?:\.[0-9]+)?)')
LABEL = re.compile(r'([a-zA-Z_][a-zA-Z0-9_]*)="((?:[^"\\\n]|\\["\\n])*)"')
SUFFIXES = {"counter": {"_total"}, "gauge": {""}, "info": {"_info"},
            "histogram": {"_bucket", "_count", "_sum"}}
BOUND = re.compile(r'(.+)_bucket\{le="([0-9]+\.[0-9]+|\+Inf)"\}')


def check_histogram(name, samples):
    """Buckets come in order of their bounds, each counts what the one before counts, and the last
    counts all."""
    buckets = [(float(m[2].replace("+Inf", "inf")), value) for key, value in samples.items()
               for m in [BOUND.fullmatch(key)] if m and m[1] == name]
    bounds, counts = zip(*buckets)
    if list(bounds) != sorted(set(bounds)) or bounds[-1] != float("inf"):
        raise AssertionError(f"the bounds of {name} are {bounds}")
    if list(counts) != sorted(counts) or counts[-1] != samples[name + "_count"]:
        raise AssertionError(f"the buckets of {name} are {counts}")
    if len(buckets) != sum(key.startswith(name + "_bucket") for key in samples):
        raise AssertionError(f"a bucket of {name} has no bound")
    total = samples[name + "_sum"]
    if not sum(low * n for low, n in least(buckets)) <= total:
        raise AssertionError(f"the sum of {name} is {total}")


def least(buckets):
    """(least value, how many) of each bucket."""
    before = (0.0, 0)
    for bound, count in buckets:
        yield before[0], count - before[1]
        before = (bound, count)


def parse(text):
    """OpenMetrics text as {sample: value}; fails where it is not well-formed."""
    if not text.endswith("# EOF\n"):
        raise AssertionError("it does not end with # EOF")
    samples, kinds, units, family = {}, {}, {}, None
    for line in text[:-len("# EOF\n")].splitlines():
        told = re.fullmatch(rf"# (TYPE|UNIT|HELP) ({NAME}) (.+)", line)
        if told:
            what, name, value = told.groups()
            if what == "TYPE":
                if name in kinds:
                    raise AssertionError(f"the family {name} comes twice")
                family, kinds[name] = name, value
            if what == "UNIT":
                units[name] = value
                if not name.endswith("_" + value):
                    raise AssertionError(f"{name} does not end with its unit {value}")
            if name != family:
                raise AssertionError(f"{line!r} stands in the family {family}")
            continue
        sample = SAMPLE.fullmatch(line)
        if not sample:
            raise AssertionError(f"{line!r} is no line of OpenMetrics")
        name, labels, value = sample.groups()
        if labels is not None and ",".join(m.group() for m in LABEL.finditer(labels)) != labels:
            raise AssertionError(f"{line!r} has labels that are none")
        if name not in {family + suffix for suffix in SUFFIXES[kinds[family]]}:
            raise AssertionError(f"{name} is no sample of the {kinds[family]} {family}")
        key = line.rsplit(" ", 1)[0]
        if key in samples:
            raise AssertionError(f"the sample {key} comes twice")
        samples[key] = float(value)
        if kinds[family] in ("counter", "info", "histogram") and samples[key] < 0:
            raise AssertionError(f"{line!r} is below 0")
    for name, kind in kinds.items():
        if kind == "histogram":
            check_histogram(name, samples)
    return samples


class FiguresTest(ServedTest):
    LINE = re.compile(r"^\d{4}-\d\d-\d\dT\S+ \S+ [A-Z]+ /", re.M)

    def figures(self):
        """The figures of /metrics once every answer so far is counted: an answer is counted and
        logged after it is sent, so its reader may be earlier."""
        self.wait_for(lambda: len(self.LINE.findall(self.server.log_text())) >=
                      len(self.server.answers))
        return parse(self.server.get("/metrics").text)

    def test_health(self):
        told = self.server.get("/healthz")
        self.assertEqual((told.status, told.json()), (200, {"status": "ok", "can_write": True}))

    def test_the_media_type_is_that_of_openmetrics(self):
        self.assertEqual(self.server.get("/metrics").headers["content-type"],
                         "application/openmetrics-text; version=1.0.0; charset=utf-8")

    def test_figures_count_what_happened(self):
        before = self.figures()
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 3, "id": "m-1"}, {"point": "PC1", "car": 3, "id": "m-1"},
            {"point": "PC9", "car": 3}]), 1, 1, [3])
        self.server.get(f"{API}/cars/4")
        tag = self.server.get(API).headers["etag"]
        self.server.get(API, If_None_Match=tag)
        self.server.get(API, "nonsense")
        now = self.figures()
        more = {name: now[name] - before[name] for name in now if now[name] != before[name] and
                not re.search(r"_bucket|cairn_(uptime|resident|open|revision|connections$)", name)}
        self.assertEqual(more.pop('cairn_uploads_total{kind="readings"}'), 1)
        self.assertEqual(more.pop("cairn_rows_accepted_total"), 1)
        self.assertEqual(more.pop("cairn_rows_duplicate_total"), 1)
        self.assertEqual(more.pop('cairn_rows_refused_total{reason="unknown-point"}'), 1)
        self.assertEqual(more.pop("cairn_key_failures_total"), 1)
        self.assertEqual(more.pop('cairn_http_requests_total{code="2xx"}'), 3)
        self.assertEqual(more.pop('cairn_http_requests_total{code="3xx"}'), 1)
        self.assertEqual(more.pop('cairn_http_requests_total{code="4xx"}'), 2)
        self.assertEqual(more.pop('cairn_requests_refused_total{reason="no-key"}'), 1)
        self.assertEqual(more.pop('cairn_requests_refused_total{reason="not-found"}'), 1)
        self.assertEqual(more.pop("cairn_commit_seconds_count"), 1)
        self.assertEqual(more.pop("cairn_publish_seconds_count"), 1)
        self.assertGreater(more.pop("cairn_commit_seconds_sum"), 0)
        more.pop("cairn_publish_seconds_sum", None)
        self.assertEqual(more.pop("cairn_answers_made_total"), 2)  # the card that is none, the event
        self.assertEqual(more, {})
        self.assertEqual((now["cairn_events"], now["cairn_listeners"],
                          now["cairn_writes_waiting"]), (1, 0, 0))

    def refused_more(self, family, what):
        """By how much `what` raises the figures of a family, by reason."""
        before = self.figures()

        def added():
            found = {}
            for name, value in self.figures().items():
                reason = re.fullmatch(family + r'_total\{reason="([a-z-]+)"\}', name)
                if reason and value != before[name]:
                    found[reason[1]] = value - before[name]
            return found
        what()
        self.wait_for(added)
        return added()

    def test_requests_are_refused_by_reason(self):
        tag = '"decisions-99999"'
        for reason, what in (
                ("bad-request", lambda: self.server.post("readings", "{")),
                ("wrong-key", lambda: self.server.post("decisions", [], self.server.timekeeper)),
                ("media-type", lambda: self.server.post("readings", "x", media_type="image/png")),
                ("too-large", lambda: self.server.post("notices", b" " * (65 << 10))),
                ("bad-document", lambda: self.server.send("PUT", "rules", {},
                                                          self.server.organiser)),
                ("somebody-was-first", lambda: self.server.post("decisions", [], If_Match=tag)),
                ("wrong-method", lambda: self.server.ask("DELETE", API))):
            with self.subTest(reason):
                self.assertEqual(self.refused_more("cairn_requests_refused", what), {reason: 1})

    def test_rows_are_refused_by_reason(self):
        key = self.server.timekeeper
        self.server.post("readings", [{"point": "PC1", "car": 8, "id": "m-2"}])
        for reason, row, who in (
                ("unknown-car", {"point": "PC1", "car": 777}, None),
                ("unknown-point", {"point": "PC7", "car": 8}, None),
                ("id-taken", {"point": "PC1", "car": 9, "id": "m-2"}, None),
                ("value", {"point": "TC1", "car": 8, "time": "8 o'clock"}, None),
                ("not-this-keys", {"point": "PC1", "car": 8}, key),
                ("unreadable", {"point": "PC1", "car": [8]}, None)):
            with self.subTest(reason):
                self.assertEqual(self.refused_more(
                    "cairn_rows_refused",
                    lambda row=row, who=who: self.server.post("readings", [row], who)), {reason: 1})

    def test_the_machine_and_the_program(self):
        now = self.figures()
        self.assertEqual([v for n, v in now.items() if n.startswith("cairn_build_info{version=")],
                         [1])
        with open(f"/proc/{self.server.process.pid}/statm", encoding="ascii") as file:
            pages = int(file.read().split()[1])
        self.assertLess(abs(now["cairn_resident_memory_bytes"] / 4096 - pages), pages)
        self.assertGreater(now["cairn_open_files"], 3)
        self.assertGreaterEqual(now["cairn_uptime_seconds"], 0)
        self.assertGreaterEqual(now["cairn_connections"], 1)

    def test_an_event_has_an_age_and_its_desks_have_gaps(self):
        desk = {"desk": "0a1b2c3d", "car": 5, "point": "PC1"}
        self.server.post("readings", [dict(desk, seq="1", id="gap-1"),
                                      dict(desk, seq="4", id="gap-4")])
        now = self.figures()
        label = f'{{event="{SLUG}"}}'
        self.assertEqual(now["cairn_desks" + label], 1)
        self.assertEqual(now["cairn_desks_with_gaps" + label], 1)
        self.assertEqual(now["cairn_desk_numbers_missing" + label], 2)
        self.assertLess(now["cairn_revision_age_seconds" + label], 60)

    def test_figures_are_for_this_machine_alone(self):
        """They count hidden uploads too, so a proxy must not pass them on."""
        for name in ("X_Forwarded_For", "Forwarded"):
            self.assert_problem(self.server.get("/metrics", **{name: "for=192.0.2.1"}), 404)
        self.assertEqual(self.server.get("/healthz", X_Forwarded_For="192.0.2.1").status, 200)


class ListeningTest(ServedTest):
    def serve(self, listen):
        return subprocess.Popen([CAIRN, "serve", self.server.data, "--listen", listen],
                                stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
                                stderr=subprocess.PIPE)

    def test_a_port_that_is_taken_and_a_name_that_is_none(self):
        for listen in (f"127.0.0.1:{self.server.port}", "no such name:80"):
            with self.serve(listen) as process:
                timer = threading.Timer(60, process.kill)
                timer.start()
                out, err = process.communicate()
                timer.cancel()
                self.assertIn(process.returncode, (1, 2))
                self.assertEqual(out, b"")
                self.assertIn(b"cairn", err)

    def test_figures_over_ipv6_are_for_this_machine_too(self):
        with self.serve("[::1]:0") as process:
            try:
                line = process.stdout.readline()
                if not line:  # a machine without IPv6 is told so
                    self.assertIn(b"::1", process.stderr.read())
                    return
                port = int(re.search(rb":(\d+)/$", line)[1])
                for headers, status in (({}, 200), ({"X-Forwarded-For": "192.0.2.1"}, 404)):
                    peer = http.client.HTTPConnection("::1", port, timeout=20)
                    peer.request("GET", "/metrics", headers=headers)
                    self.assertEqual(peer.getresponse().status, status)
                    peer.close()
            finally:
                process.terminate()
                process.communicate(timeout=60)
            self.assertEqual(process.returncode, 0)


class LogTest(ServedTest):
    LINE = re.compile(r"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ (\S+) (\S+) (\S+) (\d+) (\d+)")

    def lines(self, text):
        """Method, path and status of the log lines that contain the text."""
        return [(m[2], m[3], int(m[4])) for line in self.server.log_text().splitlines()
                if text in line for m in [self.LINE.fullmatch(line)] if m]

    def wait_lines(self, text, count):
        self.wait_for(lambda: len(self.lines(text)) >= count)
        return self.lines(text)

    def test_one_line_a_request(self):
        self.server.get(f"{API}/cars/1")
        self.server.ask("HEAD", f"{API}/cars/1")
        self.server.ask("DELETE", f"{API}/cars/1")
        # Each on a connection of its own, perhaps of another thread: in any order.
        self.assertEqual(sorted(self.wait_lines("/cars/1", 3)),
                         sorted((method, f"{API}/cars/1", status) for method, status in
                                (("GET", 200), ("HEAD", 200), ("DELETE", 405))))
        self.server.post("readings", [])
        self.assertEqual(self.wait_lines("/readings", 1), [("POST", f"{API}/readings", 200)])

    def test_every_line_is_whole(self):
        self.server.get("/")
        self.wait_lines(" / ", 1)
        # The last may be on its way into the file.
        for line in self.server.log_text().rpartition("\n")[0].splitlines():
            if " error event=" not in line:
                self.assertRegex(line, self.LINE)

    def test_no_key_no_query_and_no_line_of_the_clients_own(self):
        self.server.get(f"/{SLUG}/tests/S1?token=hush", self.server.organiser)
        with self.server.connect() as peer:
            peer.sendall(f"GET /{SLUG}/x%0a1999-01-01T00:00:00Z%20forged HTTP/1.1\r\nHost: x\r\n"
                         "\r\n".encode())
            peer.recv(4096)
        self.server.raw(b"GET /\x1b[31mred\x07 HTTP/1.1\r\nHost: x\r\nConnection: close\r\n\r\n",
                        timeout=1)
        self.wait_lines("/tests/S1", 1)
        self.wait_lines("forged", 1)
        log = self.server.log_text()
        self.assertNotIn("hush", log)
        self.assertNotIn("?token", log)
        self.assertNotIn(self.server.organiser, log)
        self.assertNotIn(self.server.timekeeper, log)
        self.assertNotRegex(log, r"(?m)^1999")
        self.assertNotRegex(log, r"[\x00-\x09\x0b-\x1f\x7f]")

    def test_a_file_that_is_no_event_is_told_once_and_by_name(self):
        before = self.server.log_text()
        path = os.path.join(self.server.data, "broken-2031.cairn")
        with open(path + ".part", "wb") as file:
            file.write(b"no event at all" * 1000)
        os.rename(path + ".part", path)  # or it may be looked at half written, and told of twice
        errors = re.compile(r'(?m)^\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ error event=\S+ what="([^"\n]+)"$')
        self.wait_for(lambda: errors.search(self.server.log_text()[len(before):]))
        time.sleep(2.5)  # it is looked for each second
        os.remove(path)
        told = [m[1] for m in errors.finditer(self.server.log_text()[len(before):])]
        self.assertEqual(len(told), 1, told)
        self.assertIn("broken-2031.cairn", told[0])

    def test_a_client_that_left_is_logged_without_harm(self):
        with socket.create_connection(("127.0.0.1", self.server.port)) as peer:
            peer.sendall(f"POST {API}/readings HTTP/1.1\r\nHost: x\r\nContent-Type: text/csv\r\n"
                         f"Authorization: Bearer {self.server.organiser}\r\n"
                         "Content-Length: 100\r\n\r\npoint".encode())
        self.assertEqual(self.server.get("/healthz").status, 200)
        self.test_every_line_is_whole()
