# SPDX-License-Identifier: MIT
"""The people of an event, in fast motion: desks that send their readings until they are
acknowledged, and the office, which rules and gives out keys.

Each is a thread in the field's network. What is acknowledged is remembered here and compared with
the server's facts at the end; an answer that should not come is a violation.
"""

import datetime
import http.client
import json
import random
import threading
import time

from tests.support.cairn import cairn
from tests.support.running import API, FIELDS, SLUG, EventClient, demo_rows

BATCH_ROWS = 50       # most that a desk sends at once
PATIENCE_SECONDS = 5  # for one answer
BACKOFF_SECONDS = (0.1, 2.0)
CLOCK_JUMPS = (-3 * 86400, -37, 41, 5400)  # what a desk's clock is set off by
OFFICE = "00000000"


class Address:
    """Where a client connects to."""

    def __init__(self, host, port):
        self.host, self.port = host, port


class Motion:
    """Maps the event's time to that of the run: each day takes an equal share, its hours evenly;
    nights take no time."""

    def __init__(self, rows, seconds):
        self.began = None
        self.seconds = seconds
        days = {}
        for row in rows:
            days.setdefault(row["at"][:10], []).append(_instant(row))
        self.days = {day: (number, min(times), max(times))
                     for number, (day, times) in enumerate(sorted(days.items()))}

    def due(self, row):
        """When something is due: seconds from the beginning of the run."""
        number, first, last = self.days[row["at"][:10]]
        share = (_instant(row) - first) / max(last - first, 1)
        return self.seconds * (number + share) / len(self.days)

    def now(self):
        return time.monotonic() - self.began


def _instant(row):
    return datetime.datetime.fromisoformat(row["at"]).timestamp()


def share_out(rows, count):
    """Shares the points among `count` desks: neighbours on the route go together, and each desk
    has about as many readings. Corrections made by the office belong to no desk."""
    points = {}
    for row in rows:
        points[row["point"]] = points.get(row["point"], 0) + 1
    desks, left, at = [], sum(points.values()), 0
    names = list(points)
    for number in range(count):
        due, mine, taken = left / (count - number), [], 0
        while at < len(names) and (not mine or taken + points[names[at]] / 2 <= due) \
                and len(names) - at > count - number - 1:
            mine.append(names[at])
            taken += points[names[at]]
            at += 1
        desks.append(mine)
        left -= taken
    desks[-1] += names[at:]
    return desks


class Sender(threading.Thread):
    """Sends rows when they are due, until they are acknowledged; a batch that is sent again is
    the same bytes. An answer must account for every row of its batch, as new or as known."""

    def __init__(self, soak, name, seed):
        super().__init__(daemon=True, name=name)
        self.soak, self.rng = soak, random.Random(seed)
        self.key = None
        self.kept = {"readings": [], "decisions": []}
        self.tries = self.repeats = self.refusals = 0
        self.client = None

    def run(self):
        try:
            self.soak.field.enter()
            self.client = EventClient(self.soak.line, timeout=PATIENCE_SECONDS)
            self.work()
        except Exception as error:  # pylint: disable=broad-except
            self.soak.violation(f"{self.name}: {error!r}")
        finally:
            if self.client is not None:
                self.client.close()

    def work(self):
        raise NotImplementedError

    def ask(self, method, path, body):
        """Asks once; None where no answer came."""
        self.client.key = self.key
        self.tries += 1
        try:
            return self.client.ask(method, path, body, "application/json")
        except (OSError, http.client.HTTPException):
            return None

    def pause(self, turn):
        low, high = BACKOFF_SECONDS
        self.soak.over.wait(self.rng.uniform(0, min(high, low * 2 ** turn)))

    def insist(self, method, path, body, done=200):
        """Asks until it is answered with 200; 503 and no answer are asked again, anything else is
        a violation. `done` may recognise the answer to a second asking whose first was heard.
        None where the run is broken off."""
        turn = 0
        while not self.soak.over.is_set():
            answer = self.ask(method, path, body)
            if answer is not None and answer.status in (200, done if turn else 200):
                return answer, turn
            if answer is not None and answer.status != 503:
                self.soak.violation(f"{self.name}: {method} {path}: {answer.status} "
                                    f"{answer.body[:200]!r}")
                return None, turn
            self.refusals += answer is not None
            turn += 1
            self.pause(turn)
        return None, turn

    def deliver(self, name, rows):
        """Sends a batch until it is acknowledged."""
        body = json.dumps([{k: v for k, v in row.items() if v != ""} for row in rows]).encode()
        answer, turns = self.insist("POST", f"{API}/{name}", body)
        if answer is None:
            return
        told = answer.json()
        new, known = told["accepted"], told["duplicates"]
        whole = (new, known) == (len(rows), 0) or (turns > 0 and (new, known) == (0, len(rows)))
        if told["refused"] or not whole:
            self.soak.violation(f"{self.name}: {len(rows)} {name}, {turns} tries before: {told}")
        self.kept[name] += rows
        if self.rng.random() < 0.06:  # as if the acknowledgement had been lost
            self.repeat(name, rows, body)

    def repeat(self, name, rows, body):
        """Sends what is known again: it adds nothing."""
        answer, _ = self.insist("POST", f"{API}/{name}", body)
        if answer is None:
            return
        self.repeats += len(rows)
        told = answer.json()
        if (told["accepted"], told["duplicates"], told["refused"]) != (0, len(rows), []):
            self.soak.violation(f"{self.name}: {len(rows)} {name} once more: {told}")

    def check_refusal(self, row):
        """Sends other content under a known id: that row alone is refused."""
        other = dict(row, reason="Another content under the same id")
        answer, _ = self.insist("POST", f"{API}/readings", json.dumps([other]).encode())
        told = answer.json() if answer is not None else None
        if told is not None and (told["accepted"], len(told["refused"])) != (0, 1):
            self.soak.violation(f"{self.name}: another content of {row['id']}: {answer.body!r}")


