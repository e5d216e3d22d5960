# SPDX-License-Identifier: MIT
"""The demo event in a temporary folder: its rows, folders of them, servers and clients of a test.

A server is ended by its own process id, whatever became of the test.
"""

import csv
import io
import json
import os
import random
import shutil
import subprocess
import tempfile
import time
import unittest
import zlib

from tests.support.cairn import ROOT, SLOWNESS, cairn
from tests.support.client import Client
from tests.support.server import Server

DEMO = os.path.join(ROOT, "seed-demo", "merrow-2027")
SLUG = "merrow-2027"
API = f"/api/v1/events/{SLUG}"
BYS = ("overall", "class", "category", "day", "test", "team")
READING_FIELDS = ("point", "car", "time", "elapsed", "faults", "id", "at", "by", "replaces",
                  "void", "reason")
DECISION_FIELDS = ("kind", "car", "point", "value", "reason", "id", "at", "by")
FIELDS = {"readings": READING_FIELDS, "decisions": DECISION_FIELDS}


def read_rows(path):
    """Rows of a CSV file as dictionaries."""
    with open(path, encoding="utf-8", newline="") as file:
        return list(csv.DictReader(file))


def demo_rows(name):
    """The demo's readings or decisions, each once."""
    rows = read_rows(os.path.join(DEMO, name + ".csv"))
    return [{field: row[field] for field in FIELDS[name]}
            for row in {tuple(row.items()): row for row in rows}.values()]


def csv_bytes(rows, fields, delimiter=","):
    """Rows as a CSV text with a header row."""
    out = io.StringIO()
    writer = csv.DictWriter(out, fieldnames=fields, delimiter=delimiter, lineterminator="\n")
    writer.writeheader()
    writer.writerows(rows)
    return out.getvalue().encode()


def write_folder(folder, readings=(), decisions=()):
    """The demo's event folder with these facts only."""
    os.makedirs(folder, exist_ok=True)
    for name in ("event.json", "entries.csv", "starts.csv"):
        shutil.copy(os.path.join(DEMO, name), folder)
    for name, rows in (("readings", readings), ("decisions", decisions)):
        path = os.path.join(folder, name + ".csv")
        if rows:
            with open(path, "wb") as file:
                file.write(csv_bytes(rows, FIELDS[name]))
        elif os.path.exists(path):
            os.remove(path)
    return folder


def rename(folder, slug):
    """Gives the event of a folder another slug."""
    path = os.path.join(folder, "event.json")
    with open(path, encoding="utf-8") as file:
        text = file.read()
    with open(path, "w", encoding="utf-8") as file:
        file.write(text.replace(f'"slug": "{SLUG}"', f'"slug": "{slug}"'))
    return folder


def preloaded(source, library):
    """Builds a library from one C file; returns the environment of a program in which its
    functions take the place of the system's."""
    subprocess.run(["gcc", "-std=c17", "-D_GNU_SOURCE", "-shared", "-fPIC", "-Wall", "-Werror",
                    source, "-o", library, "-ldl"], check=True, timeout=60)
    own = os.environ.get("ASAN_OPTIONS", "")
    return {**os.environ, "LD_PRELOAD": library,
            "ASAN_OPTIONS": own + ":verify_asan_link_order=0"}


def row_set(rows, name):
    """Rows as a set of tuples; fails where one is there twice."""
    found = [tuple(row[field] for field in FIELDS[name]) for row in rows]
    if len(found) != len(set(found)):
        raise AssertionError(f"{len(found) - len(set(found))} rows of {name} come twice")
    return set(found)


def encode(rows, fields, rng=random):
    """A body in one of the three media types, in one of the ways that each allows."""
    how = rng.choice(("json", "ndjson", "csv"))
    if how == "csv":
        order = rng.sample(fields, len(fields))
        mark = b"\xef\xbb\xbf" if rng.random() < 0.3 else b""
        return "text/csv", mark + csv_bytes(rows, order, rng.choice(",;"))
    objects = []
    for row in rows:
        given = {field: value for field, value in row.items() if value or rng.random() < 0.2}
        if given.get("car") and rng.random() < 0.5:
            given["car"] = int(given["car"])
        if given.get("void") == "yes":
            given["void"] = True
        objects.append(given)
    if how == "json":
        return "application/json", json.dumps(objects).encode()
    return "application/x-ndjson", b"".join(json.dumps(o).encode() + b"\n" for o in objects)


class EventClient(Client):
    """A client of the event's own addresses."""

    def post(self, name, rows, rng=None):
        """Posts readings or decisions: as JSON, or in any way where `rng` is given."""
        if rng is None:
            media_type, body = "application/json", json.dumps(rows).encode()
        else:
            media_type, body = encode(rows, FIELDS[name], rng)
        return self.ask("POST", f"{API}/{name}", body, media_type)

    def take(self, name, rows, rng=None):
        """Posts what must be answered with 200; returns the answer's object."""
        answer = self.post(name, rows, rng)
        if answer.status != 200:
            raise AssertionError(str(answer))
        return answer.json()


def seed_of(test):
    """What a test's choices at random come from: its name, so that every run of `make test` makes
    the same ones. CAIRN_SEED=new lets it choose anew, CAIRN_SEED=7 as a run did that told 7."""
    asked = os.environ.get("CAIRN_SEED") or ""
    if asked == "new":
        return random.SystemRandom().randrange(10**6)
    return int(asked) if asked else zlib.crc32(test.encode()) % 10**6


class RunningTest(unittest.TestCase):
    """A test with a temporary folder, event files and servers of its own."""

    def setUp(self):
        self.seed = seed_of(self.id())
        self.rng = random.Random(self.seed)
        self.folder = tempfile.mkdtemp(prefix="cairn-test-")
        self.addCleanup(shutil.rmtree, self.folder, ignore_errors=True)
        self.addCleanup(self.tell_seed)

    def tell_seed(self):
        """Prints the seed into the log of a test that failed: CAIRN_SEED=… runs it with the same
        choices."""
        print(f"{self.id()}: seed {self.seed}", flush=True)

    def path(self, *parts):
        return os.path.join(self.folder, *parts)

    def import_demo(self, data="data", readings=(), decisions=()):
        """An event file with these facts; returns the data folder."""
        folder = write_folder(self.path(data + "-event"), readings, decisions)
        cairn("import", self.path(data), folder)
        return self.path(data)

    def add_key(self, data, role="organiser", points=None):
        more = ("--points", points) if points else ()
        return cairn("key", "add", data, SLUG, "--role", role, *more).stdout.decode().strip()

    def start(self, data, **options):
        """A server that is ready."""
        server = Server(data, **options)
        self.addCleanup(server.discard)
        return server.wait_ready()

    def client(self, server, key=None):
        client = EventClient(server, key)
        self.addCleanup(client.close)
        return client

    def export(self, data, name="export"):
        cairn("export", data, SLUG, self.path(name))
        return self.path(name)

    def wait_for(self, what, seconds=60 * SLOWNESS):
        """Waits until what() is true."""
        until = time.monotonic() + seconds
        while not what():
            if time.monotonic() > until:
                self.fail("it does not come about")
            time.sleep(0.01)
