# SPDX-License-Identifier: MIT
"""Papers are drawn by a process of their own: whatever happens to it, the server goes on.

The process is kept busy by a configuration of fonts that is a pipe nobody writes to, so that a
test can look at it and end it.
"""

import contextlib
import os
import re
import signal
import subprocess
import tempfile
import time
import unittest

from test_workers import Asking
from tests.support import cairn as program, machine, serving
from tests.support.serving import API, ServedTest, Server

PAPER = f"{API}/paper/standings"


def children(pid):
    """The running child processes of a process, with the program of each."""
    found = {}
    for name in os.listdir("/proc"):
        if not name.isdigit():
            continue
        try:
            with open(f"/proc/{name}/stat", encoding="utf-8", errors="replace") as file:
                state, parent = file.read().rpartition(")")[2].split()[:2]
            if int(parent) == pid and state != "Z":
                with open(f"/proc/{name}/cmdline", encoding="utf-8") as file:
                    found[int(name)] = file.read().split("\0")[:-1]
        except (FileNotFoundError, ProcessLookupError):
            pass  # it has ended meanwhile
    return found


class ProcessTest(ServedTest):
    @classmethod
    def setUpClass(cls):
        folder = tempfile.TemporaryDirectory(prefix="cairn-fonts-")
        cls.addClassCleanup(folder.cleanup)
        fonts = os.path.join(folder.name, "fonts.conf")
        os.mkfifo(fonts)
        cls.server = type("Held", (Server,), {"env": {"FONTCONFIG_FILE": fonts}})()
        cls.addClassCleanup(cls.end_server)

    def only_child(self, server=None):
        pid = (server or self.server).process.pid
        # Before it runs its own program it is seen with the server's arguments.
        self.wait_for(lambda: list(children(pid).values()) == [["cairn", "draw-paper"]])
        child, = children(pid)
        # Until it waits for the fonts, and all that a start opens is open, or shut again.
        self.wait_for(lambda: "pango" in self.maps(child) and self.sleeps(child))
        return child

    @staticmethod
    def maps(pid):
        try:
            with open(f"/proc/{pid}/maps", encoding="utf-8") as file:
                return file.read()
        except (FileNotFoundError, ProcessLookupError):
            return ""

    @staticmethod
    def blocked_signals(pid):
        with open(f"/proc/{pid}/status", encoding="utf-8") as file:
            return int(re.search(r"^SigBlk:\s*(\w+)$", file.read(), re.M)[1], 16)

    @staticmethod
    def sleeps(pid):
        """Whether all threads of a process are waiting."""
        states = set()
        with contextlib.suppress(FileNotFoundError, ProcessLookupError):
            for thread in os.listdir(f"/proc/{pid}/task"):
                with open(f"/proc/{pid}/task/{thread}/stat", encoding="utf-8") as file:
                    states.add(file.read().rpartition(")")[2].split()[0])
        return states == {"S"}

    def assert_lives(self):
        self.assertEqual(self.server.get("/healthz").json(), {"status": "ok", "can_write": True})
        self.assertIsNone(self.server.process.poll())
        self.assertEqual(children(self.server.process.pid), {})

    def test_a_child_that_dies_is_a_paper_that_is_not_there(self):
        for number in (signal.SIGABRT, signal.SIGSEGV, signal.SIGTRAP, signal.SIGKILL):
            asked = Asking(self.server, PAPER)
            os.kill(self.only_child(), number)
            told = self.assert_problem(asked.told(), 503, "try-again")
            self.assertEqual(told["detail"], "No paper now: it could not be drawn.")
            self.assertEqual(asked.answer.headers["retry-after"], "2")
            self.assert_lives()

    def test_a_child_holds_nothing_of_the_server(self):
        asked = Asking(self.server, PAPER)
        child = self.only_child()
        held = machine.descriptors(child)
        self.assertLessEqual({0, 1, 2}, set(held))
        self.assertRegex(held[0], r"^pipe:")
        self.assertRegex(held[1], r"^pipe:")
        self.assertEqual(held[2], self.server.log)
        for fd, what in held.items():
            if fd > 2:
                self.assertNotRegex(what, r"socket:|\.cairn|eventpoll|eventfd", fd)
        # A thread that begins another one blocks all signals for that moment, as pango's does.
        self.wait_for(lambda: self.blocked_signals(child) == 0)
        with open(f"/proc/{child}/limits", encoding="utf-8") as file:
            limits = file.read()
        self.assertRegex(limits, r"Max cpu time +20 +20 ")
        self.assertRegex(limits, r"Max core file size +0 +0 ")
        os.kill(child, signal.SIGKILL)
        asked.told()

    def test_others_go_on_while_one_is_drawn(self):
        asked = Asking(self.server, PAPER)
        child = self.only_child()
        second = Asking(self.server, PAPER)
        self.wait_for(lambda: self.server.figure("cairn_answers_waiting") == 2)
        self.assertEqual(list(children(self.server.process.pid)), [child])
        self.assertEqual(self.server.get(f"{API}/standings?after=TC1").status, 200)
        self.assert_taken(self.server.post("readings", [
            {"point": "PC1", "car": 5, "id": "beside-a-paper"}]), 1)
        os.kill(child, signal.SIGKILL)
        self.assertEqual([asked.told().status, second.told().status], [503, 503])
        self.assert_lives()

    def test_it_ends_with_who_waits_for_it(self):
        with self.server.connect() as peer:
            peer.sendall(f"GET {PAPER} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            self.only_child()
        self.wait_for(lambda: children(self.server.process.pid) == {})
        self.assert_lives()

    def test_it_ends_with_the_server(self):
        server = type(self.server)()
        try:
            asked = [Asking(server, PAPER), Asking(server, PAPER, key=server.organiser)]
            self.wait_for(lambda: len(children(server.process.pid)) == 2)
            ours = list(children(server.process.pid))
            begun = time.monotonic()
            server.process.send_signal(signal.SIGTERM)
            self.assertEqual(server.process.wait(program.READY_SECONDS), 0)
            # Far less than a paper may take.
            self.assertLess(time.monotonic() - begun, 15)
            for child in ours:
                self.assertFalse(os.path.exists(f"/proc/{child}"))
            self.assertEqual([a.told().status for a in asked], [503, 503])
        finally:
            server.end()

    def test_it_ends_with_a_server_that_is_killed(self):
        server = type(self.server)()
        try:
            with server.connect() as peer:
                peer.sendall(f"GET {PAPER} HTTP/1.1\r\nHost: x\r\n\r\n".encode())
                child = self.only_child(server)
                server.process.kill()
                server.process.wait()
                self.wait_for(lambda: self.maps(child) == "")
        finally:
            server.end()


class KeptTest(ServedTest):
    def test_a_paper_is_kept_for_its_revision_and_host(self):
        first = self.server.get(PAPER, Host="a.example")
        made = self.server.figure("cairn_answers_made_total")
        self.assertEqual(self.server.get(PAPER, Host="a.example").body, first.body)
        self.assertEqual(self.server.figure("cairn_answers_made_total"), made)
        self.assertNotEqual(self.server.get(PAPER, Host="b.example").body, first.body)
        self.assertEqual(self.server.figure("cairn_answers_made_total"), made + 1)
        self.server.post("readings", [{"point": "TC1", "car": 8, "time": "08:52", "id": "kept"}])
        self.assertNotEqual(self.server.get(PAPER, Host="a.example").body, first.body)

    def test_the_command_is_in_no_list_and_draws_nothing_of_what_is_no_document(self):
        self.assertNotIn("draw-paper", serving.cairn("--help"))
        for text in (b"", b"nonsense", b"\xff" * 4096):
            done = subprocess.run([program.CAIRN, "draw-paper"], input=text, capture_output=True,
                                  timeout=60, check=False)
            self.assertEqual((done.returncode, done.stderr), (0, b""))
            self.assertNotIn(b"%PDF", done.stdout)


if __name__ == "__main__":
    unittest.main()
