# SPDX-License-Identifier: MIT
"""Commands give the actual reason of a failure, not a related one."""

import os
import socket
import subprocess
import tempfile
import unittest

from tests.support.cairn import as_nobody
from tests.support.serving import write_folder


class ReasonsTest(unittest.TestCase):
    def setUp(self):
        keep = tempfile.TemporaryDirectory(prefix="cairn-reasons-")
        self.addCleanup(keep.cleanup)
        self.folder = keep.name
        self.program, self.who = as_nobody(self.folder)

    def run_cairn(self, *arguments, **more):
        return subprocess.run([self.program, *arguments], capture_output=True, text=True, timeout=60,
                              check=False, **more)

    def test_a_port_that_is_taken(self):
        with socket.create_server(("127.0.0.1", 0)) as taken:
            port = taken.getsockname()[1]
            done = self.run_cairn("serve", self.folder, "--listen", f"127.0.0.1:{port}")
        self.assertEqual(done.returncode, 1, done.stderr)
        self.assertIn(f"cannot listen on 127.0.0.1 port {port}: Address already in use",
                      done.stderr)

    def test_a_folder_that_is_not_there_and_one_that_may_not_be_read(self):
        gone = os.path.join(self.folder, "gone")
        done = self.run_cairn("check", gone)
        self.assertEqual((done.returncode, done.stderr), (2, f"{gone}: no such folder\n"))
        shut = write_folder(os.path.join(self.folder, "shut"))
        done = self.run_cairn("check", os.path.join(shut, "event.json"))
        self.assertIn("Not a directory", done.stderr)
        os.chmod(shut, 0o000)
        self.addCleanup(os.chmod, shut, 0o755)
        done = self.run_cairn("check", shut, cwd="/", **self.who)
        self.assertEqual(done.returncode, 2, done.stderr)
        self.assertRegex(done.stderr, r"shut: it may not be read by the user \w+\n\Z")


if __name__ == "__main__":
    unittest.main()
