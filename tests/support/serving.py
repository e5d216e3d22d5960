# SPDX-License-Identifier: MIT
"""A small event of our own, the real program serving it, and clients that speak HTTP to it.

Everything is in a temporary folder; a server is ended by its own process id.
"""

import json
import os
import re
import shutil
import socket
import tempfile
import time
import unittest

from tests.support import cairn as program, client, server
from tests.support.cairn import READY_SECONDS
from tests.support.client import GUARD_SECONDS

SLUG = "gannet-2031"
API = f"/api/v1/events/{SLUG}"
SECRET = "Whinfell"  # in the name of the hidden regularity, and nowhere else

EVENT = {
    "name": "Gannet Trial 2031 <i>& friends</i>", "slug": SLUG,
    "timezone": "Atlantic/Azores", "unit": "km",
    "days": [
        {"date": "2031-06-06", "first_start": "08:01", "interval": "00:01:00", "order": "number"},
        {"date": "2031-06-07", "first_start": "09:01", "interval": "00:01:00", "order": "number"}],
    "classes": {"scheme": "fiva", "categories": [{"id": "open", "name": "Open"},
                                                 {"id": "club", "name": "Club <b>cars</b>"}],
                "groups": [{"id": "low", "name": "Lower <i>averages</i>"},
                           {"id": "ladies", "name": "Ladies"}]},
    "scoring": {
        "timing": "target", "teams": {"count": 2}, "ties": ["most-clean", "older-car"],
        "defaults": {
            "time-control": {"precision": "minute", "per": "minute", "early": 60, "late": 10,
                             "missed": 900},
            "passage-control": {"missed": 300},
            "regularity": {"precision": "second", "per": "second", "early": 1, "late": 1,
                           "cap": 60, "missed": 120}}},
    "awards": [
        {"id": "bowl", "name": "Gannet <s>Bowl</s>", "by": "overall", "places": 2},
        {"id": "ladies", "name": "Ladies", "by": "group", "of": "ladies",
         "among": {"group": ["low", "ladies"]}},
        {"id": "make", "name": "Best Calder", "by": "make", "of": "Calder"},
        {"id": "medal", "name": "Medal", "by": "overall", "within": 900},
        {"id": "era", "name": "Best of its era", "by": "class", "once": True},
        {"id": "walk", "name": "Walk Plate", "by": "test", "of": "S1"},
        {"id": "shield", "name": "Shield", "by": "team"}],
    "route": [
        {"day": 1, "id": "TC1", "kind": "time-control", "name": "Old quay", "target": "00:45:00",
         "distance": "31.2"},
        {"day": 1, "id": "PC1", "kind": "passage-control", "name": "Fulmar <u>Bridge</u>",
         "place": {"lat": "54.237713", "lon": "-4.551277", "heading": "75.125"}},
        {"day": 1, "id": "R1", "kind": "regularity", "name": f"{SECRET} Moor",
         "speeds": [{"from": 0, "speed": 48}], "checks": [{"at": "5.371"}, {"at": "9.023"}],
         "places": {"/start": {"lat": "54.240219", "lon": "-4.538871", "heading": 80},
                    "/2": {"lat": "54.251283", "lon": "-4.512137", "heading": "81.5"}}},
        {"day": 1, "id": "T1", "kind": "set-time", "name": "Harbour pads",
         "targets": ["11.70", "9.00"],
         "penalty": {"precision": "hundredth", "early": 1, "late": 1, "cap": 300, "missed": 600}},
        {"day": 1, "id": "S1", "kind": "special-test", "name": "Rope <em>walk</em>",
         "bogey": "00:01:10", "maximum": "00:03:00", "faults": {"cone": 5, "line": 10}},
        {"day": 2, "id": "L1", "kind": "consistency", "name": "Kiln loop", "laps": 3},
        {"day": 2, "id": "TC2", "kind": "time-control", "name": "New quay",
         "target": "00:30:00"}]}

SCRIPT = "<script>alert(1)</script>"
ENTRIES = (
    "number,driver,navigator,make,model,year,engine_cc,category,team,groups\n"
    "1,A. Thorne,M. Vale,Calder,Six,1929,1996,open,Rooks,low\n"
    "2,B. Ashdown,,Brixham,Tourer,1934,1287,open,Rooks,\"low;ladies\"\n"
    f"3,{SCRIPT},\"O'Lund & \"\"Sons\"\"\",<b>Marl</b>,Ten,1938,,club,{SCRIPT},ladies\n"
    f"5,E. Quill,R. Sedge,Calder,Eight,1955,3400,club,{SCRIPT},\n"
    "8,Æ. Ødegård,P. Ling,Brixham,Light,1966,998,open,Rooks,\n"
    "9,H. Fenn,,Calder,Six,1930,1996,club,,low\n")