class Desk(Sender):
    """A timekeepers' desk: its points, its key, its sequence numbers, and a clock that may be
    wrong."""

    def __init__(self, soak, number, points, rows, seed):
        self.desk = f"{0xde500000 + number:08x}"
        super().__init__(soak, f"desk {number}", seed)
        self.points = points
        self.rows = [self.numbered(seq, row) for seq, row in enumerate(rows, 1)]
        self.unsent = len(rows)
        self.new_key = None
        self.moved = threading.Event()
        self.key_number = None

    def numbered(self, seq, row):
        """A row with the desk's next sequence number. It keeps the id of the demo's row, since
        corrections name it."""
        return dict(row, desk=self.desk, seq=str(seq), due=self.soak.motion.due(row))

    def move_to(self, key):
        """Called by the thread that gives out a new key; sets `moved` once the old one is no
        longer used."""
        self.moved.clear()
        self.new_key = key

    def take_new_key(self):
        if self.new_key is not None:
            self.key, self.new_key = self.new_key, None
        self.moved.set()

    def made(self, rows):
        """Rows as the desk sends them: the time at which each was made is that of the desk's own
        clock."""
        off = self.soak.desk_clocks.get(self.desk, 0)
        out = []
        for row in rows:
            sent = {name: value for name, value in row.items() if name != "due"}
            if off != 0:
                at = datetime.datetime.fromisoformat(row["at"]) + datetime.timedelta(seconds=off)
                sent["at"] = at.isoformat()
            out.append(sent)
        return out

    def work(self):
        at, motion = 0, self.soak.motion
        while at < len(self.rows) and not self.soak.over.is_set():
            self.take_new_key()
            ready = at
            while ready < min(len(self.rows), at + BATCH_ROWS) and \
                    self.rows[ready]["due"] <= motion.now():
                ready += 1
            if ready == at:
                self.soak.over.wait(min(0.5, max(0.01, self.rows[at]["due"] - motion.now())))
                continue
            batch = self.made(self.rows[at:ready])
            self.deliver("readings", batch)
            at = ready
            self.unsent = len(self.rows) - at
            if self.rng.random() < 0.05:
                self.check_refusal(batch[0])
            if self.rng.random() < 0.2:
                self.report(at)
        while not self.soak.over.is_set() and not self.soak.rotated.is_set():
            self.take_new_key()
            self.soak.over.wait(0.05)
        self.take_new_key()
        self.moved.set()

    def report(self, last):
        """Sends the desk's state. The server keeps it in memory only, so an answer may be
        missing."""
        body = {"by": self.name, "points": self.points, "last_seq": last, "unsent": 0,
                "refused": 0, "blanks": 0, "offset_ms": 0, "uncertainty_ms": 5, "clock": "good",
                "version": "1"}
        answer = self.ask("POST", f"{API}/desks/{self.desk}", json.dumps(body).encode())
        if answer is not None and answer.status not in (200, 503):
            self.soak.violation(f"{self.name}: report: {answer.status} {answer.body[:200]!r}")


