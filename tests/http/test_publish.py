# SPDX-License-Identifier: MIT
"""The static site: the public pages as files, complete, linked with each other, kept up to date."""

import hashlib
import html
import json
import os
import re
import shutil
import signal
import subprocess
import tempfile
import threading
import time
import unittest
import urllib.parse

from tests.support.cairn import CAIRN, LANGUAGES, ROOT
from tests.support.serving import EVENT, SECRET, SLUG, ServedTest, cairn, write_folder

TRACES = (SECRET, "R1", "5.371", "9.023", "regularity", "09:06:50", "seed-6", "seed-7")
STATE = re.compile(rb'<p class="state" id="state">.*?</p>', re.S)


class Links:
    """The addresses that a page names, each once, and its ids. It reads attributes in double
    quotes only, as all our pages have them, since thousands of pages are read."""

    ATTRIBUTE = re.compile(r'\s(href|src|action|data-figures|id)="([^"]*)"')
    CANONICAL = re.compile(r'<link rel="canonical"[^>]*>')

    def __init__(self, text):
        found = {(name == "id", html.unescape(value)): None
                 for name, value in self.ATTRIBUTE.findall(self.CANONICAL.sub("", text)) if value}
        self.links = [value for is_id, value in found if not is_id]
        self.ids = {value for is_id, value in found if is_id}
        self.forms = text.count("<form")


def read_site(site):
    """Every file of the site by its path, without the journal, which is not part of it."""
    found = {}
    for folder, _, names in os.walk(site):
        for name in names:
            path = os.path.join(folder, name)
            with open(path, "rb") as file:
                found[os.path.relpath(path, site)] = file.read()
    if found.pop(".cairn-journal") != b"":
        raise AssertionError("the journal is not empty")
    return found


def target_of(name, link):
    path = link.partition("#")[0]
    return os.path.normpath(os.path.join(os.path.dirname(name), path)) if path else name


class Checks:
    """What holds for every site."""

    def assert_links(self, files, outside=()):
        """No link is broken or leads out of the site, every fragment is there, and every page can
        be reached from the first one."""
        pages = {name: Links(body.decode()) for name, body in files.items()
                 if name.endswith(".html")}
        for name, page in pages.items():
            self.assertEqual(page.forms, 0, name)
            for link in page.links:
                if link.startswith(("data:", *outside)):
                    continue
                self.assertNotRegex(link, r"^[a-z][a-z0-9+.-]*:|^/|\?", name)
                target = target_of(name, link)
                self.assertIn(target, files, f"{name}: {link}")
                fragment = link.partition("#")[2]
                if fragment:
                    self.assertIn(fragment, pages[target].ids, f"{name}: {link}")
        todo, seen = ["index.html"], set()
        while todo:
            name = todo.pop()
            if name in seen or name not in pages:
                continue
            seen.add(name)
            todo += [target_of(name, link) for link in pages[name].links]
        self.assertEqual(set(pages) - seen, set())
        for name in pages:
            base = re.sub(r"lang-\w+/index\.html$", "index.html", name)
            folder = os.path.dirname(base)
            for lang in LANGUAGES[1:]:
                self.assertIn(os.path.join(folder, f"lang-{lang}", "index.html"), pages, name)

    def assert_manifest(self, files, slug, revision):
        rest = dict(files)
        manifest = json.loads(rest.pop("manifest.json"))
        self.assertEqual((manifest["event"], manifest["revision"]), (slug, revision))
        self.assertEqual({f["file"]: (f["bytes"], f["sha256"]) for f in manifest["files"]},
                         {name: (len(body), hashlib.sha256(body).hexdigest())
                          for name, body in rest.items()})

    @staticmethod
    def words(page):
        """The text of the main part of a page, piece by piece, without the forms and buttons that
        a file cannot have and what a copy has in their place."""
        page = re.search(r"<main.*</main>", page, re.S).group()
        page = re.sub(r"This page of the copy[^<]*|Diese Seite der Kopie[^<]*|"
                      r"Cette page de la copie[^<]*|Questa pagina della copia[^<]*", "", page)
        for gone in (r'<section class="asking">.*?</section>', r"<form.*?</form>", r'<p class="find scripted">.*?</p>',
                     r'<details class="more">.*?</details>',
                     r'<p><a id="rivals".*?</p>', r'<a href="[^"]*/paper/[^"]*">PDF</a>'):
            page = re.sub(gone, "", page, flags=re.S)
        return [line for line in re.sub(r"<[^>]*>", "\n", page).split("\n") if line.strip()]


class SiteTest(ServedTest, Checks):
    def setUp(self):
        self.site = os.path.join(self.server.folder, "site-" + self.id().rsplit(".", 1)[1])

    def publish(self, *options):
        return cairn("publish", self.server.data, SLUG, self.site, *options)

    def written(self):
        return read_site(self.site)