READINGS = (
    "point,car,time,elapsed,faults,id\n"
    "TC1,1,08:46:30,,,seed-1\nTC1,2,08:48:10,,,seed-2\nTC1,3,08:48:00,,,seed-3\n"
    "PC1,1,,,,seed-4\nPC1,2,,,,seed-5\n"
    "R1/start,1,09:00:00,,,seed-6\nR1/1,1,09:06:50,,,seed-7\n"
    "S1/finish,1,,00:01:15.2,cone=1,seed-8\n")

DECISIONS = ("kind,car,point,value,reason,id\n"
             "penalty,2,,30,Late at scrutineering,ruling-1\n")


def write_folder(folder, event=None, entries=ENTRIES, readings=READINGS, decisions=DECISIONS):
    """An event folder; the small event's files unless others are given."""
    os.makedirs(folder, exist_ok=True)
    files = {"event.json": json.dumps(event or EVENT, ensure_ascii=False), "entries.csv": entries,
             "readings.csv": readings, "decisions.csv": decisions}
    for name, text in files.items():
        with open(os.path.join(folder, name), "w", encoding="utf-8") as file:
            file.write(text)
    return folder


def cairn(*arguments):
    """Runs a command that must succeed; returns what it printed."""
    return program.cairn(*arguments).stdout.decode()


class Server:
    """`cairn serve` on a free port, with the small event and its keys; with more options, and more
    in its environment, in a class of one's own."""

    options, env = (), {}
    trust = None  # an ssl context where it has a certificate
    served = process = None

    def __init__(self, **files):
        self.folder = tempfile.mkdtemp(prefix="cairn-http-")
        self.data = os.path.join(self.folder, "data")
        self.answers = []  # all that `ask` was given
        try:
            cairn("import", self.data, write_folder(os.path.join(self.folder, "event"), **files))
            self.organiser = self.add_key("--role", "organiser")
            self.timekeeper = self.add_key("--role", "timekeeper", "--points", "TC1,R1,S1")
            self.log = os.path.join(self.folder, "log")
            self.start()
        except BaseException:
            self.end()
            raise

    def add_key(self, *options):
        """Makes a key, or a link with one, and waits until the server knows it. The server looks
        for new keys only so often, and a slow machine may take longer."""
        told = cairn("key", "add", self.data, SLUG, *options).strip()
        until = time.monotonic() + READY_SECONDS
        while self.process is not None and self.process.poll() is None and self.ask(
                "GET", API, key=told.rpartition("#")[2], source="127.0.0.11").status != 200:
            if time.monotonic() > until:
                raise AssertionError("the server does not come to know a new key")
            time.sleep(0.01)
        return told

    def revoke_last_key(self):
        last = cairn("key", "list", self.data, SLUG).splitlines()[-1]
        cairn("key", "revoke", self.data, SLUG, last.split("\t")[0])

    def start(self):
        self.served = server.Server(self.data, more=self.options, log=self.log,
                                    **self.process_options())
        self.process = self.served.process
        self.port = self.served.wait_ready().port

    def process_options(self):
        """What Popen is given for the server."""
        return {"env": {**os.environ, **self.env}}

    def restart(self):
        """Ends the server and starts it again with the same data, on another port."""
        self.stop()
        self.start()

    def stop(self):
        """Ends the server; its folder stays, for another `start`."""
        self.served.end()
        self.served.discard()

    def end(self):
        """Ends the server and removes its folder; returns its exit code."""
        try:
            return None if self.served is None else self.served.end()
        finally:
            if self.served is not None:
                self.served.discard()
            shutil.rmtree(self.folder, ignore_errors=True)

    def log_text(self):
        with open(self.log, encoding="utf-8", errors="replace") as log:
            return log.read()

    def ask(self, method, path, body=None, key=None, source="127.0.0.1", **headers):
        """Asks on a connection of its own. Names of headers are written with underscores;
        `source` is the address that it is asked from."""
        sent = {name.replace("_", "-"): value for name, value in headers.items()}
        answer = client.ask(self.port, method, path, body, key, sent, source=source,
                            trust=self.trust)
        self.answers.append(answer)
        return answer

    def figure(self, name):
        """A figure of /metrics."""
        text = self.ask("GET", "/metrics", source="127.0.0.9").text
        return int(re.search(rf"^{re.escape(name)} (\d+)$", text, re.M).group(1))

    def get(self, path, key=None, **headers):
        return self.ask("GET", path, key=key, **headers)

    def send(self, method, name, body, key=None, media_type="application/json", **headers):
        """A write under the event's address; what is neither bytes nor text is sent as JSON."""
        if not isinstance(body, (bytes, str)):
            body = json.dumps(body)
        if isinstance(body, str):
            body = body.encode("utf-8")
        if media_type is not None:
            headers["Content_Type"] = media_type
        return self.ask(method, f"{API}/{name}", body, key, **headers)

    def post(self, name, body, key=None, media_type="application/json", **headers):
        return self.send("POST", name, body, key or self.organiser, media_type, **headers)

    def connect(self, timeout=GUARD_SECONDS):
        """A bare socket."""
        return socket.create_connection(("127.0.0.1", self.port), timeout=timeout)

    def raw(self, data, timeout=GUARD_SECONDS):
        """Sends bytes as they are and reads until the server closes, or `timeout` passes."""
        with self.connect(timeout) as peer:
            peer.sendall(data)
            return read_all(peer)


