# SPDX-License-Identifier: MIT
"""The demo replayed: at every step, everything public is what it would be if the hidden items
were not on the route. CAIRN_STEPS says in how many steps (18)."""

import json
import os
import re
import unittest
from datetime import datetime

from tests.support.cairn import cairn
from tests.support.crawling import Stream, addresses, addresses_of_item, kept_headers, neutral
from tests.support.hiding import SECRET, hidden_items, is_hidden, write_twin
from tests.support.running import API, SLUG, RunningTest, demo_rows
from tests.support.standings import revision_of

STEPS = int(os.environ.get("CAIRN_STEPS") or 18)
THOROUGH = 2  # steps at which every address is asked for in every form
NEVER = "Q"   # no id of the demo begins with it


def instant(row):
    return datetime.fromisoformat(row["at"])


def without_decisions(page):
    """A card without its list of decisions."""
    return re.sub(rb'<h2 id="decisions">.*?(?=<h2|<footer)', b"", page, flags=re.S)


def without_counts(body, cars):
    """A board without the numbers of decisions on the cards of these cars."""
    if body.startswith(b"{") and b'"rulings":[' in body:
        told = json.loads(body)
        told["rulings"] = [None if str(car) in cars else count
                           for car, count in zip(told["car"], told["rulings"])]
        return json.dumps(told, separators=(",", ":"), ensure_ascii=False).encode()
    for car in cars:
        body = re.sub(rb'(?m)^(<tr id="n' + car.encode() + rb'".*?<td) data-r(="\d+")?>', rb"\1>",
                      body)
    return body


