# SPDX-License-Identifier: MIT
"""Files that are no event file, or a damaged one: each is named on standard error and left as it
is, and the event beside it is served."""

import contextlib
import hashlib
import json
import os
import shutil
import sqlite3
import tempfile
import unittest

from tests.support.cairn import cairn
from tests.support.running import API, SLUG, RunningTest, demo_rows, rename, write_folder
from tests.support.standings import compare, score, unnumbered

PAGE = 4096
OTHER = "merrow-2026"
OTHER_API = f"/api/v1/events/{OTHER}"
READING = [{"point": "TC1", "car": 22, "time": "09:06:30"}]


def sha256(path):
    with open(path, "rb") as file:
        return hashlib.sha256(file.read()).hexdigest()


def overwrite(path, offset, data):
    with open(path, "r+b") as file:
        file.seek(offset)
        file.write(data)


def sql(path, *statements):
    """Runs statements on a file, and leaves no write-ahead log beside it."""
    with contextlib.closing(sqlite3.connect(path)) as db:
        for statement in statements:
            db.execute(statement)
        db.commit()


class DamageTest(RunningTest):
    """Each test damages the demo's event file; another event stands beside it."""

    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.made = tempfile.mkdtemp(prefix="cairn-made-")
        cls.addClassCleanup(shutil.rmtree, cls.made, ignore_errors=True)
        whole = write_folder(os.path.join(cls.made, "event"), demo_rows("readings"),
                             demo_rows("decisions"))
        cls.event = whole
        other = rename(write_folder(os.path.join(cls.made, "other")), OTHER)
        cls.data = os.path.join(cls.made, "data")
        cairn("import", cls.data, whole)
        cairn("import", cls.data, other)
        cls.key = cairn("key", "add", cls.data, OTHER, "--role",
                        "organiser").stdout.decode().strip()
        cls.own_key = cairn("key", "add", cls.data, SLUG, "--role",
                            "organiser").stdout.decode().strip()

    def setUp(self):
        super().setUp()
        self.copy = self.path("data")
        shutil.copytree(self.data, self.copy)
        self.bad = os.path.join(self.copy, SLUG + ".cairn")

    def other_goes_on(self, server):
        office, public = self.client(server, self.key), self.client(server)
        told = office.ask("POST", f"{OTHER_API}/readings", json.dumps(READING).encode(),
                          "application/json")
        self.assertEqual(told.status, 200, told.body)
        row = public.get(f"{OTHER_API}/cars/22").json()
        self.assertEqual(row["through"], "TC1")
        self.assertEqual(public.get(f"/{OTHER}/").status, 200)

    def is_told(self, text, why):
        """The text names the file and the reason."""
        self.assertIn(SLUG + ".cairn", text)
        self.assertRegex(text.lower(), why)

    def is_refused(self, why, commands=("export", "key", "import", "backup")):
        """The server and the commands say what is wrong; the file is not changed."""
        before = sha256(self.bad) if os.path.isfile(self.bad) else None
        server = self.start(self.copy)
        public = self.client(server)
        self.is_told(server.errors(), why)
        self.assertEqual(public.get(API).status, 404)
        self.assertEqual([event["slug"] for event in public.get("/api/v1/events").json()["events"]],
                         [OTHER])
        self.assertEqual(public.get("/").status, 200)
        self.other_goes_on(server)
        arguments = {
            "export": ("export", self.copy, SLUG, self.path("out")),
            "key": ("key", "add", self.copy, SLUG, "--role", "organiser"),
            "import": ("import", self.copy, self.event),
            "backup": ("backup", self.copy, SLUG, self.path("copy.cairn")),
        }
        for command in commands:
            with self.subTest(command=command):
                done = cairn(*arguments[command], code=None)
                self.assertIn(done.returncode, (1, 2))
                self.assertEqual(done.stdout, b"")
                self.is_told(done.stderr.decode(), why)
        self.assertFalse(os.path.exists(self.path("copy.cairn")), "half a backup is left")
        self.assertFalse(os.path.exists(self.path("out", "event.json")), "half an export is left")
        self.assertEqual(server.end(), 0)
        if before is not None:
            self.assertEqual(sha256(self.bad), before, "the file was changed")

    def test_header_overwritten(self):
        overwrite(self.bad, 0, self.rng.randbytes(100))
        self.is_refused("not a database")

    def test_pages_overwritten_in_the_middle(self):
        pages = os.path.getsize(self.bad) // PAGE
        for page in range(pages // 4, pages * 3 // 4):
            overwrite(self.bad, page * PAGE, self.rng.randbytes(PAGE))
        self.is_refused("malformed|does not read", ("export", "import", "key"))

    def test_cut_off(self):
        size = os.path.getsize(self.bad)
        with open(self.bad, "r+b") as file:
            file.truncate(size // 2 // PAGE * PAGE)
        self.is_refused("malformed|does not read", ("export", "import", "key"))

    def test_newer_schema(self):
        sql(self.bad, "PRAGMA user_version = 99")
        self.is_refused("newer")

    def test_schema_number_lost(self):
        sql(self.bad, "PRAGMA user_version = 0")
        self.is_refused("already exists|schema|version")

    def test_foreign_database(self):
        os.remove(self.bad)
        sql(self.bad, "CREATE TABLE reading (id TEXT)", "INSERT INTO reading VALUES ('x')")
        self.is_refused("no event file")

    def test_foreign_text(self):
        with open(self.bad, "w", encoding="utf-8") as file:
            file.write("point,car,time\nTC1,22,09:06:30\n" * 300)
        self.is_refused("not a database")

    def test_empty_file(self):
        with open(self.bad, "wb"):
            pass
        self.is_refused("no event file", ("export", "key", "backup"))

    def test_folder_of_that_name(self):
        os.remove(self.bad)
        os.mkdir(self.bad)
        self.is_refused("no plain file")

    def test_a_single_page_is_told_or_harmless(self):
        """Whichever page of the file is damaged, the event is refused or everything shown of it
        is right."""
        due = unnumbered(score(self.event))
        pages = os.path.getsize(self.bad) // PAGE
        refused = 0
        for page in self.rng.sample(range(1, pages), 12):
            shutil.copy(os.path.join(self.data, SLUG + ".cairn"), self.bad)
            overwrite(self.bad, page * PAGE, self.rng.randbytes(PAGE))
            server = self.start(self.copy)
            told = self.client(server, self.own_key).get(f"{API}/standings")
            if told.status == 200:
                self.assertEqual(unnumbered(told.body), due, f"page {page}")
            else:
                refused += 1
                self.is_told(server.errors(), "malformed|does not read")
            self.assertEqual(server.end(), 0)
        self.assertGreater(refused, 0)

    def test_damage_while_it_is_served(self):
        """Reads are answered; a write is stored or refused; the next start reports the damage."""
        server = self.start(self.copy)
        office = self.client(server, self.own_key)
        before = office.good(f"{API}/standings")
        size = os.path.getsize(self.bad) // PAGE * PAGE
        overwrite(self.bad, 0, self.rng.randbytes(size))
        for n in range(5):
            told = office.post("readings", [{"point": "TC1", "car": 22, "time": f"09:0{n}:00"}])
            self.assertIn(told.status, (200, 503))
            seen = office.good(f"{API}/standings")
            if told.status == 503:
                self.assertEqual(seen, before)
            before = seen
            self.other_goes_on(server)
        server.end()
        for name in (SLUG + ".cairn-wal", SLUG + ".cairn-shm"):
            with contextlib.suppress(FileNotFoundError):
                os.remove(os.path.join(self.copy, name))
        overwrite(self.bad, 0, self.rng.randbytes(size))
        self.is_refused("not a database")

    def test_put_back_while_it_is_served(self):
        """A file that is good again is served without a restart."""
        good = self.path("good.cairn")
        shutil.copy(self.bad, good)
        overwrite(self.bad, 0, bytes(100))
        server = self.start(self.copy)
        self.assertEqual(self.client(server).get(API).status, 404)
        os.replace(good, self.bad)
        self.wait_for(lambda: self.client(server).get(API).status == 200)
        compare(self, self.client(server, self.own_key), self.event, bys=("overall",))


if __name__ == "__main__":
    unittest.main()
