# SPDX-License-Identifier: MIT
"""Packages are named before they are installed, and none is installed where that is refused."""

import os
import subprocess
import tempfile
import unittest

INSTALL = os.path.abspath("deploy/packages/install.sh")
NPM = os.path.abspath("deploy/packages/npm.sh")

# Stand-ins: `here` is installed and nothing else; whatever would install says so.
PROGRAMS = {
    "dpkg-query": '[ "$4" = here ] && echo "installed "',
    "apt-get": 'echo "RUN apt-get"',
    "npm": 'echo "RUN npm"',
    "sudo": 'exec "$@"',
}


class PackagesTest(unittest.TestCase):
    def setUp(self):
        folder = tempfile.TemporaryDirectory(prefix="cairn-packages-")
        self.addCleanup(folder.cleanup)
        self.folder = folder.name
        for name, script in PROGRAMS.items():
            path = os.path.join(self.folder, name)
            with open(path, "w", encoding="utf-8") as file:
                file.write(f"#!/bin/sh\n{script}\n")
            os.chmod(path, 0o755)

    def run_script(self, script, *arguments, **environment):
        done = subprocess.run(
            ["sh", script, *arguments], stdin=subprocess.DEVNULL, stdout=subprocess.PIPE,
            stderr=subprocess.STDOUT, timeout=60, check=False,
            env={"PATH": f"{self.folder}:{os.environ['PATH']}", **environment})
        return done.returncode, done.stdout.decode()

    def list_of(self, *packages):
        path = os.path.join(self.folder, "list.txt")
        with open(path, "w", encoding="utf-8") as file:
            file.write("# what for\n" + "".join(package + "\n" for package in packages))
        return path

    def test_what_is_missing_and_how_to_refuse_is_told_before_it_is_installed(self):
        path = self.list_of("here", "elsewhere", "nowhere")
        code, told = self.run_script(INSTALL, path)
        self.assertEqual(code, 0, told)
        ahead = told[:told.index("RUN apt-get")]
        self.assertIn("\n  elsewhere nowhere\n", ahead)
        self.assertIn(f"What each is for: {path}\n", ahead)
        self.assertIn("make INSTALL_PACKAGES=no", ahead)

    def test_where_it_is_refused_nothing_is_installed_and_it_fails(self):
        path = self.list_of("here", "elsewhere")
        code, told = self.run_script(INSTALL, path, INSTALL_PACKAGES="no")
        self.assertEqual(code, 1)
        self.assertNotIn("RUN", told)
        self.assertIn("apt-get install elsewhere\n", told)
        code, told = self.run_script(NPM, self.folder, INSTALL_PACKAGES="no")
        self.assertEqual(code, 1)
        self.assertNotIn("RUN", told)
        self.assertIn(f"npm ci --prefix {self.folder}\n", told)

    def test_npm_tells_it_too(self):
        code, told = self.run_script(NPM, self.folder)
        self.assertEqual(code, 0, told)
        self.assertIn("make INSTALL_PACKAGES=no", told[:told.index("RUN npm")])

    def test_where_nothing_is_missing_nothing_is_said(self):
        self.assertEqual(self.run_script(INSTALL, self.list_of("here"), INSTALL_PACKAGES="no"),
                         (0, ""))


if __name__ == "__main__":
    unittest.main()