class HiddenTest(RunningTest):
    def setUp(self):
        super().setUp()
        self.readings = sorted(demo_rows("readings"), key=instant)
        self.decisions = sorted(demo_rows("decisions"), key=instant)
        self.cars = ["43", "84", "93"] + [str(n) for n in self.rng.sample(range(4, 170), 2)]
        self.data = self.import_demo()
        self.office_key = self.add_key(self.data)
        self.desk_key = self.add_key(self.data, "timekeeper", "TC1,TC2")
        self.own_keys = {item.id: self.add_key(self.data, "timekeeper", item.id)
                         for item in SECRET}
        self.server = self.start(self.data)
        self.public = self.client(self.server)
        self.office = self.client(self.server, self.office_key)
        self.desk = self.client(self.server, self.desk_key)
        self.stream = Stream(self, self.server)
        self.wait_for(self.stream.last)  # from its first message on it hears all
        self.fed = {"readings": [], "decisions": []}

    def moments(self):
        """Moments to compare at: one while each secret item has half of its readings, the rest
        anywhere, and the end."""
        out = []
        for item in SECRET:
            rows = [row for row in self.readings if item.has(row["point"])]
            out.append(instant(rows[self.rng.randrange(len(rows) // 4, len(rows) * 3 // 4)]))
        rest = self.rng.sample(self.readings, max(STEPS - len(out) - 1, 0))
        return sorted(out[:STEPS - 1] + [instant(row) for row in rest]) + [
            instant(self.decisions[-1])]

    def no_trace(self, body, hidden, where):
        for item in hidden:
            found = item.trace_in(body)
            self.assertIsNone(found, f"{where} tells of {item.id}: {found!r}")

    def follow(self, hidden):
        """What the stream has sent so far names none of the hidden items."""
        said = self.stream.take_until(self, revision_of(self.public))
        self.no_trace(said, hidden, "the stream")

    def feed(self, name, rows):
        if rows:
            told = self.office.take(name, rows)
            self.assertEqual(told["refused"], [])
            self.fed[name] += rows

    def feed_hidden(self, rows):
        """Posts readings of hidden items alone: no public body, header or tag changes."""
        watched = ["/", "/api/v1/events", API, f"{API}/standings", f"{API}/standings?by=test",
                   f"{API}/starts/1", f"{API}/notices", f"/{SLUG}/"]
        if rows:
            watched += [f"{API}/cars/{rows[0]['car']}", f"/{SLUG}/cars/{rows[-1]['car']}"]
        before = {path: self.public.get(path) for path in watched}
        office = revision_of(self.office)
        for at in range(0, len(rows), 200):
            self.feed("readings", rows[at:at + 200])
        for path, was in before.items():
            now = self.public.get(path)
            self.assertEqual((now.status, now.body), (200, was.body), path)
            self.assertEqual(kept_headers(now), kept_headers(was), path)
            if "etag" in was.headers:
                known = self.public.get(path, **{"If-None-Match": was.headers["etag"]})
                self.assertEqual(known.status, 304, path)
        if rows:
            self.assertGreater(revision_of(self.office), office)

    def twin(self, step, hidden):
        """A server of the same event without the hidden items."""
        folder = write_twin(self.path(f"twin-event{step}"), self.fed["readings"],
                            self.fed["decisions"], hidden)
        cairn("import", self.path(f"twin{step}"), folder)
        return self.start(self.path(f"twin{step}"))

    def crawl(self, step, hidden):
        """No public address gives a hidden item away, and each has the same bytes as the twin's."""
        twin = self.twin(step, hidden)
        other = self.client(twin)
        route = self.public.get(API).json()["route"]
        # A retirement at a hidden item is told there with its place and reason, and counted, only
        # once the item is; the twin has it elsewhere, with the same reason.
        retired = {row["car"] for row in self.fed["decisions"]
                   if row["kind"] == "retire" and is_hidden(row["point"], hidden)}
        cards = {f"/{SLUG}/cars/{car}" for car in retired}
        thorough = step % (STEPS // THOROUGH + 1) == STEPS // THOROUGH
        for path in addresses(route, self.cars, self.rng, thorough):
            mine, due = self.public.get(path), other.get(path)
            self.assertEqual(mine.status, due.status, path)
            self.no_trace(mine.body, hidden, path)
            self.no_trace(repr(mine.headers).encode(), hidden, f"a header of {path}")
            told, wanted = (without_counts(answer.body, retired) for answer in (mine, due))
            if path.split("?")[0] in cards:
                told, wanted = without_decisions(told), without_decisions(wanted)
            self.assertEqual(self.differs(told, wanted), None, path)
        for path in ("/metrics", "/healthz"):
            self.no_trace(self.public.good(path), hidden, path)
        other.close()
        twin.end()

    @staticmethod
    def differs(mine, due):
        """The first line in which two texts differ."""
        mine, due = neutral(mine), neutral(due)
        if mine == due:
            return None
        for a, b in zip(mine.split(b"\n"), due.split(b"\n")):
            if a != b:
                return f"\n  shown: {a[:600]}\n  due:   {b[:600]}"
        return f"{len(mine)} and {len(due)} bytes"

    def ask_for_hidden(self, hidden):
        """Addresses of a hidden item get the same answer as those of an item that does not exist.
        """
        for item in self.rng.sample(hidden, min(2, len(hidden))):
            stranger = NEVER + item.id[1:]
            client = self.rng.choice((self.public, self.public, self.desk))
            for path in addresses_of_item(item.id, self.cars):
                method = self.rng.choice(("GET", "GET", "HEAD"))
                mine = client.ask(method, path)
                due = client.ask(method, path.replace(item.id, stranger))
                self.assertEqual((mine.status, due.status), (404, 404), path)
                self.assertEqual(mine.body.replace(item.id.encode(), stranger.encode()), due.body,
                                 path)
                self.assertEqual(kept_headers(mine), kept_headers(due), path)
                self.assertEqual(mine.body == b"", method == "HEAD", path)

    def ask_with_keys(self, hidden):
        """A desk sees what the public sees, and its own points; the office sees everything."""
        for path in (f"{API}/standings", f"{API}/standings?by=test", f"{API}/cars/{self.cars[0]}",
                     f"{API}/tests/T1"):
            self.assertEqual(neutral(self.desk.good(path)), neutral(self.public.good(path)), path)
        for item in self.rng.sample(hidden, min(2, len(hidden))):
            own = self.client(self.server, self.own_keys[item.id])
            others = [other for other in hidden if other is not item]
            for path in (API, f"{API}/standings", f"{API}/standings?by=test",
                         f"{API}/cars/{self.cars[0]}", f"{API}/cars/{self.cars[0]}?format=csv"):
                self.no_trace(own.good(path), others, f"{path} of the desk of {item.id}")
            self.assertIsNotNone(item.trace_in(own.good(API)))
            self.assertIsNotNone(item.trace_in(self.office.good(API)))
            own.close()

    def test_nothing_hidden_is_told(self):
        described = self.public.good("/api/v1/openapi.yaml")
        for name in (name for item in SECRET for name in item.names):
            self.assertNotIn(name, described)
        half_read = 0
        for step, moment in enumerate(self.moments()):
            readings = [row for row in self.readings[len(self.fed["readings"]):]
                        if instant(row) <= moment]
            decisions = [row for row in self.decisions[len(self.fed["decisions"]):]
                         if instant(row) <= moment]
            earlier = hidden_items(self.fed["decisions"])
            self.feed("readings", [row for row in readings
                                   if not is_hidden(row["point"], earlier)])
            self.follow(earlier)
            self.feed_hidden([row for row in readings if is_hidden(row["point"], earlier)])
            self.follow(earlier)
            self.feed("decisions", decisions)
            hidden = hidden_items(self.fed["decisions"])
            self.follow(hidden)
            self.crawl(step, hidden)
            self.ask_for_hidden(hidden)
            self.ask_with_keys(hidden)
            half_read += any(is_hidden(row["point"], hidden) for row in self.fed["readings"])
        self.assertEqual(hidden, [])
        self.assertGreater(half_read, min(STEPS, len(SECRET)) // 2)

    def test_a_restart_tells_nothing(self):
        """What the public sees, times and tags included, is the same before and after a restart."""
        reading = [row for row in self.readings if row["point"] == "TC1"]
        secret = [row for row in self.readings if row["point"] == "R1/1"]
        self.feed("readings", reading)
        self.wait_for(lambda: self.later_than(self.public.get(API).json()["changed"]))
        self.feed_hidden(secret)
        paths = [API, f"{API}/standings", f"/{SLUG}/", f"/{SLUG}/cars/22", "/"]
        before = {path: self.public.get(path) for path in paths}
        self.assertEqual(self.server.end(), 0)
        public = self.client(self.start(self.data))
        for path, was in before.items():
            now = public.get(path)
            self.assertEqual(now.body, was.body, path)
            self.assertEqual(kept_headers(now), kept_headers(was), path)

    @staticmethod
    def later_than(text):
        """Whether the second of a time that an answer gave has passed."""
        then = datetime.fromisoformat(text.replace("Z", "+00:00"))
        return (datetime.now(then.tzinfo) - then).total_seconds() > 1.1

    def test_an_import_of_hidden_readings_tells_nothing(self):
        """An import of readings of hidden items does not raise the public revision."""
        before = self.public.get(f"{API}/standings")
        office = revision_of(self.office)
        rows = [row for row in self.readings if row["point"] == "R1/1"]
        folder = self.path("data-event")
        with open(os.path.join(folder, "readings.csv"), "w", encoding="utf-8") as file:
            file.write("point,car,time,id,at\n")
            for row in rows:
                file.write(",".join(row[f] for f in ("point", "car", "time", "id", "at")) + "\n")
        cairn("import", self.data, folder)
        self.wait_for(lambda: revision_of(self.office) > office)
        now = self.public.get(f"{API}/standings")
        self.assertEqual(now.body, before.body)
        self.assertEqual(now.headers["etag"], before.headers["etag"])


if __name__ == "__main__":
    unittest.main()
