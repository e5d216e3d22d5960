# SPDX-License-Identifier: MIT
"""The static site: the public pages as files, whole, linked among themselves, kept up to date."""

import hashlib
import json
import os
import re
import signal
import subprocess
import threading
import urllib.parse
from html.parser import HTMLParser

from serving import API, CAIRN, SECRET, SLUG, ServedTest, cairn

TRACES = (SECRET, "5.371", "9.023", "09:06:50", "seed-6", "seed-7")
LANGUAGES = ("en", "de", "fr", "it")


class Links(HTMLParser):
    """Addresses that a page names, its ids, and whether anything leads to the server."""

    def __init__(self, text):
        super().__init__()
        self.links, self.ids = [], set()
        self.feed(text)

    def handle_starttag(self, tag, attrs):
        values = dict(attrs)
        if values.get("id"):
            self.ids.add(values["id"])
        for name in ("href", "src", "action", "data-figures"):
            if values.get(name) and "hidden" not in values:
                self.links.append(values[name])


class SiteTest(ServedTest):
    def setUp(self):
        self.site = os.path.join(self.server.folder, "site-" + self.id().rsplit(".", 1)[1])

    def publish(self):
        return cairn("publish", self.server.data, SLUG, self.site)

    def written(self):
        found = {}
        for folder, _, names in os.walk(self.site):
            for name in names:
                path = os.path.join(folder, name)
                with open(path, "rb") as file:
                    found[os.path.relpath(path, self.site)] = file.read()
        return found


class PublishTest(SiteTest):
    def test_every_link_leads_to_a_file_of_the_site(self):
        self.publish()
        files = self.written()
        pages = {name: Links(body.decode()) for name, body in files.items()
                 if name.endswith(".html")}
        self.assertGreater(len(pages), 4 * 12)
        for name, page in pages.items():
            for link in page.links:
                if link.startswith("data:"):
                    continue
                path, _, fragment = link.partition("#")
                self.assertFalse(urllib.parse.urlsplit(link).scheme, f"{name}: {link}")
                self.assertFalse(link.startswith("/"), f"{name}: {link}")
                target = os.path.normpath(os.path.join(os.path.dirname(name),
                                                       path)) if path else name
                self.assertIn(target, files, f"{name}: {link}")
                if fragment:
                    self.assertIn(fragment, pages[target].ids, f"{name}: {link}")

    def test_nothing_stands_alone(self):
        """Every page can be reached from the first one."""
        self.publish()
        pages = {name: Links(body.decode()) for name, body in self.written().items()
                 if name.endswith(".html")}
        todo, seen = [f"{SLUG}/index.html"], set()
        while todo:
            name = todo.pop()
            if name in seen or name not in pages:
                continue
            seen.add(name)
            todo += [os.path.normpath(os.path.join(os.path.dirname(name), link.split("#")[0]))
                     for link in pages[name].links]
        self.assertEqual(set(pages) - seen, set())

    def test_figures_are_those_of_the_server(self):
        self.publish()
        files = self.written()
        pairs = {f"api/v1/events/{SLUG}.json": API,
                 f"api/v1/events/{SLUG}/standings/by-overall.json": f"{API}/standings?by=overall",
                 f"api/v1/events/{SLUG}/standings/by-overall.csv":
                     f"{API}/standings?by=overall&format=csv",
                 f"api/v1/events/{SLUG}/board.json": f"{API}/board",
                 f"api/v1/events/{SLUG}/board/lang-de.json": f"{API}/board?lang=de"}
        for name, path in pairs.items():
            self.assertEqual(files[name], self.server.get(path).body, name)
        for car in (1, 2, 3, 5, 8, 9):
            for lang in LANGUAGES:
                mark = "" if lang == "en" else f"lang-{lang}/"
                copy = files[f"{SLUG}/cars/{car}/{mark}index.html"].decode()
                page = self.server.get(f"/{SLUG}/cars/{car}?lang={lang}",
                                       Accept_Language="en").text
                self.assertEqual(self.texts(copy), self.texts(page), (car, lang))

    @staticmethod
    def texts(page):
        """What a page says, line by line; links that a file cannot have aside."""
        page = re.sub(r"<a hidden[^>]*>.*?</a>|<a href=\"[^\"]*/qr\?[^\"]*\">.*?</a>", "", page,
                      flags=re.S)
        return [line for line in re.sub(r"<[^>]*>", "\n", page).split("\n") if line.strip()]

    def test_what_is_hidden_is_in_no_file(self):
        self.publish()
        for name, body in self.written().items():
            self.assertNotIn("R1", re.split(r"[/.]", name), name)
            if name.startswith("_/"):
                continue
            for trace in TRACES:
                self.assertNotIn(trace.encode(), body, name)

    def test_hostile_texts_stay_texts(self):
        self.publish()
        for name, body in self.written().items():
            if name.endswith(".html"):
                self.assertNotIn(b"<script>alert", body, name)
                self.assertNotIn(b"<b>Marl</b>", body, name)

    def test_the_manifest_lists_every_file(self):
        self.publish()
        files = self.written()
        manifest = json.loads(files.pop("manifest.json"))
        self.assertEqual(manifest["revision"], self.public_revision())
        self.assertEqual({f["file"]: (f["bytes"], f["sha256"]) for f in manifest["files"]},
                         {name: (len(body), hashlib.sha256(body).hexdigest())
                          for name, body in files.items()})

    def test_a_second_run_writes_nothing_and_heals_what_was_broken(self):
        self.publish()
        before = self.written()
        self.assertRegex(self.publish(), r" 0 written, 0 removed$")
        page = os.path.join(self.site, SLUG, "index.html")
        with open(page, "w", encoding="utf-8") as file:
            file.write("half")
        os.remove(os.path.join(self.site, SLUG, "notices", "index.html"))
        self.assertRegex(self.publish(), r" 2 written, 0 removed$")
        self.assertEqual(self.written(), before)

    def test_what_is_gone_is_removed_and_what_was_never_ours_is_not(self):
        self.publish()
        stranger = os.path.join(self.site, "robots.txt")
        gone = os.path.join(self.site, "old", "page.html")
        os.mkdir(os.path.dirname(gone))
        for path in (stranger, gone):
            with open(path, "w", encoding="utf-8") as file:
                file.write("x")
        name = os.path.join(self.site, "manifest.json")
        with open(name, encoding="utf-8") as file:
            text = file.read()
        outside = os.path.join(self.server.folder, "outside")
        with open(outside, "w", encoding="utf-8") as file:
            file.write("x")
        more = "".join(f'{{"file":"{path}","bytes":1,"sha256":"0"}},\n'
                       for path in ("old/page.html", "../outside", outside))
        with open(name, "w", encoding="utf-8") as file:
            file.write(text.replace('"files":[\n', '"files":[\n' + more))
        self.assertRegex(self.publish(), r" 1 written, 1 removed$")
        self.assertEqual([os.path.exists(path) for path in (stranger, gone, outside)],
                         [True, False, True])

    def test_arguments_that_are_wrong(self):
        for arguments in ((), (self.server.data,), (self.server.data, "other", self.site),
                          (self.server.data, SLUG, self.site, "--wath"),
                          (self.server.data + "/none", SLUG, self.site)):
            done = subprocess.run([CAIRN, "publish", *arguments], capture_output=True, timeout=60,
                                  check=False)
            self.assertIn(done.returncode, (1, 2), arguments)
            self.assertTrue(done.stderr.startswith(b"cairn"), done.stderr)
        blocked = os.path.join(self.server.folder, "file")
        with open(blocked, "w", encoding="utf-8") as file:
            file.write("x")
        done = subprocess.run([CAIRN, "publish", self.server.data, SLUG, blocked],
                              capture_output=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"file", done.stderr)


