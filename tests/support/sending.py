# SPDX-License-Identifier: MIT
"""A folder to run `cairn send` from, as a person does in a shell."""

import os
import subprocess
import tempfile
import unittest

from tests.support.cairn import CAIRN


def environment(**more):
    """An environment without variables that would redirect requests or supply a key."""
    kept = {name: value for name, value in os.environ.items()
            if not name.lower().endswith("_proxy") and name != "CAIRN_KEY"}
    return {**kept, **more}


class Shell(unittest.TestCase):
    """A folder to send from."""

    def setUp(self):
        super().setUp()
        folder = tempfile.TemporaryDirectory(prefix="cairn-send-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name

    def write(self, name, text):
        path = os.path.join(self.folder, name)
        with open(path, "wb") as file:
            file.write(text if isinstance(text, bytes) else text.encode())
        return path

    def marks(self, path):
        """The rows that FILE.sent marks as sent."""
        with open(path + ".sent", encoding="ascii") as file:
            return file.read().splitlines()[2:]

    def start(self, url, path, *options, key=None, **pipes):
        more = {} if key is None else {"CAIRN_KEY": key}
        process = subprocess.Popen([CAIRN, "send", url, path, *options], env=environment(**more),
                                   **{"stdin": subprocess.DEVNULL, "stdout": subprocess.PIPE,
                                      "stderr": subprocess.PIPE, **pipes})
        self.addCleanup(self.end, process)
        return process

    @staticmethod
    def end(process):
        if process.poll() is None:
            process.kill()
        process.communicate()

    def cairn_send(self, url, path, *options, key=None, code=0, text=None):
        """Runs the command to its end; returns standard output and standard error."""
        process = self.start(url, path, *options, key=key,
                             stdin=subprocess.DEVNULL if text is None else subprocess.PIPE)
        out, err = process.communicate(text, timeout=120)
        self.assertEqual(process.returncode, code, (out, err))
        return out.decode(), err.decode()
