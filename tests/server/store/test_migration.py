# SPDX-License-Identifier: MIT
"""Event files of earlier versions: opened by this one they score the same, and lose nothing."""

import os
import sqlite3
import tempfile
import unittest

from tests.support.cairn import cairn, newest_schema
from tests.support.running import DEMO, SLUG

TABLES = ("key", "key_revocation", "upload", "document", "reading", "decision", "revision")


class FirstVersionTest(unittest.TestCase):
    """A file as the first version made it: its schema, filled with the demo's facts."""

    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="cairn-migration-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        self.data = os.path.join(self.folder, "old")
        new = os.path.join(self.folder, "new")
        cairn("import", new, DEMO)
        os.mkdir(self.data)
        self.path = os.path.join(self.data, SLUG + ".cairn")
        with open("schema/001_facts.sql", encoding="utf-8") as file:
            schema = file.read()
        db = sqlite3.connect(self.path)
        db.executescript(schema)
        db.execute("ATTACH ? AS new", (os.path.join(new, SLUG + ".cairn"),))
        for table in TABLES:
            columns = ", ".join(row[1] for row in db.execute(f"PRAGMA main.table_info({table})"))
            db.execute(f"INSERT INTO main.{table} SELECT {columns} FROM new.{table}")
        db.execute("INSERT INTO notice (posted_ms, title, body, upload_id)"
                   " VALUES (1811808000000, 'Scrutineering', 'It opens at six.', 1)")
        db.commit()
        db.executescript("PRAGMA application_id = 0x63616972; PRAGMA user_version = 1;")
        db.close()

    def ask(self, sql):
        db = sqlite3.connect(self.path)
        try:
            return db.execute(sql).fetchall()
        finally:
            db.close()

    def test_it_scores_the_same_and_is_brought_up(self):
        self.assertEqual(self.ask("PRAGMA user_version"), [(1,)])
        out = os.path.join(self.folder, "out")
        cairn("export", self.data, SLUG, out)
        for by in ("overall", "class", "team"):
            self.assertEqual(cairn("score", out, "--by", by).stdout,
                             cairn("score", DEMO, "--by", by).stdout)
        self.assertEqual(self.ask("PRAGMA user_version"), [(newest_schema(),)])
        self.assertEqual(self.ask("PRAGMA integrity_check"), [("ok",)])

    def test_every_fact_gets_its_link(self):
        cairn("export", self.data, SLUG, os.path.join(self.folder, "out"))
        found = {name for name, in self.ask(
            "SELECT m.name FROM sqlite_schema AS m JOIN pragma_table_info(m.name) AS c"
            " WHERE m.type = 'table' AND c.name = 'chain'")}
        self.assertLessEqual(set(TABLES), found)
        for table in found:
            self.assertEqual(self.ask(f"SELECT count(*) FROM {table} WHERE chain IS NULL"), [(0,)])
        told = cairn("doctor", self.data, code=None).stdout.decode()
        self.assertIn(f"event {SLUG}: schema {newest_schema()}, whole, 13876 readings", told)

    def test_its_notices_stay_without_a_seal(self):
        cairn("verify", self.data, SLUG, "1", code=2)
        self.assertEqual(self.ask("SELECT id, title, body, kind, content, supersedes FROM notice"),
                         [(1, "Scrutineering", "It opens at six.", "bulletin", None, None)])

    def test_it_takes_what_is_new(self):
        cairn("startlist", self.data, SLUG, "--day", "2", "--save")
        self.assertEqual(self.ask("SELECT name FROM document ORDER BY id DESC LIMIT 1"),
                         [("starts.csv",)])
        db = sqlite3.connect(self.path)
        db.execute("INSERT INTO enquiry (opened_ms, kind, car, point, text, body)"
                   " VALUES (1, 'protest', '22', '', 'x', x'')")
        for sql in ("UPDATE enquiry SET text = 'y'", "DELETE FROM enquiry",
                    "INSERT INTO enquiry_answer VALUES (9, 1, NULL, 'maybe', 'x', x'', NULL)"):
            with self.assertRaises(sqlite3.IntegrityError):
                db.execute(sql)
        db.close()


if __name__ == "__main__":
    unittest.main()
