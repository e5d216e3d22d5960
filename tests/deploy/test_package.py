# SPDX-License-Identifier: MIT
"""The Debian package: built, inspected, installed, started, removed and purged.

The real dpkg installs it into a folder of its own, with fakeroot in place of root.
"""

import glob
import os
import re
import shutil
import stat
import subprocess
import tempfile
import unittest

from tests.support import cairn as program, fronts, serving
from tests.support.fronts import ROOT

BUILD = os.path.abspath(os.environ.get("BUILD") or os.path.join(ROOT, "build"))


def run(*command, **options):
    """Runs a command that must succeed; returns what it printed, errors too."""
    done = subprocess.run(command, stdout=subprocess.PIPE, stderr=subprocess.STDOUT, timeout=280,
                          check=False, **options)
    told = done.stdout.decode(errors="replace")
    if done.returncode != 0:
        raise AssertionError(f"{' '.join(command)}: {done.returncode} {told[-2000:]}")
    return told


class PackageTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        environment = {name: value for name, value in os.environ.items()
                       if name not in ("MAKEFLAGS", "MFLAGS", "MAKELEVEL")}
        run("make", "--no-print-directory", "deb", f"BUILD={BUILD}", cwd=ROOT, env=environment)
        cls.package, = glob.glob(os.path.join(BUILD, "cairn_*.deb"))
        cls.folder = tempfile.mkdtemp(prefix="cairn-package-")
        cls.addClassCleanup(shutil.rmtree, cls.folder, ignore_errors=True)
        cls.tree = os.path.join(cls.folder, "tree")
        run("dpkg-deb", "--extract", cls.package, cls.tree)

    def file(self, *parts):
        with open(os.path.join(self.tree, *parts), encoding="utf-8") as file:
            return file.read()

    def test_nothing_to_warn_of(self):
        told = run("lintian", "--allow-root", "--fail-on", "error,warning", self.package)
        self.assertNotRegex(told, r"(?m)^[EW]: ")

    def test_what_it_holds(self):
        listed = run("dpkg-deb", "--contents", self.package)
        for path in ("usr/bin/cairn", "lib/systemd/system/cairn.service", "etc/default/cairn",
                     "lib/systemd/system/cairn-backup.service", "usr/libexec/cairn/backup",
                     "lib/systemd/system/cairn-backup.timer", "usr/libexec/cairn/restore-drill",
                     "usr/share/man/man1/cairn.1.gz", "usr/lib/sysusers.d/cairn.conf",
                     "usr/share/doc/cairn/examples/nginx/cairn.conf",
                     "usr/share/doc/cairn/examples/varnish/cairn.vcl"):
            self.assertIn(f" ./{path}\n", listed)
        for line in listed.splitlines():
            self.assertEqual(line.split()[1], "root/root", line)
            self.assertNotRegex(line[:10], r"^[^l](.......w|....w)", line)
        notice = self.file("usr/share/doc/cairn/copyright")
        self.assertIn("License: MIT", notice)

    def test_its_documents_lead_to_what_it_holds(self):
        folder = os.path.join(self.tree, "usr/share/doc/cairn")
        asked = 0
        for path in glob.glob("**/*.md", root_dir=folder, recursive=True):
            text = self.file(folder, path)
            for link in re.findall(r"\]\(([^):#]+)", text):
                if link not in ("LICENSE", "https", "http"):  # the licence is in the copyright file
                    asked += 1
                    target = os.path.join(folder, os.path.dirname(path), link)
                    self.assertTrue(os.path.exists(target), f"{path}: {link}")
        self.assertGreater(asked, 25)

    def test_the_program_tells_the_version(self):
        told = subprocess.run([program.CAIRN, "--version"], capture_output=True, text=True, check=True)
        with open(os.path.join(ROOT, "deploy", "debian", "changelog"), encoding="utf-8") as file:
            listed = re.match(r"cairn \(([^)-]+)", file.readline()).group(1)
        self.assertEqual((told.stdout, told.stderr), (f"cairn {listed}\n", ""))

    def test_it_needs_what_is_listed(self):
        """The packages listed as needed to run cairn are those that the linker finds."""
        needs = run("dpkg-deb", "--field", self.package, "Depends")
        libraries = set(re.findall(r"\b(lib[\w.+-]+|zlib1g)\b", needs)) - {"libc6"}
        # A build with a sanitizer needs its library too, which is in no package of the list.
        libraries = {name for name in libraries if not re.fullmatch(r"lib(a|ub|t|l)san\d+", name)}
        with open(os.path.join(ROOT, "deploy", "packages", "run.txt"), encoding="utf-8") as file:
            listed = {line.strip() for line in file if line.strip() and line[0] != "#"}
        self.assertEqual(libraries & listed, libraries)
        self.assertIn("systemd-sysusers", needs)

    def test_its_version_is_the_programs(self):
        with open(os.path.join(ROOT, "server", "system", "version.h"), encoding="utf-8") as file:
            version = re.search(r'#define CAIRN_VERSION "([^"]+)"', file.read()).group(1)
        self.assertEqual(run("dpkg-deb", "--field", self.package, "Version").strip(), version)

    def test_it_is_installed_removed_and_purged(self):
        """On a machine without a running service manager: the maintainer scripts must still work.
        """
        root = os.path.join(self.folder, "root")
        admin = os.path.join(root, "var", "lib", "dpkg")
        for name in ("info", "updates", "triggers"):
            os.makedirs(os.path.join(admin, name))
        for name in ("status", "available"):
            with open(os.path.join(admin, name), "w", encoding="utf-8"):
                pass
        os.makedirs(os.path.join(root, "etc"))

        def dpkg(*arguments):
            return run("fakeroot", "dpkg", f"--root={root}", "--force-script-chrootless",
                       "--force-depends", "--log=/dev/null", *arguments)

        def there(*parts):
            return os.path.exists(os.path.join(root, *parts))

        def text(*parts):
            with open(os.path.join(root, *parts), encoding="utf-8") as file:
                return file.read()

        for _ in range(2):  # the second time over itself
            dpkg("--install", self.package)
            self.assertRegex(text("etc", "passwd"), r"(?m)^cairn:.*:/var/lib/cairn:/usr/sbin/nologin$")
            self.assertRegex(text("etc", "group"), r"(?m)^cairn:")
            mode = os.stat(os.path.join(root, "var", "lib", "cairn")).st_mode
            self.assertEqual(stat.S_IMODE(mode), 0o750)
            self.assertTrue(there("usr", "bin", "cairn"))
        with open(os.path.join(root, "var/lib/cairn/gannet-2031.cairn"), "wb") as file:
            file.write(b"facts")
        dpkg("--remove", "cairn")
        self.assertFalse(there("usr", "bin", "cairn"))
        self.assertTrue(there("etc", "default", "cairn"))
        told = dpkg("--purge", "cairn")
        self.assertFalse(there("etc", "default", "cairn"))
        self.assertFalse(there("var", "backups", "cairn"))
        # Files made by organisers stay: only they may remove them.
        self.assertIn("/var/lib/cairn is left", told)
        self.assertTrue(there("var/lib/cairn/gannet-2031.cairn"))
        dpkg("--install", self.package)
        os.remove(os.path.join(root, "var/lib/cairn/gannet-2031.cairn"))
        dpkg("--purge", "cairn")
        self.assertFalse(there("var", "lib", "cairn"))
        self.assertNotIn("Package: cairn", text("var", "lib", "dpkg", "status"))

    def test_it_starts_as_the_unit_says(self):
        """The unit's command runs with the package's settings; only the folders differ."""
        unit = self.file("lib/systemd/system/cairn.service")
        settings = dict(re.findall(r"(?m)^(CAIRN_\w+)=\"?([^\"\n]*)\"?$",
                                   self.file("etc/default/cairn")))
        self.assertEqual(settings["CAIRN_LISTEN"], "127.0.0.1:8080")
        command = re.search(r"(?m)^ExecStart=(.*)$", unit).group(1).split()
        program = self.tree + command[0]
        server = serving.Server()
        self.addCleanup(server.end)
        words = []
        for word in command[1:]:
            if word == "$CAIRN_OPTIONS":
                words += settings["CAIRN_OPTIONS"].split()
            else:
                words.append({"/var/lib/cairn": server.data,
                              "${CAIRN_LISTEN}": "127.0.0.1:0"}.get(word, word))
        process = subprocess.Popen([program, *words], stdin=subprocess.DEVNULL,
                                   stdout=subprocess.PIPE, stderr=subprocess.PIPE)
        try:
            self.assertRegex(process.stdout.readline().decode(), r"^listening on http://127\.0\.0\.1:")
        finally:
            process.terminate()
            _, errors = process.communicate(timeout=60)
        self.assertEqual((process.returncode, errors), (0, b""))


class ManualTest(unittest.TestCase):
    page = os.path.join(ROOT, "deploy", "cairn.1")

    def test_it_is_well_made(self):
        done = subprocess.run(["mandoc", "-T", "lint", self.page], stdout=subprocess.PIPE,
                              stderr=subprocess.PIPE, timeout=60, check=False)
        # A machine without the other pages cannot find them.
        told = [line for line in done.stdout.decode().splitlines() if "referenced manual" not in line]
        self.assertEqual(told, [])

    def test_it_names_every_command(self):
        text = fronts.shipped("cairn.1")
        listed = re.findall(r"(?m)^  cairn (\w+)", serving.cairn("--help"))
        self.assertGreater(len(listed), 8)
        for name in listed:
            self.assertRegex(text, rf"(?m)^\.It Cm {name}$")


if __name__ == "__main__":
    unittest.main()
