# SPDX-License-Identifier: MIT
"""The supervisor that stands in for systemd reads the shipped units as systemd would."""

import importlib.machinery
import importlib.util
import os
import tempfile
import unittest
from unittest import mock

from roots import HERE, ROOT

loader = importlib.machinery.SourceFileLoader("supervisor", os.path.join(HERE, "supervisor"))
supervisor = importlib.util.module_from_spec(
    importlib.util.spec_from_loader(loader.name, loader))
loader.exec_module(supervisor)


class UnitTest(unittest.TestCase):
    def setUp(self):
        self.folder = self.enterContext(tempfile.TemporaryDirectory(prefix="cairn-units-"))
        self.enterContext(mock.patch.object(
            supervisor, "UNITS", (self.folder, os.path.join(ROOT, "deploy", "systemd"))))
        self.enterContext(mock.patch.object(supervisor, "STATE", self.folder + "/state"))

    def unit(self, text):
        with open(os.path.join(self.folder, "x.service"), "w", encoding="utf-8") as file:
            file.write(text)
        return supervisor.Unit("x")

    def test_the_service(self):
        unit = supervisor.Unit("cairn")
        environment = {"CAIRN_LISTEN": "192.0.2.1:80", "CAIRN_OPTIONS": "--access-log off"}
        self.assertEqual(unit.command(unit.last("ExecStart"), environment),
                         ["/usr/bin/cairn", "serve", "/var/lib/cairn", "--listen", "192.0.2.1:80",
                          "--access-log", "off"])
        self.assertEqual((unit.last("Type"), unit.last("User"), unit.last("Restart")),
                         ("notify", "cairn", "always"))

    def test_copies_and_their_timer(self):
        unit = supervisor.Unit("cairn-backup")
        self.assertEqual(
            unit.command(unit.last("ExecStart"), {"CAIRN_BACKUPS": "/a b:/c",
                                                  "CAIRN_BACKUPS_KEPT": "3"}),
            ["/usr/libexec/cairn/backup", "/var/lib/cairn", "/a b:/c", "3"])
        timer = supervisor.Unit("cairn-backup.timer")
        self.assertEqual(supervisor.seconds(timer.last("OnUnitInactiveSec"), 0), 300)
        self.assertEqual(supervisor.seconds(timer.last("OnBootSec"), 0), 120)

    def test_settings(self):
        path = os.path.join(self.folder, "settings")
        with open(path, "w", encoding="utf-8") as file:
            file.write('# a word\nA=1\nB="two words"\nA=2\n')
        unit = self.unit(f"[Service]\nEnvironment=A=0 C=3\nEnvironmentFile={path}\n"
                         "EnvironmentFile=-/no/such/file\n")
        told = unit.environment()
        self.assertEqual((told["A"], told["B"], told["C"]), ("2", "two words", "3"))

    def test_an_empty_value_takes_back_and_lines_go_on(self):
        unit = self.unit("[Service]\nExecStart=/bin/false\nExecStart=\n"
                         "ExecStart=/bin/echo 'a b' \\\n  c\n")
        self.assertEqual(unit.keys["ExecStart"], ["/bin/echo 'a b'    c"])
        self.assertEqual(unit.command(unit.last("ExecStart"), {}), ["/bin/echo", "a b", "c"])

    def test_what_was_never_started_is_not_active(self):
        self.assertFalse(self.unit("[Service]\nExecStart=/bin/true\n").is_active())
        self.assertFalse(self.unit("[Service]\nType=forking\nExecStart=/bin/true\n").is_active())

    def test_a_unit_that_is_not_there(self):
        with self.assertRaisesRegex(SystemExit, "none.service not found"):
            supervisor.Unit("none")

    def test_spans(self):
        for text, span in (("5min", 300), ("30s", 30), ("1min 30s", 90), ("10", 10), ("", 7)):
            self.assertEqual(supervisor.seconds(text, 7), span, text)


if __name__ == "__main__":
    unittest.main()
