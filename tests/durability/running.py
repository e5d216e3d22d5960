# SPDX-License-Identifier: MIT
"""Runs the real program in a temporary folder: commands, servers on a free port, clients.

CAIRN in the environment names the program, build/cairn by default. A server is ended by its own
process id, whatever became of the test.
"""

import csv
import http.client
import io
import json
import os
import random
import re
import shutil
import signal
import subprocess
import tempfile
import threading
import time
import unittest
import zlib

ROOT = os.path.abspath(os.path.join(os.path.dirname(__file__), "..", ".."))
CAIRN = os.path.abspath(os.environ.get("CAIRN") or os.path.join(ROOT, "build", "cairn"))
DEMO = os.path.join(ROOT, "seed-demo", "merrow-2027")
SLUG = "merrow-2027"
API = f"/api/v1/events/{SLUG}"
BYS = ("overall", "class", "category", "day", "test", "team")
READING_FIELDS = ("point", "car", "time", "elapsed", "faults", "id", "at", "by", "replaces",
                  "void", "reason")
DECISION_FIELDS = ("kind", "car", "point", "value", "reason", "id", "at", "by")
FIELDS = {"readings": READING_FIELDS, "decisions": DECISION_FIELDS}
SLOWNESS = int(os.environ.get("CAIRN_SLOWNESS") or 1)  # of a build with sanitizers
READY_SECONDS = 60 * SLOWNESS  # on a busy machine


def cairn(*arguments, code=0, **options):
    """Runs a command and returns what it printed. `code` is how it must end, None for any way."""
    done = subprocess.run([CAIRN, *arguments], capture_output=True, timeout=120 * SLOWNESS,
                          check=False, **options)
    if code is not None and done.returncode != code:
        raise AssertionError(f"cairn {' '.join(arguments)} ended with {done.returncode}, not "
                             f"{code}: {done.stderr.decode(errors='replace')}")
    return done


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


def route_table():
    """The server's own list of addresses; tests/http/route_table.c says what it holds."""
    program = os.path.join(ROOT, os.environ.get("BUILD") or "build", "tests", "route_table")
    return json.loads(subprocess.run([program], check=True, capture_output=True, timeout=60).stdout)


def preloaded(source, library):
    """Builds a library from one C file; returns the environment of a program that it is put in front
    of the system's for."""
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
    """A body in one of the three media types, written in one of the ways each allows."""
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


class Answer:
    """A status, the headers with names in lower case, and the body."""

    def __init__(self, status, headers, body):
        self.status, self.headers, self.body = status, headers, body

    def json(self):
        return json.loads(self.body)


class Client:
    """One keep-alive connection to a server, opened anew where it was lost. Not for two threads."""

    IDLE_SECONDS = 30  # the server ends a connection that nothing was asked on for a minute

    def __init__(self, server, key=None, timeout=60 * SLOWNESS):
        self.server, self.key, self.timeout = server, key, timeout
        self.connection, self.used = None, 0

    def close(self):
        if self.connection is not None:
            self.connection.close()
            self.connection = None

    def ask(self, method, path, body=None, media_type=None, headers=None):
        """Asks once. Raises OSError or HTTPException where no whole answer came."""
        sent = dict(headers or {})
        if self.key is not None:
            sent["Authorization"] = "Bearer " + self.key
        if media_type is not None:
            sent["Content-Type"] = media_type
        if time.monotonic() - self.used > self.IDLE_SECONDS:
            self.close()
        if self.connection is None:
            self.connection = http.client.HTTPConnection(self.server.host, self.server.port,
                                                         timeout=self.timeout)
        try:
            self.connection.request(method, path, body, sent)
            told = self.connection.getresponse()
            answer = Answer(told.status, {k.lower(): v for k, v in told.getheaders()}, told.read())
        except (OSError, http.client.HTTPException):
            self.close()
            raise
        self.used = time.monotonic()
        if told.will_close:
            self.close()
        return answer

    def get(self, path, **headers):
        return self.ask("GET", path, headers=headers)

    def good(self, path):
        """The body of a page that must be there."""
        answer = self.get(path)
        if answer.status != 200:
            raise AssertionError(f"GET {path}: {answer.status} {answer.body[:300]!r}")
        return answer.body

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
            raise AssertionError(f"POST {name}: {answer.status} {answer.body[:300]!r}")
        return answer.json()


class Server:
    """`cairn serve` on a free port. `wrap` comes before the command, `more` after it, `options`
    go to Popen; what it writes to standard error goes to a file that `errors` reads."""

    host = "127.0.0.1"

    def __init__(self, data, wrap=(), program=CAIRN, listen="127.0.0.1:0", more=(), **options):
        self.log = tempfile.TemporaryFile(prefix="cairn-log-")
        self.port = None
        self.process = subprocess.Popen(
            [*wrap, program, "serve", data, "--listen", listen, *more],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=self.log, **options)

    def wait_ready(self):
        """Waits for the line that tells the address. Raises where the server ends instead."""
        timer = threading.Timer(READY_SECONDS, self.process.kill)
        timer.start()
        line = self.process.stdout.readline().decode()
        timer.cancel()
        found = re.fullmatch(r"listening on http://(?:127\.0\.0\.1|0\.0\.0\.0):(\d+)/\n", line)
        if found is None:
            self.process.wait(READY_SECONDS)
            raise AssertionError(f"the server is not ready: {line!r} {self.errors()}")
        self.port = int(found.group(1))
        return self

    @property
    def pid(self):
        return self.process.pid

    def errors(self):
        """What it wrote to standard error, the access log set aside."""
        # Without a seek: the server writes where its descriptor stands, and that is this one's too.
        log = self.log.fileno()
        text = os.pread(log, os.fstat(log).st_size, 0).decode(errors="replace")
        return "".join(line for line in text.splitlines(True)
                       if not re.match(r"\d{4}-\d\d-\d\dT\S+Z \S+ \S+ \S+ \d+ \d+$", line))

    def running(self):
        return self.process.poll() is None

    def end(self, how=signal.SIGTERM):
        """Ends it and returns its exit code."""
        if self.running():
            self.process.send_signal(how)
        try:
            code = self.process.wait(READY_SECONDS)
        except subprocess.TimeoutExpired:
            self.process.kill()
            self.process.wait()
            raise AssertionError("the server does not end on SIGTERM") from None
        self.process.stdout.close()
        return code

    def discard(self):
        """For clean-up: ends it in any case."""
        if self.running():
            self.process.kill()
            self.process.wait()
        self.process.stdout.close()
        self.log.close()


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
        """Seen in the log of a test that failed: CAIRN_SEED=… runs it with the same choices."""
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
        client = Client(server, key)
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