class Office(Sender):
    """Makes the demo's rulings, corrections and notices in their order."""

    def __init__(self, soak, rows, decisions, seed):
        super().__init__(soak, "office", seed)
        numbered = [("readings", dict(row, desk=OFFICE, seq=str(seq)))
                    for seq, row in enumerate(rows, 1)]
        self.acts = sorted(numbered + [("decisions", row) for row in decisions],
                           key=lambda act: self.soak.motion.due(act[1]))
        self.unsent = len(self.acts)
        self.notices = 0

    def work(self):
        for name, row in self.acts:
            due = self.soak.motion.due(row)
            while self.soak.motion.now() < due and not self.soak.over.is_set():
                self.soak.over.wait(min(0.5, due - self.soak.motion.now() + 0.001))
            if self.soak.over.is_set():
                return
            self.deliver(name, [row])
            self.unsent -= 1
            if self.rng.random() < 0.1:
                self.post_notice()

    def post_notice(self):
        body = json.dumps({"title": f"Bulletin {self.notices + 1}", "text": "Fog on the pass."})
        if self.insist("POST", f"{API}/notices", body.encode())[0] is not None:
            self.notices += 1


class KeyChanger(Sender):
    """Gives one desk after another a new key, by the API or by the command, and revokes the old
    one once the desk uses the new one. The old key must then be refused."""

    def __init__(self, soak, desks, seconds, seed):
        super().__init__(soak, "keys", seed)
        self.desks, self.seconds = desks, seconds
        self.turned = 0

    def work(self):
        for number, desk in enumerate(self.desks):
            due = self.seconds * (0.1 + 0.8 * number / len(self.desks))
            while self.soak.motion.now() < due and not self.soak.over.is_set():
                self.soak.over.wait(0.1)
            if self.soak.over.is_set():
                break
            self.turn(desk)
        self.soak.rotated.set()

    def turn(self, desk):
        old, old_number = desk.key, desk.key_number
        key, number = self.by_command(desk) if self.rng.random() < 0.5 else self.by_page(desk)
        if key is None:
            return
        desk.move_to(key)
        while not desk.moved.wait(0.1):
            if self.soak.over.is_set():
                return
        desk.key_number = number
        answer, _ = self.insist("POST", f"{API}/keys/{old_number}", b'{"revoke": true}', 404)
        if answer is None:
            return
        self.turned += 1
        self.opens_nothing(desk, old)

    def opens_nothing(self, desk, old):
        client = EventClient(self.soak.line, old, PATIENCE_SECONDS)
        row = {"point": desk.points[0], "car": 1, "id": f"stolen-{desk.desk}", "time": "10:00:00"}
        for _ in range(20):
            try:
                answer = client.ask("POST", f"{API}/readings", json.dumps([row]).encode(),
                                    "application/json")
            except (OSError, http.client.HTTPException):
                answer = None
            if answer is not None and answer.status != 503:
                break
            self.pause(2)
        client.close()
        if answer is not None and answer.status not in (401, 429, 503):
            self.soak.violation(f"{self.name}: a revoked key is told {answer.status}")

    def by_page(self, desk):
        body = json.dumps({"role": "timekeeper", "points": ",".join(desk.points),
                           "label": desk.name})
        answer, _ = self.insist("POST", f"{API}/keys", body.encode())
        if answer is None:
            return None, None
        return answer.json()["key"], answer.json()["id"]

    def by_command(self, desk):
        """Makes a key by the command, beside the server; where the disk is full it tries again
        later."""
        while not self.soak.over.is_set():
            done = cairn("key", "add", self.soak.data, SLUG, "--role", "timekeeper", "--points",
                         ",".join(desk.points), "--label", desk.name, code=None)
            if done.returncode == 0:
                while (number := key_number(self.soak.data)) is None:
                    if self.soak.over.wait(0.3):
                        return None, None
                return done.stdout.decode().strip(), number
            if done.returncode != 1:
                self.soak.violation(f"cairn key add: {done.returncode} {done.stderr!r}")
            self.soak.over.wait(0.3)
        return None, None


def key_number(data):
    """The number of the newest key; None where the file cannot be read just now, as when its
    server was killed on a full disk."""
    listed = cairn("key", "list", data, SLUG, code=None).stdout.decode().splitlines()
    return max((int(line.split("\t")[0]) for line in listed if line[:1].isdigit()), default=None)


def add_key(data, role, label, points=()):
    """Makes a key by the command; returns it and its number."""
    more = ("--points", ",".join(points)) if points else ()
    key = cairn("key", "add", data, SLUG, "--role", role, "--label", label, *more)
    return key.stdout.decode().strip(), key_number(data)


def facts(share):
    """The demo's readings and decisions in the order they were made, of one car in `share`."""
    out = []
    for name in FIELDS:
        rows = [row for row in demo_rows(name)
                if row["car"] == "" or int(row["car"]) % share == 0]
        known = {row["id"] for row in rows}
        rows = [row for row in rows if row.get("kind") != "revoke" or row["value"] in known]
        out.append(sorted(rows, key=lambda row: (_instant(row), row["id"])))
    return out