def shut_port(test):
    """A port at which nobody listens, and nobody else will while the test runs."""
    holder = socket.socket()
    test.addCleanup(holder.close)
    holder.bind(("127.0.0.1", 0))
    return holder.getsockname()[1]


def read_all(peer):
    """All that comes until the end, a reset, or the socket's timeout."""
    got = b""
    try:
        while True:
            part = peer.recv(65536)
            if not part:
                return got
            got += part
    except (TimeoutError, ConnectionResetError):
        return got


class Stream:
    """A listener of server-sent events."""

    def __init__(self, server, last_id=None, key=None):
        self.connection = client.connection_to(server.port, trust=server.trust)
        headers = {"Accept": "text/event-stream"}
        if last_id is not None:
            headers["Last-Event-ID"] = str(last_id)
        if key is not None:
            headers["Authorization"] = "Bearer " + key
        self.connection.request("GET", f"{API}/stream", headers=headers)
        self.told = self.connection.getresponse()

    def close(self):
        self.told.close()
        self.connection.close()

    def block(self, beats=False):
        """The next message as a list of lines. Heartbeats are left out unless `beats` asks for
        them."""
        lines = []
        while True:
            line = self.told.readline()
            if not line:
                raise AssertionError(f"the stream ended after {lines}")
            line = line.decode("utf-8").rstrip("\n")
            if line != "":
                lines.append(line)
            elif beats or lines[:1] != ["event: beat"]:
                return lines
            else:
                lines = []

    def message(self, beats=False):
        """The next message's fields; its data as an object. Comments have the name ""."""
        fields = {}
        for line in self.block(beats):
            name, _, value = line.partition(":")
            if name in fields:
                raise AssertionError(f"field {name} came twice")
            fields[name] = value[1:] if value.startswith(" ") else value
        if "data" in fields:
            fields["data"] = json.loads(fields["data"])
        return fields


class ServedTest(unittest.TestCase):
    """Tests that share one server; they must not rely on each other's order."""

    files = {}

    @classmethod
    def setUpClass(cls):
        cls.server = Server(**cls.files)
        cls.addClassCleanup(cls.end_server)

    @classmethod
    def end_server(cls):
        code = cls.server.end()
        if code != 0:
            raise AssertionError(f"the server ended with {code}")

    def within_a_minute(self, scenario, turns=20):
        """Runs what has to happen within one of the minutes in which the server counts guesses. Where
        the machine was slower than that, what came of it proves nothing, and it is done again.
          scenario  called with the number of its turn, from 1; each turn must come from another
                    address, or the counts of the turn before are in its way
        Returns the turn that counted."""
        for turn in range(1, turns + 1):
            began = time.monotonic()
            try:
                scenario(turn)
                return turn
            except AssertionError:
                if time.monotonic() - began < 58:
                    raise
        return self.fail(f"guesses took more than a minute {turns} times")

    def assert_problem(self, answer, status, kind=None):
        """The answer is a complete problem document of that status; returns it."""
        self.assertEqual(answer.status, status, str(answer))
        self.assertEqual(answer.headers.get("content-type"), "application/problem+json")
        self.assertEqual(answer.headers.get("cache-control"), "private, no-store")
        told = answer.json()
        self.assertEqual(told["status"], status)
        self.assertRegex(told["type"], r"^urn:cairn:problem:[a-z-]+$")
        self.assertTrue(told["title"])
        self.assertTrue(told["detail"])
        self.assertEqual(told["instance"], answer.path.split("?")[0])
        if kind is not None:
            self.assertEqual(told["type"], "urn:cairn:problem:" + kind)
        return told

    def assert_taken(self, answer, accepted, duplicates=0, refused=()):
        """The answer of an upload; `refused` are the numbers of the rows. Returns it."""
        self.assertEqual(answer.status, 200, str(answer))
        told = answer.json()
        self.assertEqual(list(told), ["accepted", "duplicates", "refused", "revision"])
        self.assertEqual((told["accepted"], told["duplicates"]), (accepted, duplicates), told)
        self.assertEqual([row["row"] for row in told["refused"]], list(refused), told)
        return told

    def office_revision(self):
        return self.server.get(API, self.server.organiser).json()["revision"]

    def public_revision(self):
        return self.server.get(API).json()["revision"]

    def state(self, car, point, key=None):
        """State and penalty of a point on a car's card."""
        card = self.server.get(f"{API}/cars/{car}", key or self.server.organiser).json()
        return next((p["state"], p["penalty"]) for p in card["points"] if p["point"] == point)

    def wait_for(self, what, seconds=60):
        """Waits until what() is true."""
        until = time.monotonic() + seconds
        while not what():
            self.assertLess(time.monotonic(), until, "it does not come about")
            time.sleep(0.01)
