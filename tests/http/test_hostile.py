# SPDX-License-Identifier: MIT
"""Hostile text in every field, read at every address in every role, is only ever text."""

import csv
import io
import json
import os
import re
import subprocess
import unittest
import zlib

from tests.support import addresses, hostile
from tests.support.cairn import CAIRN
from tests.support.serving import API, SLUG, Stream, cairn

ROLES = ("public", "timekeeper", "organiser")
# Made of random, of time or of the whole entry list (`list`): not the same in two events.
OWN = {"hash", "signature", "signer", "signed", "previous", "secret", "list"}
BY = ("overall", "class", "category", "group", "day", "test", "team")


def unpacked(stream):
    """A stream of a PDF decompressed; empty where it is compressed in another way."""
    try:
        return zlib.decompressobj().decompress(stream[1])
    except zlib.error:
        return b""


class HostileTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.bad = hostile.Served(True)
        cls.addClassCleanup(cls.bad.server.end)
        cls.good = hostile.Served(False)
        cls.addClassCleanup(cls.good.server.end)
        cls.meaning = cls.bad.text.meaning
        cls.maxDiff = 2000

    def key(self, served, role):
        return {"public": None, "timekeeper": served.server.timekeeper,
                "organiser": served.server.organiser}[role]

    def both(self, path, role, **headers):
        """The answers of both events; their statuses and media types must be the same."""
        bad, good = (one.server.get(path, self.key(one, role), **headers)
                     for one in (self.bad, self.good))
        self.assertEqual((bad.status, bad.media_type), (good.status, good.media_type), str(bad))
        return bad, good

    def replaced(self, text, change=lambda text: text):
        """A text of the twin with the hostile texts in place of the harmless ones."""
        return hostile.TOKEN.sub(lambda found: change(self.meaning[found[0]]), text)

    @staticmethod
    def timeless(text):
        return hostile.PASSING.sub("NOW", text)

    # --- what each sort of answer is compared by

    def compare_json(self, bad, good, where):
        if (f"{API}/status as" in where and not isinstance(bad, (dict, list))
                and not hostile.TOKEN.search(str(good))):
            return  # how the machine does
        self.assertIs(type(bad), type(good), where)
        if isinstance(bad, dict):
            self.assertEqual(list(bad), [self.replaced(key) for key in good], where)
            for key, other in zip(bad, good):
                if key not in OWN:
                    self.compare_json(bad[key], good[other], f"{where}.{key[:30]}")
        elif isinstance(bad, list):
            self.assertEqual(len(bad), len(good), where)
            if f"{API}/log as" in where and bad and isinstance(bad[0], dict):
                # Newest first: two facts of one millisecond may stand either way round.
                bad, good = (sorted(rows, key=lambda row: row["id"]) for rows in (bad, good))
            for number, (one, other) in enumerate(zip(bad, good)):
                self.compare_json(one, other, f"{where}[{number}]")
        elif isinstance(bad, str) and good.startswith("{"):  # a document within
            self.compare_json(json.loads(bad), json.loads(good), where)
        elif isinstance(bad, str) and good.startswith(("number,driver", "point,car", "kind,car")):
            self.compare_csv(bad, good, True, where)
        elif isinstance(bad, str):
            self.assertEqual(self.timeless(bad), self.timeless(self.replaced(good)), where)
        elif not where.endswith(("_ms", ".ms")):
            self.assertEqual(bad, good, where)

    def compare_csv(self, bad, good, raw, where):
        """Cells are the texts; in a table for people none begins like a formula."""
        rows, others = (list(csv.reader(io.StringIO(text, newline=""), strict=True))
                        for text in (bad, good))
        self.assertEqual([len(row) for row in rows], [len(row) for row in others], where)
        for row, other in zip(rows, others):
            for cell, wanted in zip(row, other):
                text = self.timeless(self.replaced(wanted))
                if not raw and text != wanted and text[:1] in hostile.STARTS:
                    text = "'" + text
                if not re.fullmatch(r"[0-9a-f]{64}", cell):
                    self.assertEqual(self.timeless(cell), text, where)
                if not raw:
                    self.assertNotRegex(cell, r"\A(?:[=@\t\r]|[-+](?!\d+(?::\d\d)*(?:\.\d+)?\Z))")

    def compare_pages(self, bad, good, where):
        """Both pages have the same elements with the same attributes in the same order."""
        parts, others = hostile.Page(bad.text).parts, hostile.Page(good.text).parts
        self.assertEqual([part[:2] for part in parts if part[0] != "text"],
                         [part[:2] for part in others if part[0] != "text"], where)
        self.assertEqual(len(parts), len(others), where)
        for part, other in zip(parts, others):
            if part[0] == "text" and part[1].startswith("{"):  # data for the page's script
                self.compare_json(json.loads(part[1]), json.loads(other[1]), where)
            elif part[0] == "text":
                self.assertEqual(self.timeless(part[1]), self.timeless(self.replaced(other[1])),
                                 where)
            self.compare_attributes(part[2], other[2], f"{where} {part[:2]}"[:200])

    def compare_attributes(self, bad, good, where):
        self.assertEqual([name for name, _ in bad], [name for name, _ in good], where)
        for (name, value), (_, other) in zip(bad, good):
            if value == other or name == "d":  # a code's modules tell the server's port
                continue
            self.assertNotIn(name, ("id", "class", "src", "action", "type", "rel"), where)
            self.assertEqual(self.timeless(value), self.timeless(self.replaced(other)), where)

    def compare_papers(self, bad, good, where):
        """The paper shows the beginning of each text that its twin shows, and has no script and
        no link."""
        def told(paper, order):
            return subprocess.run(["pdftotext", order, "-", "-"], input=paper.body, check=True,
                                  capture_output=True, timeout=60).stdout.decode()
        # In the order of drawing a cell of several lines stays together.
        text = re.sub(r"\s+", "", told(bad, "-raw"))
        # A cell is cut where it is too long, so the second name in it may not be there.
        cells = re.split(r"\s{2,}", told(good, "-layout"))
        for token in {found[0] for found in map(hostile.TOKEN.search, cells) if found}:
            self.assertIn(hostile.Texts.mark(token), text, where)
        plain = re.sub(rb"stream\r?\n(.*?)endstream", unpacked, bad.body, flags=re.S)
        self.assertIn(b"/Page", plain)
        self.assertNotRegex(plain, rb"/(JavaScript|JS|Launch|URI|OpenAction|EmbeddedFile)\s*"
                                   rb"([(</\[]|\d+ \d+ R)", where)

    def compare(self, path, role):
        where = f"{path} as {role}"
        bad, good = self.both(path, role)
        for name, value in bad.headers.items():
            self.assertNotIn("<", value, where)
            self.assertNotIn("\n", value, where)
            self.assertIn(name, good.headers, where)
        if bad.media_type == "text/html":
            self.compare_pages(bad, good, where)
        elif bad.media_type in ("application/json", "application/problem+json"):
            self.compare_json(bad.json(), good.json(), where)
        elif bad.media_type == "text/csv":
            self.compare_csv(bad.text, good.text, path.endswith("/entries"), where)
        elif bad.media_type == "application/pdf":
            self.compare_papers(bad, good, where)
        else:  # files of the program and figures: nobody's text is in them
            self.assertNotIn("alert(1)", bad.text, where)
        return bad.status

    def paths(self):
        """Every GET of the route table, with the parameters that it takes."""
        style = addresses.style_path(self.bad.server)
        for route in addresses.routes():
            if route.method != "GET" or route.pattern.endswith("/stream"):
                continue  # it does not end, see below
            path = addresses.example(route, style)
            yield path
            for number in (3, 9) if "/cars/{}" in route.pattern else ():
                yield re.sub(r"/cars/\d+", f"/cars/{number}", path)
        for by in BY:
            yield f"{API}/standings?by={by}"
            yield f"{API}/standings?by={by}&format=csv"
            yield f"{API}/paper/standings?by={by}"
            yield f"{API}/board?by={by}"
            yield f"/{SLUG}/?by={by}"
            yield f"/{SLUG}/?by={by}&view=live"
        for name in ("cars/1", "cars/3", "tests/S1", "starts/1", "notices", "prizes"):
            yield f"{API}/{name}?format=csv"
        for name in ("R1", "T1", "L1"):
            yield f"{API}/tests/{name}"
            yield f"/{SLUG}/tests/{name}?car=3"
        for name in (f"/{SLUG}/compare?cars=1,2,3,9", f"{API}/readings?point=TC1",
                     f"{API}/readings?car=3", f"{API}/notices/2", f"{API}/paper/notices/2",
                     f"{API}/paper/cars/1?after=TC1", f"/{SLUG}/?q=3", f"/{SLUG}/qr?to=cars/3"):
            yield name
        for lang in ("de", "fr", "it"):
            yield f"/{SLUG}/cars/3?lang={lang}"
            yield f"/{SLUG}/?lang={lang}"

    def test_every_address_with_every_role(self):
        statuses = {}
        for path in self.paths():
            for role in ROLES:
                with self.subTest(f"{path} as {role}"):
                    statuses[path, role] = self.compare(path, role)
        self.assertGreater(sum(status == 200 for status in statuses.values()), 200)
        # As organiser nothing is missing.
        self.assertEqual({path: status for (path, role), status in statuses.items()
                          if role == "organiser" and status != 200}, {})

    def test_what_was_refused_is_told_as_it_was_sent(self):
        self.assertEqual(len(self.bad.told), 7)
        for bad, good in zip(self.bad.told, self.good.told):
            self.assertEqual(bad.status, good.status)
            told, plain = bad.json(), good.json()
            # What names hold is warned of, also beside rules that are refused.
            warnings = [answer.pop("warnings", []) for answer in (told, plain)]
            self.assertGreaterEqual(len(warnings[0]), len(warnings[1]))
            self.compare_json(told, plain, bad.path)

    def test_streams_tell_messages_and_nothing_else(self):
        for role in ROLES:
            streams = [Stream(one.server, key=self.key(one, role)) for one in (self.bad, self.good)]
            try:
                for _ in range(2):
                    bad, good = (stream.message() for stream in streams)
                    while "data" not in bad:
                        bad = streams[0].message()
                    while "data" not in good:
                        good = streams[1].message()
                    # The seconds of Retry-After are random.
                    self.compare_json({**bad, "retry": ""}, {**good, "retry": ""}, role)
                    for one in (self.bad, self.good):
                        one.done(one.server.post("notices", {
                            "title": "data: x\n\nevent: y\r\rid: 9" if one is self.bad else "z"}))
            finally:
                for stream in streams:
                    stream.close()

    def test_commands_tell_it_too(self):
        """Commands guard the cells of tables for people, but not a folder that is meant to be
        imported again."""
        told = []
        for one in (self.bad, self.good):
            folder = os.path.join(one.server.folder, "out")
            cairn("export", one.server.data, SLUG, folder)
            scores = {by: subprocess.run([CAIRN, "score", folder, "--format", "csv", "--by", by],
                                         capture_output=True, check=True,
                                         timeout=60).stdout.decode() for by in BY}
            files = {}
            for name in sorted(os.listdir(folder)):
                with open(os.path.join(folder, name), encoding="utf-8", newline="") as file:
                    files[name] = file.read()
            told.append((scores, files))
            again = os.path.join(one.server.folder, "again")
            cairn("import", again, folder)
            cairn("export", again, SLUG, folder)
            for name, text in files.items():
                with open(os.path.join(folder, name), encoding="utf-8", newline="") as file:
                    self.assertEqual(file.read(), text, name)
        for by in BY:
            self.compare_csv(told[0][0][by], told[1][0][by], False, by)
        self.assertEqual(list(told[0][1]), list(told[1][1]))
        for name, text in told[0][1].items():
            if name.endswith(".csv"):
                self.compare_csv(text, told[1][1][name], True, name)
            else:
                self.compare_json(json.loads(text), json.loads(told[1][1][name]), name)

    def test_no_name_moves_a_terminals_cursor(self):
        folder = os.path.join(self.bad.server.folder, "event")
        lines = []
        for command in (("check", folder), ("score", folder, "--format", "text"),
                        ("score", folder, "--format", "text", "--by", "team"),
                        ("score", folder, "--format", "text", "--card", "3"),
                        ("prizes", folder), ("startlist", folder, "--day", "1"),
                        ("key", "list", self.bad.server.data, SLUG),
                        ("verify", self.bad.server.data, SLUG, "2")):
            done = subprocess.run([CAIRN, *command], capture_output=True, check=True, timeout=60)
            text = (done.stdout + done.stderr).decode()
            self.assertIn("<i>&x", text, command)
            # A label's column is set apart by a tab.
            self.assertNotRegex(text.replace("\t", " ") if command[0] == "key" else text,
                                "[\\x00-\\x09\\x0b-\\x1f\\x7f-\\x9f]", command)
            lines += text.splitlines()
        self.assertFalse([line for line in lines if line.startswith("\x1b")])

    def test_what_a_desk_tells_of_itself_is_cut_between_letters(self):
        server = self.good.server
        for letters in range(60, 66):
            self.good.done(server.post("desks/0a1b2c3e", {
                "points": ["TC1"], "by": "x" * letters + "\u00e9\U0001f3c1" * 3, "last_seq": 1,
                "unsent": 0, "refused": 0, "blanks": 0, "clock": "good"}, server.timekeeper))
            desks = server.get(f"{API}/desks", server.organiser).json()["desks"]
            by = next(desk["by"] for desk in desks if desk["desk"] == "0a1b2c3e")
            self.assertEqual(by, ("x" * letters + "\u00e9\U0001f3c1" * 3)[:len(by)])
            self.assertGreaterEqual(len(by.encode()), 60)
