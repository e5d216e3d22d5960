# SPDX-License-Identifier: MIT
"""The static site served by nginx with the configuration that is shipped."""

import os
import time
import unittest

from tests.support import fronts, serving
from tests.support.serving import API, SLUG


class Site(fronts.Nginx):
    """nginx with nothing but a folder; `server` is the one it was published from."""

    def __init__(self, server, folder):
        self.site = folder
        super().__init__(server)

    def prepare(self, origin_port):
        return self.configure(fronts.replace_once(
            fronts.replace_once(fronts.shipped("nginx", "site.conf"), "listen 80;",
                                f"listen 127.0.0.1:{self.port};"),
            "/var/www/cairn", self.site))

    def wait_ready(self):
        until = time.monotonic() + fronts.READY_SECONDS
        while True:
            try:
                if self.get("/").status == 200:
                    return
            except OSError:
                pass
            if self.process.poll() is not None or time.monotonic() > until:
                raise AssertionError(f"{self.name} is not ready: {self.output()}")
            time.sleep(0.05)


class SiteTest(unittest.TestCase):
    @classmethod
    def setUpClass(cls):
        cls.server = serving.Server()
        cls.addClassCleanup(cls.server.end)
        site = os.path.join(cls.server.folder, "site")
        serving.cairn("publish", cls.server.data, SLUG, site)
        cls.front = Site(cls.server, site)
        cls.addClassCleanup(cls.front.end)

    def test_addresses_of_the_server_lead_to_the_same_pages(self):
        for address in ("/", f"/{SLUG}/", f"/{SLUG}/cars/5/", f"/{SLUG}/by-class/lang-de/"):
            answer = self.front.get(address)
            self.assertEqual(answer.status, 200, address)
            self.assertEqual(answer.headers["content-type"], "text/html; charset=utf-8")
            self.assertEqual(answer.headers["cache-control"],
                             "public, max-age=0, s-maxage=10, must-revalidate")
        moved = self.front.get(f"/{SLUG}/cars/5")
        self.assertEqual(moved.status, 301)
        self.assertTrue(moved.headers["location"].endswith(f"/{SLUG}/cars/5/"))

    def test_figures_come_as_what_they_are(self):
        for name, kind in (("standings.json", "application/json"),
                           ("standings.csv", "text/csv; charset=utf-8")):
            answer = self.front.get(f"{API}/{name}")
            form = name.rsplit(".", 1)[1]
            self.assertEqual(answer.body, self.server.get(f"{API}/standings?format={form}").body)
            self.assertEqual(answer.headers["content-type"], kind)
            again = self.front.get(f"{API}/{name}", If_None_Match=answer.headers["etag"])
            self.assertEqual(again.status, 304)

    def test_files_of_pages_are_kept_for_good(self):
        page = self.front.get(f"/{SLUG}/").text
        style = "/" + page.split('<link rel="stylesheet" href="../')[1].split('"')[0]
        answer = self.front.get(style)
        self.assertEqual(answer.status, 200)
        self.assertEqual(answer.headers["cache-control"], "public, max-age=31536000, immutable")
        self.assertTrue(answer.headers["content-type"].startswith("text/css"))

    def test_every_answer_is_confined_and_nothing_else_is_shown(self):
        for address, status in ((f"/{SLUG}/", 200), ("/.cairn-journal", 404), ("/none", 404),
                                (f"/{SLUG}/tests/R1/", 404), (f"{API}/tests/R1.json", 404)):
            answer = self.front.get(address)
            self.assertEqual(answer.status, status, address)
            self.assertIn("default-src 'none'", answer.headers["content-security-policy"])
            self.assertEqual(answer.headers["x-content-type-options"], "nosniff")


if __name__ == "__main__":
    unittest.main()
