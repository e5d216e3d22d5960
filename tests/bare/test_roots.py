# SPDX-License-Identifier: MIT
"""What of a machine's package sources goes into a fresh root, and what is left of a run."""

import contextlib
import os
import tempfile
import unittest
from unittest import mock

import roots

STANZAS = """# the mirror
Types: deb deb-src
URIs: http://mirror.example/debian
# a comment within
Suites: bookworm bookworm-updates
Components: main contrib
Signed-By: /usr/share/keyrings/debian-archive-keyring.gpg

Types: deb
URIs: http://mirror.example/security
Suites: bookworm-security
Components: main

Types: deb
Enabled: no
URIs: http://off.example/debian
Suites: bookworm
Components: main

Types: deb
URIs: https://vendor.example/node
Suites: nodistro
Components: main
"""

LINES = """# deb http://off.example/debian bookworm main
deb [arch=amd64 trusted=yes] http://mirror.example/debian bookworm main contrib # a word
deb-src http://mirror.example/debian bookworm main
deb http://mirror.example/debian bookworm-security main
deb http://vendor.example/tools stable main
deb http://mirror.example/debian bookworm contrib
deb http://mirror.example/debian trixie main
"""


class SourcesTest(unittest.TestCase):
    def test_stanzas(self):
        self.assertEqual(roots.source_lines(STANZAS), [
            "deb http://mirror.example/debian bookworm main",
            "deb http://mirror.example/debian bookworm-updates main",
            "deb http://mirror.example/security bookworm-security main"])

    def test_lines(self):
        self.assertEqual(roots.source_lines(LINES), [
            "deb [trusted=yes] http://mirror.example/debian bookworm main",
            "deb http://mirror.example/debian bookworm-security main"])

    def test_nothing_of_another_release(self):
        self.assertEqual(roots.source_lines(LINES.replace("bookworm", "bullseye")), [])
        self.assertEqual(roots.source_lines(""), [])


class WorkFolderTest(unittest.TestCase):
    def setUp(self):
        self.cache = self.enterContext(tempfile.TemporaryDirectory(prefix="cairn-bare-"))
        self.enterContext(mock.patch.object(roots, "CACHE", self.cache))

    def folders(self):
        return sorted(os.listdir(self.cache))

    def test_it_goes_however_the_run_ends(self):
        for end in (KeyboardInterrupt, SystemExit, ValueError):
            with contextlib.suppress(end), roots.work_folder() as work:
                self.assertEqual(self.folders(), [os.path.basename(work)])
                os.mkdir(os.path.join(work, "root"))
                raise end
            self.assertEqual(self.folders(), [])

    def test_what_a_killed_run_left_goes_and_what_runs_stays(self):
        os.makedirs(os.path.join(self.cache, "work.killed", "root"))
        with roots.work_folder() as one, roots.work_folder() as other:
            self.assertEqual(self.folders(), sorted(map(os.path.basename, (one, other))))


if __name__ == "__main__":
    unittest.main()
