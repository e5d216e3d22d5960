# SPDX-License-Identifier: MIT
"""Events on several hosts behind one nginx: two servers with an event each, and one list of both.
"""

import copy
import json
import os
import re
import subprocess
import tempfile
import unittest

from tests.support import fronts, serving

DIRECTORY = os.path.join(fronts.ROOT, "deploy", "nginx", "directory")
FAR = "fulmar-2031"
FAR_API = f"/api/v1/events/{FAR}"
NAMES = {serving.SLUG: 'Gannet <Trial> & "friends" \\ 2031', FAR: FAR}


def make(lines, folder):
    """Runs `directory` on a list; returns what it printed on standard error and its exit code."""
    with tempfile.NamedTemporaryFile("w", suffix=".list", encoding="utf-8") as file:
        file.write("".join(line + "\n" for line in lines))
        file.flush()
        done = subprocess.run([DIRECTORY, file.name, folder], capture_output=True, text=True,
                              timeout=60, check=False)
        return done.stderr.replace(file.name, "LIST"), done.returncode


class Spread(fronts.Nginx):
    """The shipped nginx with a list: one server is on its own machine, the other counts as far
    away."""

    def __init__(self, near, far):
        self.far = far
        super().__init__(near)

    def prepare(self, origin_port):
        told = make([f"{serving.SLUG} 127.0.0.1:{origin_port} {NAMES[serving.SLUG]}", "",
                     f"{FAR} 127.0.0.1:{self.far.port} # no name"], self.directory)
        if told != ("", 0):
            raise AssertionError(told)
        return super().prepare(origin_port)


class DirectoryTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        event = copy.deepcopy(serving.EVENT) | {"slug": FAR, "name": "Fulmar Trial 2031"}
        cls.near = serving.Server()
        cls.addClassCleanup(cls.near.end)
        cls.far = cls.far_server(event)
        cls.addClassCleanup(cls.far.end)
        cls.front = Spread(cls.near, cls.far)
        cls.addClassCleanup(cls.front.end)

    @staticmethod
    def far_server(event):
        """A server whose event has the other slug; its keys are for that event."""
        slug, serving.SLUG = serving.SLUG, FAR
        try:
            return serving.Server(event=event)
        finally:
            serving.SLUG = slug

    def test_each_event_is_answered_by_its_host(self):
        for server, slug in ((self.near, serving.SLUG), (self.far, FAR)):
            for path in (f"/{slug}/", f"/{slug}/cars/1", f"/api/v1/events/{slug}",
                         f"/api/v1/events/{slug}/standings?by=class"):
                told = self.front.get(path)
                self.assertEqual(told.status, 200, str(told))
                self.assertEqual(told.body, server.get(path).body, path)
        self.assertEqual(self.near.get(FAR_API).status, 404)
        self.assertEqual(self.far.get(serving.API).status, 404)

    def test_writes_and_keys_go_to_the_event_s_host(self):
        row = [{"point": "PC1", "car": 8}]
        body = json.dumps(row).encode()
        for key, status in ((self.far.organiser, 200), (self.near.organiser, 401)):
            told = self.front.ask("POST", f"{FAR_API}/readings", body, key,
                                  Content_Type="application/json")
            self.assertEqual(told.status, status, str(told))
        self.assertEqual(self.front.get(f"{FAR_API}/rules", self.far.organiser).status, 200)

    def test_streams_flow_from_the_event_s_host(self):
        with self.front.connect() as line:
            line.settimeout(20)
            line.sendall(f"GET {FAR_API}/stream HTTP/1.1\r\nHost: x\r\n\r\n".encode())
            got = b""
            while b"data: " not in got:
                got += line.recv(4096)
        self.assertTrue(got.startswith(b"HTTP/1.1 200 "))

    def test_the_front_lists_all_events(self):
        page = self.front.get("/")
        self.assertEqual(page.media_type, "text/html")
        self.assertIn("default-src 'none'", page.headers["content-security-policy"])
        for slug in NAMES:
            self.assertIn(f'<a href="/{slug}/">', page.text)
        self.assertIn("Gannet &lt;Trial&gt; &amp; &quot;friends&quot; \\ 2031</a>", page.text)
        told = self.front.get("/api/v1/events")
        self.assertEqual(told.media_type, "application/json")
        self.assertEqual(told.json(), {"events": [{"slug": slug, "name": name}
                                                  for slug, name in NAMES.items()]})

    def test_files_of_pages_come_from_whoever_has_them(self):
        style = re.search(r'"\.*(/_/[^"]+\.css)"', self.front.get(f"/{FAR}/").text).group(1)
        for _ in range(4):
            self.assertEqual(self.front.get(style).status, 200, style)
        self.assertEqual(self.front.get("/_/none/none.css").status, 404)

    def test_what_is_not_listed_is_the_front_s_own_machine_s(self):
        for path in ("/healthz", "/api/v1/openapi.yaml"):
            self.assertEqual(self.front.get(path).body, self.near.get(path).body)
        for path in ("/nobody-2031/", "/api/v1/events/nobody-2031", "/metrics"):
            self.assertEqual(self.front.get(path).status, 404, path)

    def test_no_path_reaches_a_host_by_another_s_name(self):
        for path in (f"/{serving.SLUG}/../{FAR}/", f"/{serving.SLUG}/..%2f{FAR}/",
                     f"//{FAR}//", f"/api/v1/events/{serving.SLUG}/../{FAR}"):
            self.assertGreaterEqual(self.front.get(path).status, 300, path)


class ListTest(unittest.TestCase):
    def setUp(self):
        place = tempfile.TemporaryDirectory()
        self.addCleanup(place.cleanup)
        self.folder = os.path.join(place.name, "made")

    def test_a_bad_list_is_told_by_line_and_nothing_is_written(self):
        for line, told in (
                ("one", "a slug without a host"),
                ("One 10.0.0.1:80", '"One" is no slug: a-z 0-9 -'),
                ("api 10.0.0.1:80", '"api" is an address of the server itself'),
                ("one 10.0.0.1", '"10.0.0.1" is no HOST:PORT'),
                ("one 10.0.0.1:80;}", '"10.0.0.1:80;}" is no HOST:PORT'),
                ("good 10.0.0.2:80", '"good" stands in line 1 already')):
            self.assertEqual(make(["good 10.0.0.1:80", line], self.folder),
                             (f"LIST:2: {told}\n", 2))
        self.assertEqual(make(["# none"], self.folder), ("LIST: no event\n", 2))
        self.assertFalse(os.path.exists(self.folder))

    def test_hosts_are_named_once(self):
        lines = [f"event-{n} 10.0.0.{n % 3}:80 Event {n}" for n in range(30)]
        self.assertEqual(make(lines, self.folder), ("", 0))
        with open(os.path.join(self.folder, "events.map"), encoding="ascii") as file:
            found = dict(line.rstrip(";\n").split() for line in file)
        self.assertEqual(len(found), 30)
        self.assertEqual(len(set(found.values())), 3)


if __name__ == "__main__":
    unittest.main()
