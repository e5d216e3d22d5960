# SPDX-License-Identifier: MIT
"""Fetches every public address of an event."""

import re
import socket
import threading

from tests.support.running import API, BYS, SLUG

# What may differ between two servers with the same event: revisions, and when they were made.
NUMBERS = re.compile(rb'"revision":\d+|revision \d+|"changed":"[^"]*"'
                     rb'|<time datetime="[^"]*">[^<]*</time>|<span id="revision">\d+</span>'
                     rb'|"signer":"[0-9a-f]*"| data-revision="\d+"')


def neutral(body):
    """A body without its revision and its time, which JSON has at its beginning."""
    end = 1000 if body.startswith(b"{") else len(body)
    return NUMBERS.sub(b"", body[:end]) + body[end:]


def kept_headers(answer):
    """All headers but those that hold the time of the answer."""
    return {name: value for name, value in answer.headers.items() if name != "date"}


def addresses(route, cars, rng, all_of_them):
    """The public addresses of the event, for the items of its route as the API gives them: each
    sort of address in each form, for all points and tests or for some of them."""
    tests = [item["id"] for item in route
             if item["kind"] not in ("time-control", "passage-control")]
    ids = [item["id"] for item in route]

    def some(values, count):
        return values if all_of_them else rng.sample(values, min(count, len(values)))

    out = ["/", "/api/v1/events", API, f"/{SLUG}/", f"{API}/notices", f"/{SLUG}/notices",
           f"{API}/notices?format=csv", f"/{SLUG}/screen", f"/{SLUG}/event", f"/{SLUG}/?after=live",
           f"/{SLUG}/?lang=de", f"{API}/board", f"/{SLUG}/compare?cars={cars[0]},{cars[-1]}"]
    for by in BYS:
        out += [f"{API}/standings?by={by}"]
        if by != "test" or all_of_them:  # two megabytes
            out += [f"{API}/standings?by={by}&format=csv", f"/{SLUG}/?by={by}"]
    out += [f"{API}/standings?after={point}" for point in some(ids, 8)]
    for point in some(ids, 2):
        by = rng.choice(BYS[:4])
        out += [f"/{SLUG}/?after={point}&by={by}",
                f"{API}/standings?after={point}&by={by}&format=csv",
                f"{API}/cars/{cars[0]}?after={point}"]
    for car in cars:
        out += [f"{API}/cars/{car}", f"{API}/cars/{car}?format=csv", f"/{SLUG}/cars/{car}"]
    for test in tests:
        out += [f"{API}/tests/{test}"]
    for test in some(tests, 2):
        out += [f"{API}/tests/{test}?format=csv", f"/{SLUG}/tests/{test}"]
    for day in some([1, 2, 3, 4], 1):
        out += [f"{API}/starts/{day}", f"{API}/starts/{day}?format=csv", f"/{SLUG}/starts/{day}"]
    return out


def addresses_of_item(item, cars):
    """The addresses that a hidden item would have if it were not hidden."""
    out = [f"{API}/tests/{item}", f"{API}/tests/{item}?format=csv", f"/{SLUG}/tests/{item}"]
    for point in (item, f"{item}/1", f"{item}/start"):
        out += [f"{API}/standings?after={point}", f"{API}/standings?by=test&after={point}",
                f"/{SLUG}/?after={point}", f"{API}/cars/{cars[0]}?after={point}",
                f"/{SLUG}/cars/{cars[0]}?after={point}"]
    return out


class Stream:
    """A listener of the event's stream, over a bare socket."""

    def __init__(self, test, server):
        self.bytes, self.seen = b"", 0
        self.lock = threading.Lock()
        self.socket = socket.create_connection(("127.0.0.1", server.port), timeout=60)
        test.addCleanup(self.socket.close)
        self.socket.sendall(f"GET {API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
        self.thread = threading.Thread(target=self.read, daemon=True)
        self.thread.start()

    def read(self):
        try:
            while data := self.socket.recv(65536):
                with self.lock:
                    self.bytes += data
        except OSError:
            pass  # closed by the test

    def last(self):
        """The revision of the last whole message."""
        with self.lock:
            ids = re.findall(rb"^id: (\d+)\n.*\n\n", self.bytes, re.M)
        return int(ids[-1]) if ids else self.seen

    def take_until(self, test, revision):
        """All that came up to and including the message of this revision."""
        test.wait_for(lambda: self.last() >= revision)
        self.seen = self.last()
        with self.lock:
            taken, self.bytes = self.bytes, b""
        return taken