class PublishTest(SiteTest):
    def test_every_link_leads_to_a_file_of_the_site(self):
        self.publish()
        files = self.written()
        self.assert_links(files)
        self.assert_manifest(files, SLUG, self.public_revision())
        for name in ("index.html", f"{SLUG}/index.html", f"{SLUG}/event/index.html",
                     f"{SLUG}/screen/index.html", f"{SLUG}/compare/index.html",
                     f"{SLUG}/notices/index.html", f"{SLUG}/starts/2/index.html",
                     f"{SLUG}/tests/S1/index.html", f"{SLUG}/after-T1/index.html",
                     f"{SLUG}/class-C/index.html", f"{SLUG}/by-class/after-S1/index.html",
                     *(f"{SLUG}/by-{by}/index.html"
                       for by in ("class", "category", "group", "day", "test", "team")),
                     *(f"{SLUG}/cars/{car}/index.html" for car in (1, 2, 3, 5, 8, 9)),
                     *(f"api/v1/events/{SLUG}/cars/{car}.{form}" for car in (1, 2, 3, 5, 8, 9)
                       for form in ("json", "csv"))):
            self.assertIn(name, files)

    def test_figures_are_those_of_the_server(self):
        """Each JSON and CSV file is the server's byte for byte, each page has the server's text."""
        self.assertEqual(
            self.server.post("notices", {"title": "Tea & <b>cake</b>"}).status, 200)
        self.publish()
        files = self.written()
        compared = 0
        for name, body in files.items():
            folder, last = os.path.split(name)
            if name == "manifest.json" or name.startswith("_/"):
                continue
            parts = [part for part in folder.split("/") if part]
            if last != "index.html":
                stem, form = last.rsplit(".", 1)
                parts.append(stem)
            query = {}
            while re.match(r"(by|class|after|view|lang|cars)-", parts[-1] if parts else ""):
                key, _, value = parts.pop().partition("-")
                query[key] = value
            path = "/" + "/".join(parts)
            if last == "index.html":
                path += "/" if path == f"/{SLUG}" else ""
                query.setdefault("lang", "en")
            elif form == "csv":
                query["format"] = "csv"
            address = path + ("?" + urllib.parse.urlencode(query, safe=",") if query else "")
            answer = self.server.get(address)
            self.assertEqual(answer.status, 200, address)
            if last != "index.html":
                self.assertEqual(body, answer.body, address)
            elif path != f"/{SLUG}/compare":
                self.assertEqual(self.words(body.decode()), self.words(answer.text), address)
            elif "cars" in query:
                # A car is not taken away in a copy.
                self.assertLessEqual(set(self.words(body.decode())), set(self.words(answer.text)))
            compared += 1
        self.assertGreater(compared, 200)

    def test_what_is_hidden_is_in_no_file(self):
        self.publish("--base", "https://results.example/2031")
        for name, body in self.written().items():
            self.assertNotIn("R1", re.split(r"[/.-]", name), name)
            if name.startswith("_/") or name == "manifest.json":
                continue
            text = re.sub(rb"_/[0-9a-f]{16}/", b"", body)
            for trace in TRACES:
                self.assertNotIn(trace.encode(), text, name)

    def test_hostile_texts_stay_texts(self):
        self.publish()
        for name, body in self.written().items():
            if name.endswith(".html"):
                self.assertNotIn(b"<script>alert", body, name)
                self.assertNotIn(b"<b>Marl</b>", body, name)

    def test_with_an_address_of_its_own_it_has_codes_and_canonical_links(self):
        self.publish("--base", "https://results.example/2031/")
        base = f"https://results.example/2031/{SLUG}/"
        files = self.written()
        self.assert_links(files, outside=("https://results.example/2031/",))
        for name, body in files.items():
            if name.endswith(".html"):
                folder = os.path.dirname(name)
                self.assertIn(f'<link rel="canonical" href="https://results.example/2031/'
                              f'{folder}{"/" if folder else ""}">', body.decode(), name)
        for code, leads in (("qr", ""), ("qr/to-tests_2FS1", "tests/S1/"),
                            ("qr/to-event/lang-de", "event/lang-de/")):
            page = files[f"{SLUG}/{code}/index.html"].decode()
            self.assertIn(f'<figcaption><a href="{base}{leads}">', page)
        self.assertFalse([name for name in files if "/qr/to-cars" in name])
        self.publish()
        without = self.written()
        self.assertFalse([name for name in without if "/qr/" in name])
        self.assertFalse(os.path.exists(os.path.join(self.site, SLUG, "qr")))

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
            manifest = json.load(file)
        outside = os.path.join(self.server.folder, "outside")
        with open(outside, "w", encoding="utf-8") as file:
            file.write("x")
        manifest["files"] += [{"sha256": "0", "bytes": 1, "file": path}
                              for path in ("old/page.html", "../outside", outside)]
        # However another program has written it.
        with open(name, "w", encoding="utf-8") as file:
            json.dump(manifest, file, indent=1, sort_keys=True)
        self.assertRegex(self.publish(), r" 1 written, 1 removed$")
        self.assertEqual([os.path.exists(path) for path in (stranger, gone, outside)],
                         [True, False, True])
        self.assertFalse(os.path.exists(os.path.dirname(gone)))

    def test_arguments_that_are_wrong(self):
        for arguments in ((), (self.server.data,), (self.server.data, "other", self.site),
                          (self.server.data, SLUG, self.site, "more"),
                          (self.server.data, "../" + SLUG, self.site),
                          (self.server.data, SLUG, self.site, "--wath"),
                          (self.server.data, SLUG, self.site, "--watch=1"),
                          (self.server.data, SLUG, self.site, "--base"),
                          (self.server.data, SLUG, self.site, "--base", "results.example"),
                          (self.server.data, SLUG, self.site, "--base", 'https://a.example/"x'),
                          (self.server.data, SLUG, self.site, "--base", "https://a.example/?q"),
                          (self.server.data + "/none", SLUG, self.site)):
            done = subprocess.run([CAIRN, "publish", *arguments], capture_output=True, timeout=60,
                                  check=False)
            self.assertIn(done.returncode, (1, 2), arguments)
            self.assertTrue(done.stderr.startswith(b"cairn"), done.stderr)
            self.assertFalse(os.path.exists(self.site), arguments)
        blocked = os.path.join(self.server.folder, "file")
        with open(blocked, "w", encoding="utf-8") as file:
            file.write("x")
        done = subprocess.run([CAIRN, "publish", self.server.data, SLUG, blocked],
                              capture_output=True, timeout=60, check=False)
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"file", done.stderr)

    def test_a_folder_of_something_else_is_left_alone(self):
        for text in ('{"event":"other-2031","revision":3,"files":[]}', '{"name":"An app"}', "",
                     f'{{"event":"{SLUG}","revision":3}}',
                     f'{{"event":"{SLUG}","revision":3,"files":[{{"file":"ind'):
            os.makedirs(self.site, exist_ok=True)
            name = os.path.join(self.site, "manifest.json")
            with open(name, "w", encoding="utf-8") as file:
                file.write(text)
            done = subprocess.run([CAIRN, "publish", self.server.data, SLUG, self.site],
                                  capture_output=True, timeout=60, check=False)
            self.assertEqual(done.returncode, 2, text)
            self.assertIn(b"manifest.json", done.stderr)
            self.assertFalse(os.path.exists(os.path.join(self.site, SLUG)))

    def test_another_event_of_the_folder_is_not_told(self):
        """The site is of one event alone, where the server would list them all."""
        data = os.path.join(self.server.folder, "two")
        for slug, name in ((SLUG, "Gannet Trial"), ("petrel-2031", "Petrel Run")):
            folder = os.path.join(self.server.folder, slug)
            cairn("import", data, write_folder(folder, event={**EVENT, "slug": slug,
                                                              "name": name}))
        cairn("publish", data, SLUG, self.site)
        files = self.written()
        self.assertEqual(len(json.loads(files["api/v1/events.json"])["events"]), 1)
        self.assertIn(b"Gannet Trial", files["index.html"])
        for name, body in files.items():
            self.assertNotIn(b"etrel", body, name)


