# SPDX-License-Identifier: MIT
"""A small soak: some seconds, few desks, a small crowd, every kind of trouble; and tests that its
verdict finds what is wrong."""

import os
import subprocess
import sys
import tempfile
import types
import unittest

from tests.soak import verdict
from tests.support.cairn import cairn
from tests.support.running import demo_rows, write_folder

SMALL = ("--desks", "8", "--listeners", "40", "--reads", "40", "--share", "12", "--quiet",
         "--seconds", "4", "--seed", "3")


class SoakTest(unittest.TestCase):
    def test_all_holds_in_small(self):
        with tempfile.TemporaryDirectory() as build:
            done = subprocess.run(
                [sys.executable, "-m", "tests.soak.soak", *SMALL], timeout=240, check=False, text=True,
                stdout=subprocess.PIPE, stderr=subprocess.STDOUT,
                env={**os.environ, "BUILD": build,
                     "CAIRN": os.path.abspath(os.environ.get("CAIRN") or "build/cairn")})
        told = done.stdout
        self.assertEqual(done.returncode, 0, told)
        self.assertIn("0 violations", told)
        self.assertIn("4 kill,", told)
        for row in ("readings lost, doubled or invented | 0 ", "keys changed | 8 "):
            self.assertIn(f"| {row}", told)


class VerdictTest(unittest.TestCase):
    """Acknowledged facts compared with stored ones."""

    def setUp(self):
        place = tempfile.TemporaryDirectory()
        self.addCleanup(place.cleanup)
        self.folder = place.name
        verdict.figures.FOLDER, kept = os.path.join(place.name, "figures"), verdict.figures.FOLDER
        self.addCleanup(setattr, verdict.figures, "FOLDER", kept)
        self.rows, self.decisions = demo_rows("readings")[:50], demo_rows("decisions")[:2]
        cairn("import", self.path("data"), write_folder(self.path("event"), self.rows,
                                                        self.decisions))

    def path(self, *parts):
        return os.path.join(self.folder, *parts)

    def violations(self, readings):
        """The violations found where these readings were acknowledged."""
        found = []
        desk = types.SimpleNamespace(kept={"readings": readings, "decisions": self.decisions})
        run = types.SimpleNamespace(people=[desk], data=self.path("data"), path=self.path,
                                    readings=readings, decisions=self.decisions,
                                    violation=found.append, say=lambda text: None)
        verdict.Verdict(run).facts()
        return [text.split(":")[0] for text in found]

    def test_all_there(self):
        self.assertEqual(self.violations(self.rows), [])

    def test_a_lost_reading_is_missed(self):
        self.assertEqual(self.violations([*self.rows, dict(self.rows[0], id="lost-1")]),
                         ["readings lost"])

    def test_a_reading_that_nobody_sent_is_seen(self):
        self.assertEqual(self.violations(self.rows[1:]), ["readings that nobody sent"])

    def test_another_content_is_seen(self):
        self.assertEqual(self.violations([dict(self.rows[0], car="170"), *self.rows[1:]]),
                         ["readings lost", "readings that nobody sent"])


if __name__ == "__main__":
    unittest.main()
