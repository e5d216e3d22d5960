# SPDX-License-Identifier: MIT
"""Facts and standings depend on no clock: neither on the machine's time zone nor on when a row
arrived."""

import os
import re
import unittest

from tests.support.cairn import cairn
from tests.support.running import API, SLUG, RunningTest, demo_rows, write_folder
from tests.support.standings import compare, everything

ZONES = ("UTC", "Pacific/Kiritimati", "America/St_Johns", "ODD-23:59")


class ClockTest(RunningTest):
    def serve_in(self, zone, readings, decisions):
        """Posts all rows to a server in a time zone; returns what it shows and what it stores."""
        name = "data-" + zone.replace("/", "-").replace(":", "")
        environment = {**os.environ, "TZ": zone, "LC_ALL": "C.UTF-8"}
        data = self.import_demo(name)
        key = self.add_key(data)
        server = self.start(data, env=environment)
        office = self.client(server, key)
        for rows in (readings[:2000], readings[2000:]):
            self.assertEqual(office.take("readings", rows)["refused"], [])
        self.assertEqual(office.take("decisions", decisions)["refused"], [])
        told = office.ask("POST", f"{API}/notices", b'{"title": "Fog", "text": "Slow."}',
                          "application/json")
        self.assertEqual(told.status, 200)
        pages = everything(office, (12, 67))
        pages["starts"] = office.good(f"{API}/starts/2")
        for path, body in pages.items():
            # When it came is the one thing that tells the time, and the hash of what tells it;
            # each file has a signer of its own.
            pages[path] = re.sub(rb'"(changed|posted)":"\d{4}-\d\d-\d\dT\d\d:\d\d:\d\dZ"'
                                 rb'|"(signer|hash)":"[0-9a-f]{64}"', b"", body)
        self.assertEqual(server.end(), 0)
        cairn("export", data, SLUG, self.path("out"), env=environment)
        kept = {}
        for file_name in sorted(os.listdir(self.path("out"))):
            with open(self.path("out", file_name), "rb") as file:
                kept[file_name] = file.read()
        return pages, kept

    def test_every_zone_shows_and_keeps_the_same(self):
        readings = self.rng.sample(demo_rows("readings"), 4000)
        decisions = demo_rows("decisions")
        first = self.serve_in(ZONES[0], readings, decisions)
        self.assertEqual(len(first[1]), 5)
        for zone in ZONES[1:]:
            pages, kept = self.serve_in(zone, readings, decisions)
            for path, body in first[0].items():
                self.assertEqual(pages[path], body, f"{path} in {zone}")
            self.assertEqual(kept, first[1], zone)

    def test_when_a_record_was_made_is_an_instant(self):
        """The same instants written with other offsets, or all moved far into the past or future,
        make the same readings count."""
        rows = [row for row in demo_rows("readings") if row["point"] in ("TC1", "R1/start", "R1/1")]
        shifted = []
        for row in rows:
            found = re.fullmatch(r"(\d{4})-(\d\d)-(\d\d)T(\d\d):(.*)\+00:00", row["at"])
            year, month, day, hour, rest = found.groups()
            other = row | {"at": f"{year}-{month}-{day}T{int(hour) + 2:02}:{rest}+02:00"}
            shifted.append(other)
            self.assertLess(int(hour), 22)
        for name, given in (("given", rows), ("shifted", shifted),
                            ("past", [row | {"at": "1970" + row["at"][4:]} for row in rows]),
                            ("future", [row | {"at": "9999" + row["at"][4:]} for row in rows])):
            data = self.import_demo(name)
            key = self.add_key(data)
            server = self.start(data)
            office = self.client(server, key)
            self.assertEqual(office.take("readings", given)["refused"], [], name)
            compare(self, office, write_folder(self.path("expected"), rows),
                    bys=("overall", "test"), cars=("12",))
            server.end()


if __name__ == "__main__":
    unittest.main()