class WatchTest(SiteTest):
    def test_a_reading_changes_the_site_and_no_reader_sees_half_a_file(self):
        with subprocess.Popen([CAIRN, "publish", self.server.data, SLUG, self.site, "--watch"],
                              stdout=subprocess.PIPE, text=True) as watch:
            self.addCleanup(watch.kill)
            self.assertRegex(watch.stdout.readline(), r"^revision \d+: \d+ files, \d+ written")
            card = os.path.join(self.site, SLUG, "cars", "5", "index.html")
            done, halves = threading.Event(), []

            def read():
                while not done.is_set():
                    with open(card, "rb") as file:
                        if not file.read().rstrip().endswith(b"</html>"):
                            halves.append(1)

            reader = threading.Thread(target=read)
            reader.start()
            before = self.written()
            self.assert_taken(self.server.post("readings", [
                {"point": "TC1", "car": 5, "time": "08:53:00"}]), 1)
            line = watch.stdout.readline()
            done.set()
            reader.join()
            self.assertEqual(halves, [])
            self.assertRegex(line, rf"^revision {self.public_revision()}: ")
            after = self.written()
            same = [name for name, body in after.items() if before.get(name) == body]
            self.assertIn(f"{SLUG}/notices/index.html", after)
            self.assertTrue(any(name.startswith("_/") for name in same))
            self.assertIn(b"08:53", after[f"{SLUG}/cars/5/index.html"])
            self.assertNotIn(b"08:53", before[f"{SLUG}/cars/5/index.html"])
            watch.send_signal(signal.SIGTERM)
            self.assertEqual(watch.wait(20), 0)
