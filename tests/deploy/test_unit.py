# SPDX-License-Identifier: MIT
"""How far the systemd units confine the services, and that the server needs no more than they
leave it."""

import os
import re
import socket
import subprocess
import tempfile
import time
import unittest

from tests.support import cairn as program, fronts, serving
from tests.support.fronts import ROOT

UNITS = os.path.join(ROOT, "deploy", "systemd")


def analyze(*arguments):
    done = subprocess.run(["systemd-analyze", *arguments], stdout=subprocess.PIPE,
                          stderr=subprocess.STDOUT, timeout=60, check=False)
    return done.returncode, done.stdout.decode()


def calls_of(groups):
    """Names of the system calls in groups, nested groups included; a name that is no group stands
    for itself."""
    found = {group for group in groups if group[0] != "@"}
    for group in set(groups) - found:
        _, told = analyze("syscall-filter", "--no-pager", group)
        inner = []
        for line in told.splitlines()[1:]:
            word = line.strip()
            if word.startswith("@"):
                inner.append(word)
            elif word and word[0] != "#":
                found.add(word)
        found |= calls_of(inner)
    return found


class ConfinementTest(unittest.TestCase):
    def test_exposure_is_below_two(self):
        for unit in ("cairn.service", "cairn-backup.service"):
            code, told = analyze("security", "--offline=true", "--no-pager", "--threshold=19",
                                 os.path.join(UNITS, unit))
            level = re.search(r"Overall exposure level for \S+: (\d+\.\d)", told)
            self.assertIsNotNone(level, told)
            self.assertLess(float(level.group(1)), 2.0)
            self.assertEqual(code, 0)
            self.assertNotIn("ignoring", told)

    def test_the_units_are_well_made(self):
        """systemd-analyze finds no fault in the units, except that the programs they start are
        not installed here."""
        with tempfile.TemporaryDirectory(prefix="cairn-unit-") as folder:
            for unit in sorted(os.listdir(UNITS)):
                text = re.sub(r"(?m)^ExecStart=\S+", "ExecStart=/bin/true",
                              fronts.shipped("systemd", unit))
                with open(os.path.join(folder, unit), "w", encoding="utf-8") as file:
                    file.write(text)
            for unit in sorted(os.listdir(UNITS)):
                _, told = analyze("verify", "--man=no", "--recursive-errors=no",
                                  os.path.join(folder, unit))
                ours = [line for line in told.splitlines() if "cairn" in line]
                self.assertEqual(ours, [], told)

    def test_the_server_makes_no_call_that_is_kept_from_it(self):
        lines = re.findall(r"(?m)^SystemCallFilter=(~?)(.*)$",
                           fronts.shipped("systemd", "cairn.service"))
        allowed = set()
        for refused, groups in lines:
            named = calls_of(groups.split())
            allowed = allowed - named if refused else allowed | named
        self.assertGreater(len(allowed), 150)
        server = serving.Server()
        self.addCleanup(server.end)
        trace = os.path.join(server.folder, "calls")
        process = subprocess.Popen(
            ["strace", "-D", "-f", "-qq", "-e", "signal=none", "-o", trace, program.CAIRN, "serve",
             server.data, "--listen", "127.0.0.1:0"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            # A leak checker cannot run under a tracer: it would end a sanitized server with an error.
            env={**os.environ, "LSAN_OPTIONS": "detect_leaks=0", "ASAN_OPTIONS": ":".join(
                [os.environ.get("ASAN_OPTIONS", ""), "detect_leaks=0"])})
        try:
            line = process.stdout.readline().decode()
            server.port = int(re.search(r":(\d+)/$", line).group(1))
            self.assertEqual(server.get(f"/{serving.SLUG}/").status, 200)
            self.assertEqual(server.get(f"{serving.API}/paper/standings").status, 200)
            server.post("readings", [{"point": "PC1", "car": 8}])
            listener = serving.Stream(server)
            listener.message()
            server.post("readings", [{"point": "PC1", "car": 9}])
            listener.message()
            listener.close()
            server.add_key("--role", "organiser")
        finally:
            process.terminate()  # with -D the child is the server, not the tracer
            self.assertEqual(process.wait(60), 0)
            process.stdout.close()
        text = ""
        until = time.monotonic() + 60
        while re.search(rf"(?m)^{process.pid} +exit_group\(", text) is None:
            self.assertLess(time.monotonic(), until)
            time.sleep(0.05)
            with open(trace, encoding="utf-8", errors="replace") as file:
                text = file.read()
        made = set(re.findall(r"(?m)^\d+ +(\w+)\(", text))
        # The manager itself starts the program, before the filter holds. Raising the limit on
        # open files may fail: the unit has set it. SQLite gives files to others only as root.
        made -= {"execve", "prlimit64", "setrlimit", "fchown"}
        self.assertGreater(len(made), 20)
        self.assertEqual(made - allowed, set())


class ManagerTest(unittest.TestCase):
    def start(self, address):
        """Starts a server that reports its state to a service manager at that address."""
        server = serving.Server()
        self.addCleanup(server.end)
        process = subprocess.Popen(
            [program.CAIRN, "serve", server.data, "--listen", "127.0.0.1:0"],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.DEVNULL,
            env={**os.environ, "NOTIFY_SOCKET": address})
        self.addCleanup(process.stdout.close)
        self.addCleanup(process.wait)
        self.addCleanup(process.terminate)
        return process

    def test_it_is_told_when_the_server_answers_and_when_it_ends(self):
        folder = self.enterContext(tempfile.TemporaryDirectory(prefix="cairn-unit-"))
        for address in (os.path.join(folder, "notify"), f"@cairn-test-{os.getpid()}"):
            with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as manager:
                manager.bind(address.replace("@", "\0"))
                manager.settimeout(60)
                process = self.start(address)
                self.assertEqual(manager.recv(100), b"READY=1")
                self.assertRegex(process.stdout.readline(), rb"^listening on ")
                process.terminate()
                self.assertEqual(manager.recv(100), b"STOPPING=1")
                self.assertEqual(process.wait(60), 0)

    def test_a_manager_that_is_not_there_is_no_matter(self):
        for address in ("/no/such/socket", "relative", "@" + "x" * 200, ""):
            process = self.start(address)
            self.assertRegex(process.stdout.readline(), rb"^listening on ", address)
            process.terminate()
            self.assertEqual(process.wait(60), 0)


if __name__ == "__main__":
    unittest.main()
