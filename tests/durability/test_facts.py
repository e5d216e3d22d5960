# SPDX-License-Identifier: MIT
"""Every stored fact is as it was accepted, or is counted and named: a row that cannot be read,
one that was changed, one that is missing, a flipped bit anywhere in the file."""

import contextlib
import json
import os
import re
import shutil
import sqlite3
import subprocess
import tempfile
import unittest

from tests.support.cairn import CAIRN, cairn, newest_schema
from tests.support.running import API, SLUG, RunningTest, demo_rows, read_rows, write_folder

FLIPS = 60
READING = ("INSERT INTO reading (id, given_id, point, car, time, elapsed, faults, made_at, made_by,"
           " replaces, void, reason, extras, upload_id) VALUES"
           " (:id, :id, :point, '22', '09:00:00', '', '', '', '', '', '', '', :extras, 1)")
LEFT_OUT = f"cairn: {SLUG}: left out: "
DAMAGED = f"cairn: {SLUG}: damaged: "


class FactsTest(RunningTest):
    @classmethod
    def setUpClass(cls):
        super().setUpClass()
        cls.made = tempfile.mkdtemp(prefix="cairn-facts-")
        cls.addClassCleanup(shutil.rmtree, cls.made, ignore_errors=True)
        cls.event = write_folder(os.path.join(cls.made, "event"), demo_rows("readings")[:300],
                                 demo_rows("decisions")[:12])
        cairn("import", os.path.join(cls.made, "data"), cls.event)
        cls.key = cairn("key", "add", os.path.join(cls.made, "data"), SLUG, "--role",
                        "organiser").stdout.decode().strip()
        cls.whole = cls.exported(os.path.join(cls.made, "data"), os.path.join(cls.made, "out"))[1]

    def setUp(self):
        super().setUp()
        self.data = shutil.copytree(os.path.join(self.made, "data"), self.path("data"))
        self.file = os.path.join(self.data, SLUG + ".cairn")

    @staticmethod
    def exported(data, folder):
        """(exit code, files, errors) of an export."""
        shutil.rmtree(folder, ignore_errors=True)
        done = subprocess.run([CAIRN, "export", data, SLUG, folder], capture_output=True,
                              timeout=120, check=False)
        files = {}
        for name in os.listdir(folder) if os.path.isdir(folder) else ():
            with open(os.path.join(folder, name), "rb") as file:
                files[name] = file.read()
        return done.returncode, files, done.stderr.decode(errors="replace")

    def sql(self, *statements, **values):
        """Runs statements as somebody with a shell could, past the triggers."""
        with contextlib.closing(sqlite3.connect(self.file)) as db:
            for name, in db.execute("SELECT name FROM sqlite_schema WHERE type = 'trigger'"
                                    ).fetchall():
                db.execute(f"DROP TRIGGER {name}")
            for statement in statements:
                db.execute(statement, values)
            db.commit()

    def export_now(self):
        return self.exported(self.data, self.path("out"))

    def doctor(self):
        return cairn("doctor", self.data, code=None).stdout.decode()

    def is_named(self, errors, table, row, name=""):
        """Both export and doctor name it."""
        what = f"{table} row {row}" + (f" (id {name})" if name else "") + ": "
        self.assertIn(what, errors)
        told = self.doctor()
        self.assertRegex(told, rf"(?m)^bad: event {SLUG}: {re.escape(what)}")
        self.assertNotIn(f"good: event {SLUG}", told)

    def test_a_whole_file_is_whole(self):
        self.assertEqual(self.export_now(), (0, self.whole, ""))
        self.assertIn(f"good: event {SLUG}: schema {newest_schema()}, whole, 300 readings, "
                      "12 decisions", self.doctor())

    def test_a_reading_that_no_longer_reads(self):
        self.sql(READING, id="lost", point="NOWHERE", extras=None)
        code, files, errors = self.export_now()
        self.assertEqual(code, 2)
        self.assertEqual(files, self.whole, "what reads is written")
        self.assertIn(LEFT_OUT + "reading row 301 (id lost): ", errors)
        self.assertIn("NOWHERE", errors)
        self.is_named(errors, "reading", 301, "lost")

    def test_extra_columns_come_back_whole_however_many_an_older_version_took(self):
        extras = {f"column{n}": str(n) for n in range(300)}
        self.sql(READING, id="wide", point="TC1", extras=json.dumps(extras))
        code, _, errors = self.export_now()
        self.assertEqual(code, 2)
        self.is_named(errors, "reading", 301, "wide")
        row, = [row for row in read_rows(self.path("out", "readings.csv")) if row["id"] == "wide"]
        self.assertEqual({name: row.get(name) for name in extras}, extras)

    def test_extra_columns_that_are_no_object(self):
        for number, extras in enumerate(("[1]", '{"a"', '{"a": 1}')):
            self.sql(READING, id=f"odd{number}", point="TC1", extras=extras)
        code, files, errors = self.export_now()
        self.assertEqual((code, files), (2, self.whole))
        self.assertEqual(errors.count(LEFT_OUT), 3)

    def test_a_field_that_is_none(self):
        """A column that may not be NULL is NULL, as a flipped bit in a row's header makes it."""
        self.sql("PRAGMA writable_schema = ON",
                 "UPDATE sqlite_schema SET sql = replace(sql, 'time      TEXT NOT NULL',"
                 " 'time      TEXT         ') WHERE name = 'reading'")
        self.sql("UPDATE reading SET time = NULL WHERE seq = 7")
        code, files, errors = self.export_now()
        self.assertEqual(code, 2)
        self.assertEqual(files["readings.csv"].count(b"\n"),
                         self.whole["readings.csv"].count(b"\n") - 1)
        self.assertIn("reading row 7 (id ", errors)

    def test_every_column_of_every_fact_is_held_together(self):
        tables = [("reading", "seq"), ("decision", "seq"), ("document", "id"), ("key", "id"),
                  ("code_secret", "id"), ("revision", "office"), ("upload", "id")]
        with contextlib.closing(sqlite3.connect(self.file)) as db:
            columns = [(table, key, row[1], row[2]) for table, key in tables
                       for row in db.execute(f"PRAGMA table_info({table})")
                       if row[1] not in (key, "id", "upload_id", "key_id", "name", "heads")]
        whole = self.file + ".whole"
        shutil.copy(self.file, whole)
        for table, key, column, kind in columns:
            with self.subTest(table=table, column=column):
                shutil.copy(whole, self.file)
                change = {"TEXT": f"{column} || '1'", "INTEGER": f"{column} + 1",
                          "BLOB": f"substr({column}, 1, length({column}) - 1) ||"
                                  f" iif(substr({column}, -1) = x'5a', x'5b', x'5a')"}[kind]
                if column == "extras":
                    change = "'{\"a\":\"b\"}'"
                elif column in ("source", "role", "kind") and table in ("upload", "key"):
                    continue  # a word of a list
                with contextlib.closing(sqlite3.connect(self.file)) as db:
                    row, = db.execute(f"SELECT max({key}) FROM {table}").fetchone()
                self.sql(f"UPDATE {table} SET {column} = CAST({change} AS {kind})"
                         f" WHERE {key} = {row}")
                code, _, errors = self.export_now()
                self.assertEqual(code, 2, errors)
                if table != "upload" or column != "body":  # a document may not even read
                    self.is_named(errors, table, row, self.name_of(errors, table, row))

    @staticmethod
    def name_of(errors, table, row):
        found = re.search(rf"{table} row {row} \(id ([^)]*)\)", errors)
        return found.group(1) if found else ""

    def test_rows_that_are_missing(self):
        for where, table, row in (("seq = 100", "reading", 101), ("seq > 290", "revision", 1),
                                  ("seq = 1", "reading", 2)):
            with self.subTest(where=where):
                shutil.copy(os.path.join(self.made, "data", SLUG + ".cairn"), self.file)
                self.sql(f"DELETE FROM reading WHERE {where}")
                code, _, errors = self.export_now()
                self.assertEqual(code, 2)
                self.is_named(errors, table, row, self.name_of(errors, table, row))

    def test_many_are_counted_and_some_named(self):
        self.sql("UPDATE reading SET reason = 'x'")
        code, _, errors = self.export_now()
        self.assertEqual(code, 2)
        self.assertEqual(errors.count(DAMAGED + "reading row "), 100)
        self.assertIn(DAMAGED + "200 more", errors)
        self.assertIn(f"bad: event {SLUG}: 300 damaged facts", self.doctor())

    def test_the_check_of_a_table_is_damaged(self):
        """A flipped bit in a CHECK of the schema: a connection that only reads does not notice,
        one that writes fails."""
        with open(self.file, "rb") as file:
            whole = file.read()
        checks = [found.start(1) for found in re.finditer(rb"\bCHECK \((\w)", whole)]
        self.assertGreater(len(checks), 10)
        for at in checks:
            with self.subTest(at=at, text=whole[at:at + 20]):
                with open(self.file, "wb") as file:
                    file.write(whole[:at] + bytes([whole[at] ^ 1]) + whole[at + 1:])
                self.assertRegex(self.doctor(), f"(?m)^bad: event {SLUG}: file: ")
                code, _, errors = self.export_now()
                self.assertEqual(code, 2)
                self.assertIn(SLUG, errors)
                for end in ("-wal", "-shm", "-lock"):
                    with contextlib.suppress(FileNotFoundError):
                        os.remove(self.file + end)

    def test_a_flipped_bit_is_refused_told_or_harmless(self):
        with open(self.file, "rb") as file:
            whole = file.read()
        seen = {"refused": 0, "told": 0, "harmless": 0}
        for _ in range(FLIPS):
            at, bit = self.rng.randrange(len(whole)), 1 << self.rng.randrange(8)
            with self.subTest(at=at, bit=bit):
                for name in os.listdir(self.data):
                    os.remove(os.path.join(self.data, name))
                with open(self.file, "wb") as file:
                    file.write(whole[:at] + bytes([whole[at] ^ bit]) + whole[at + 1:])
                told = self.doctor()
                code, files, errors = self.export_now()
                self.assertIn(code, (0, 1, 2), errors)
                if code == 0:
                    self.assertEqual(files, self.whole)
                    self.assertIn(f"good: event {SLUG}", told)
                    seen["harmless"] += 1
                else:
                    self.assertIn(SLUG, errors)
                    self.assertRegex(told, f"(?m)^(bad|doubtful): event {SLUG}")
                    seen["told" if files else "refused"] += 1
        self.assertGreater(seen["told"], 0, seen)
        print(seen, flush=True)

    def served(self):
        """(standings, or None where there are none; whether log or status tells of damage)"""
        server = self.start(self.data)
        client = self.client(server, self.key)
        standings, status = client.get(f"{API}/standings"), client.get(f"{API}/status")
        told = SLUG in server.errors() or (status.status == 200
                                           and status.json()["damaged_facts"] > 0)
        server.end()
        return standings.body if standings.status == 200 else None, told

    def test_a_flipped_bit_under_a_server_is_told_or_harmless(self):
        whole, told = self.served()
        self.assertEqual((whole is None, told), (False, False))
        with open(self.file, "rb") as file:
            before = file.read()
        for _ in range(FLIPS):
            at, bit = self.rng.randrange(len(before)), 1 << self.rng.randrange(8)
            with self.subTest(at=at, bit=bit):
                for name in os.listdir(self.data):
                    os.remove(os.path.join(self.data, name))
                with open(self.file, "wb") as file:
                    file.write(before[:at] + bytes([before[at] ^ bit]) + before[at + 1:])
                standings, told = self.served()
                self.assertTrue(told or standings == whole)

    def test_doctor_does_not_wait_for_a_pipe(self):
        os.mkfifo(os.path.join(self.data, "pipe.cairn"))
        told = subprocess.run([CAIRN, "doctor", self.data], capture_output=True, timeout=60,
                              check=False).stdout.decode()
        self.assertIn("bad: event pipe: this is no plain file", told)
        self.assertIn(f"good: event {SLUG}", told)


if __name__ == "__main__":
    unittest.main()