class WatchTest(SiteTest):
    def setUp(self):
        super().setUp()
        self.watch = None

    def start(self):
        self.watch = subprocess.Popen(
            [CAIRN, "publish", self.server.data, SLUG, self.site, "--watch"],
            stdout=subprocess.PIPE, text=True)
        self.addCleanup(self.stop)

    def stop(self):
        if self.watch.poll() is None:
            self.watch.kill()
            self.watch.wait()
        self.watch.stdout.close()

    def stamps(self):
        """When each file was written, and its content."""
        found = {}
        for folder, _, names in os.walk(self.site):
            for name in names:
                path = os.path.join(folder, name)
                found[os.path.relpath(path, self.site)] = os.stat(path).st_ino
        return found

    def test_a_reading_changes_what_it_must_and_no_reader_sees_half_a_file(self):
        self.start()
        self.assertRegex(self.watch.stdout.readline(), r"^revision \d+: \d+ files, \d+ written")
        card = os.path.join(self.site, SLUG, "cars", "5", "index.html")
        manifest = os.path.join(self.site, "manifest.json")
        done, halves = threading.Event(), []

        def read():
            while not done.is_set():
                with open(card, "rb") as file:
                    if not file.read().endswith(b"</html>\n"):
                        halves.append("card")
                with open(manifest, "rb") as file:
                    if not file.read().endswith(b"]}\n"):
                        halves.append("manifest")

        reader = threading.Thread(target=read)
        reader.start()
        before, was = self.written(), self.stamps()
        self.assert_taken(self.server.post("readings", [
            {"point": "TC1", "car": 5, "time": "08:53:00"}]), 1)
        line = self.watch.stdout.readline()
        done.set()
        reader.join()
        self.assertEqual(halves, [])
        self.assertRegex(line, rf"^revision {self.public_revision()}: ")
        after, now = self.written(), self.stamps()
        self.assertIn(b"08:53", after[f"{SLUG}/cars/5/index.html"])
        self.assertNotIn(b"08:53", before[f"{SLUG}/cars/5/index.html"])
        for name, body in after.items():
            same = before.get(name) == body
            self.assertEqual(same, was.get(name) == now[name], name)
            if name.endswith(".html") and name in before:
                # A page is written only where it says something else.
                self.assertEqual(same, STATE.sub(b"", before[name]) == STATE.sub(b"", body), name)
        for name in (f"{SLUG}/notices/index.html", f"{SLUG}/starts/1/index.html",
                     f"{SLUG}/event/index.html", f"{SLUG}/cars/9/lang-fr/index.html"):
            self.assertEqual(before[name], after[name], name)
        self.assert_manifest(after, SLUG, self.public_revision())
        self.assert_links(after)
        self.watch.send_signal(signal.SIGTERM)
        self.assertEqual(self.watch.wait(60), 0)

    def test_two_do_not_write_one_site(self):
        """The journal is locked for as long as a command writes the site."""
        self.publish()
        holder = subprocess.Popen(["flock", os.path.join(self.site, ".cairn-journal"),
                                   "sh", "-c", "echo held; read end"],
                                  stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True)
        self.assertEqual(holder.stdout.readline(), "held\n")
        done = subprocess.run([CAIRN, "publish", self.server.data, SLUG, self.site],
                              capture_output=True, timeout=60, check=False)
        holder.communicate("\n", timeout=60)
        self.assertEqual(done.returncode, 1)
        self.assertIn(b"another process is writing this site", done.stderr)

    def test_killed_in_the_middle_it_heals(self):
        """Wherever the command is killed, no page is half written, and the next run leaves
        exactly what a first run would."""
        self.publish("--base", "https://results.example")
        twin = self.site + "-twin"
        cairn("publish", self.server.data, SLUG, twin)
        wanted = read_site(twin)
        killed = 0
        for delay in (0.001, 0.003, 0.01, 0.02, 0.04, 0.08, 0.16):
            # With codes or without: files come and go.
            for options in ((), ("--base", "https://results.example")):
                with subprocess.Popen([CAIRN, "publish", self.server.data, SLUG, self.site,
                                       *options], stdout=subprocess.DEVNULL) as run:
                    time.sleep(delay)
                    run.kill()
                    killed += run.wait() == -signal.SIGKILL
                for folder, _, names in os.walk(self.site):
                    for name in names:
                        if name.endswith(".html"):
                            with open(os.path.join(folder, name), "rb") as file:
                                self.assertTrue(file.read().endswith(b"</html>\n"), name)
        self.assertGreater(killed, 0)
        self.publish()
        left = self.written()
        left.pop(".cairn-new", None)
        self.assertEqual(left, wanted)


class DemoTest(unittest.TestCase, Checks):
    """The demo event: four days, 172 cars, names in every script."""

    def test_the_whole_site_holds_together(self):
        folder = tempfile.mkdtemp(prefix="cairn-site-")
        self.addCleanup(shutil.rmtree, folder)
        data, site = os.path.join(folder, "data"), os.path.join(folder, "site")
        cairn("import", data, os.path.join(ROOT, "seed-demo", "merrow-2027"))
        cairn("publish", data, "merrow-2027", site)
        files = read_site(site)
        self.assert_links(files)
        self.assert_manifest(files, "merrow-2027", 1)
        cars = [name for name in files
                if re.fullmatch(r"merrow-2027/cars/\d+/index\.html", name)]
        self.assertEqual(len(cars), 172)
        standings = json.loads(files["api/v1/events/merrow-2027/standings.json"])
        board = files["merrow-2027/index.html"].decode()
        for row in standings["standings"]:
            self.assertRegex(board, rf'<tr id="n{row["car"]}"><td>=?{row["position"]}</td>')


if __name__ == "__main__":
    unittest.main()
